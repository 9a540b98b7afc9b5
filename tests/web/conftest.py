"""A site that serves the demo: in this process, and as a server of its own."""

import asyncio
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from kb.web.server import Served
from kb.web.site import Setup


class Site:
    """A served file, asked from tests without a network."""

    def __init__(self, setup: Setup) -> None:
        self.loop = asyncio.new_event_loop()
        self.served = Served(setup)
        self.loop.run_until_complete(self.served.invoke_startup())

    def get(self, url: str, **more: Any) -> Any:
        """The answer to GET."""
        return self.loop.run_until_complete(self.served.client.get(url, **more))

    def request(self, method: str, url: str, **more: Any) -> Any:
        """The answer to another method."""
        return self.loop.run_until_complete(getattr(self.served.client, method.lower())(url, **more))

    def close(self) -> None:
        """End threads and loop."""
        self.served.close()
        self.loop.close()


@pytest.fixture(scope="session")
def site(demo_db: Path) -> Iterator[Site]:
    """The demo served."""
    opened = Site(Setup(str(demo_db)))
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def behind_proxy(demo_db: Path) -> Iterator[Site]:
    """The demo served under a path prefix, with JSON open to other sites and the file for download."""
    opened = Site(Setup(str(demo_db), base_url="/old/iron/", cors=True, download=True))
    yield opened
    opened.close()


@dataclass(frozen=True)
class Server:
    """A running `kb serve`: where it listens, and what it wrote on its standard error."""

    home: str
    process: int
    log: Path

    @property
    def memory(self) -> float:
        """Resident memory in MB, as `ps` says it."""
        said = subprocess.run(["ps", "-o", "rss=", "-p", str(self.process)], check=True, capture_output=True, text=True)
        return int(said.stdout) / 1024


@pytest.fixture(scope="session")
def server(demo_db: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """`kb serve` as a person starts it, on a free port."""
    log = tmp_path_factory.mktemp("serve") / "log"
    with log.open("w", encoding="utf-8") as written:
        command = [sys.executable, "-m", "kb.cli", "serve", "--db", str(demo_db), "--port", "0"]
        with subprocess.Popen(command, stderr=written) as running:
            until = time.monotonic() + 60
            while not (found := re.search(r"http://127\.0\.0\.1:\d+", log.read_text(encoding="utf-8"))):
                assert time.monotonic() < until and running.poll() is None, f"kb serve did not say where it listens: {log.read_text()}"
                time.sleep(0.05)
            yield Server(found[0], running.pid, log)
            running.terminate()


@pytest.fixture(scope="session")
def address(server: Server) -> str:
    """Where it listens."""
    return server.home
