"""`kb serve`: several processes answer from one file, and what cannot be served is reported in one line."""

import pickle
import socket
import subprocess
import sys
import time
import zipfile
from contextlib import nullcontext
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner

from kb.cli import main
from kb.web.server import _listen


@pytest.mark.parametrize(
    ("content", "says"),
    [(None, "There is no file"), (b"no database", "is not a knowledge base"), (b"", "is not a knowledge base")],
)
def test_what_is_no_knowledge_base_is_not_served(tmp_path: Path, content: bytes | None, says: str) -> None:
    file = tmp_path / "kb.db"
    if content is not None:
        file.write_bytes(content)
    done = CliRunner().invoke(main, ["serve", str(file)])
    assert done.exit_code == 1
    assert says in done.output and "kb build" in done.output


@pytest.mark.parametrize("workers", ["1", "2"])
def test_a_port_in_use_is_named(demo_db: Path, workers: str) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = CliRunner().invoke(main, ["serve", str(demo_db), "--port", str(port), "--workers", workers])
    assert done.exit_code == 1
    assert f"Port {port} of 127.0.0.1 cannot be used" in done.output


@pytest.mark.parametrize("workers", [1, 2])
def test_answers_do_not_wait_for_acknowledgements(workers: int) -> None:
    """A kept-alive connection would wait 40 ms for each answer; connections inherit this of the socket that listens, in every process."""
    with _listen("127.0.0.1", 0, workers) as held, pickle.loads(pickle.dumps(held)) if workers > 1 else nullcontext(held) as listening:
        assert listening.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)


def test_several_processes_answer(demo_db: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "kb.cli", "serve", str(demo_db), "--port", str(port), "--workers", "2"]
    with subprocess.Popen(command, stderr=subprocess.PIPE) as server:
        try:
            home, until = f"http://127.0.0.1:{port}", time.monotonic() + 60
            while True:
                try:
                    builds = {httpx.get(f"{home}/-/health", timeout=5).json()["build"] for _ in range(4)}
                    break
                except httpx.TransportError:
                    assert time.monotonic() < until, "no process answers"
                    time.sleep(0.2)
            assert len(builds) == 1
            refused = CliRunner().invoke(main, ["serve", str(demo_db), "--port", str(port), "--workers", "2"])
            assert f"Port {port} of 127.0.0.1 cannot be used" in refused.output  # and is not quietly shared with the first server
        finally:
            server.terminate()
            server.wait(30)


def test_built_packages_hold_templates_and_styles(root: Path, tmp_path: Path) -> None:
    """A wheel made as a release is made has everything that a page needs."""
    subprocess.run([sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)], cwd=root, check=True, capture_output=True)
    names = set(zipfile.ZipFile(next(tmp_path.glob("*.whl"))).namelist())
    ours = {str(file.relative_to(root)) for folder in ("templates", "static") for file in (root / "kb" / "web" / folder).iterdir()}
    assert len(ours) > 20 and ours <= names
    plugins = next(name for name in names if name.endswith("entry_points.txt"))
    assert "[datasette]\nkb = kb.web" in zipfile.ZipFile(next(tmp_path.glob("*.whl"))).read(plugins).decode()
