"""Every command that writes a file, against every target it must not write to."""

import json
import os
from pathlib import Path

import pytest
from click.testing import CliRunner

from kb.cli import main

COMMANDS = {  # what is typed before the target
    "identify": ["identify", "--serial", "B00100", "--db", "kb.db", "--save"],
    "batch": ["batch", "list.csv", "--db", "kb.db", "--workers", "1", "-o"],
    "listing": ["listing", "list.csv", "--db", "kb.db", "-o"],
    "stock": ["stock", "list.csv", "--db", "kb.db", "-o"],
    "guide": ["guide", "m-1", "--db", "kb.db", "-o"],
    "sighting": ["sighting", "unit.json", "--db", "kb.db", "-o"],
    "build": ["build", "club", "--db"],
    "template": ["template", "-o"],
    "import": ["import", "sightings", "form.csv", "--folder", "club", "--rejects"],
}
ENDING = {"template": ".xlsx", "batch": ".csv", "listing": ".csv", "stock": ".csv"}


@pytest.fixture
def here(db: Path, club: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    room = tmp_path / "room"
    room.mkdir()
    monkeypatch.chdir(room)
    (room / "kb.db").symlink_to(db)
    (room / "club").symlink_to(club)
    (room / "list.csv").write_text("part,serial\n1407,B00100\n")
    (room / "unit.json").write_text(json.dumps({"serial": "B00100", "marks": {"cover@left": "H4110A"}}))
    (room / "form.csv").write_text("series_id,serial,component_id,variant_id,original\nframe,B99999999,cover,nothing,unknown\n")
    return room


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("target", ["dataset", "device", "pipe", "link", "folder", "another kind"])
def test_nothing_is_replaced_that_is_something_else(command: str, target: str, here: Path, club: Path) -> None:
    path = here / f"target{ENDING.get(command, '')}"
    match target:
        case "dataset":
            path = club / "sources.csv"
        case "device":
            path = Path("/dev/null")
        case "pipe":
            os.mkfifo(path)
        case "link":
            (here / "real").write_text("mine")
            path.symlink_to(here / "real")
        case "folder":
            path.mkdir()
        case "another kind":
            path.write_text("mine")
    before = path.read_bytes() if target in ("dataset", "another kind", "link") else b""
    result = CliRunner().invoke(main, [*COMMANDS[command], str(path)])
    assert result.exit_code == 1, result.output
    assert isinstance(result.exception, SystemExit)
    assert str(path) in result.output or path.name in result.output
    assert before == (path.read_bytes() if before else b"")
    assert path.is_symlink() is (target == "link")
    assert path.is_fifo() is (target == "pipe")


@pytest.mark.parametrize("command", [name for name in COMMANDS if name not in ("template", "import")])
def test_a_plain_file_is_replaced_by_force_and_an_older_answer_without(command: str, here: Path) -> None:
    path = here / f"target{ENDING.get(command, '')}"
    path.write_text("mine")
    for more in (["--force"], []):
        result = CliRunner().invoke(main, [*COMMANDS[command], str(path), *more], catch_exceptions=False)
        assert result.exit_code == 0, result.output
        assert path.read_bytes() != b"mine"
