"""`kb serve` takes its file as every other command does; a bare FILE still works and says that it is going away."""

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from kb.cli import main
from kb.web import server


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The files that were to be served; none is."""
    files: list[str] = []

    def start(setup: Any, *_: Any) -> None:
        files.append(setup.path)

    monkeypatch.setattr(server, "start", start)
    return files


@pytest.mark.parametrize(("words", "environment", "file", "notice"), [
    (["--db", "one.db"], {}, "one.db", False),
    ([], {"KB_DB": "two.db"}, "two.db", False),
    (["--db", "one.db"], {"KB_DB": "two.db"}, "one.db", False),
    ([], {}, "kb.db", False),
    (["three.db"], {"KB_DB": "two.db"}, "three.db", True),
])
def test_which_file_is_served(
    served: list[str], words: list[str], environment: dict[str, str], file: str, notice: bool, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("KB_DB", raising=False)
    done = CliRunner().invoke(main, ["serve", *words], env=environment)
    assert done.exit_code == 0, done.output
    assert [Path(each).name for each in served] == [file]
    assert ("--db FILE" in done.stderr) is notice and not done.stdout
