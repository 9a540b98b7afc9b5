"""Every terminal session that a page prints, typed again: the answers are the program's own."""

import re
from pathlib import Path
from typing import Any

import pytest

from docs.sessions import PAGES, Session, run, sessions
from kb.store.build import build
from loaders.folder import load


@pytest.fixture(scope="session")
def demo(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo database."""
    loaded = load([root / "demo_data" / "mills-and-pumps"])
    path = tmp_path_factory.mktemp("demo") / "kb.db"
    build(loaded.dataset, path, pictures=loaded.pictures, problems=loaded.problems)
    return path


ALL = [pytest.param(session, id=f"{page.name}: {session.command[:60]}") for page in PAGES for session in sessions(page.read_text(encoding="utf-8"))]


@pytest.mark.parametrize("session", ALL)
def test_a_session_answers_as_printed(session: Session, demo: Path) -> None:
    real = run(session.command, demo)
    assert session.agrees(real), f"$ {session.command}\n{real}"


def test_the_python_of_the_readme_runs(root: Path, demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As it stands, in the folder where the database is."""
    [code] = re.findall(r"```python\n(.*?)```", (root / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    monkeypatch.chdir(demo.parent)
    names: dict[str, Any] = {}
    exec(code, names)
    assert names["found"].units[0].model == "quince-5"
    names["book"].close()


def test_lines_left_out_may_be_any_but_those_printed_must_be_there() -> None:
    session = Session("x", "first\n...\nlast\n")
    assert session.agrees("first\nlast\n")
    assert session.agrees("first\nmore\nand more\nlast\n")
    assert not session.agrees("first\nmore\n")
    assert not Session("x", "first\n").agrees("first\nmore\n")
