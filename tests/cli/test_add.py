"""`kb add` and `kb retract`: from options, asked for, and refused."""

import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kb.cli import main
from kb.words.records import TABLES
from kb.words.records.columns import columns
from loaders.folder import load

from .conftest import FILES


@pytest.fixture
def club(tmp_path: Path) -> Path:
    folder = tmp_path / "club"
    folder.mkdir()
    for name, text in FILES.items():
        (folder / name).write_text(text, "utf-8")
    return folder


def kb(club: Path, *arguments: str, typed: str | None = None) -> Result:
    return CliRunner().invoke(main, [*arguments, "--folder", str(club)], input=typed, catch_exceptions=False)


SIGHTING = ("--series", "frame", "--serial", "B00411", "--component", "cover", "--variant", "cover-early", "--original", "believed")
CLAIM = ("--series", "frame", "--component", "cover", "--old-variant", "cover-early", "--new-variant", "cover-late", "--source", "list-1948")


def test_a_row_from_options(club: Path) -> None:
    result = kb(club, "add", "sighting", *SIGHTING)
    assert (result.exit_code, result.stdout, result.stderr) == (0, "sightings.csv, row 3: s-2 added.\n", "")
    assert load([club]).dataset.sightings[-1].serial == "B00411"


def test_the_id_of_a_row_may_be_called_id(club: Path) -> None:
    result = kb(club, "add", "source", "--id", "book-2", "--title", "A book", "--kind", "other", "--grade", "C")
    assert (result.exit_code, result.stderr) == (0, "")
    assert load([club]).dataset.sources[-1].source_id == "book-2"


def test_json_says_where_it_is(club: Path) -> None:
    result = kb(club, "add", "sightings", *SIGHTING, "--json")  # the name of the file will do
    assert json.loads(result.stdout) == {
        "rows": [{"table": "sightings", "key": "s-2", "file": "sightings.csv", "row": 3}], "unchanged": 0, "findings": [],
    }  # fmt: skip


def test_what_is_wrong_is_said_on_standard_error_and_nothing_is_written(club: Path) -> None:
    before = (club / "sightings.csv").read_bytes()
    result = kb(club, "add", "sighting", *SIGHTING, "--place", "middle", "--seen-on", "May 48")
    assert (result.exit_code, result.stdout) == (1, "")
    assert 'seen_on "May 48"' in result.stderr and "Nothing was written" in result.stderr
    result = kb(club, "add", "sighting", *SIGHTING, "--place", "middle")
    assert result.exit_code == 1 and '"middle" is no place of "cover"' in result.stderr and "left, right" in result.stderr
    result = kb(club, "add", "sighting", "--series", "frame")
    assert result.exit_code == 1 and "component_id: Empty, but it must be filled in" in result.stderr
    assert (club / "sightings.csv").read_bytes() == before


@pytest.mark.parametrize("arguments", [("add", "sighting", "--colour", "red"), ("add", "sightning"), ("retract", "s-1")])
def test_wrong_usage_is_2(club: Path, arguments: tuple[str, ...]) -> None:
    assert kb(club, *arguments).exit_code == 2


def test_a_printed_range_fills_in_its_columns_and_keeps_the_words(club: Path) -> None:
    assert kb(club, "add", "breakpoint", *CLAIM, "--breakpoint", "p-3", "--printed", "prior to B0413; B0412 & up").exit_code == 1
    result = kb(club, "add", "breakpoint", *CLAIM, "--breakpoint", "p-3", "--printed", "B411 & lower; B412 & up")
    assert result.exit_code == 0, result.stderr
    claim = load([club]).dataset.breakpoints[-1]
    assert (claim.last_old, claim.first_new, claim.as_printed) == ("B411", "B412", "B411 & lower; B412 & up")


def test_a_list_of_ranges_is_a_row_for_each(club: Path) -> None:
    fitment = ("--fitment", "f-9", "--part-number", "1407-A", "--component", "cover", "--role", "seal", "--quantity", "1", "--source", "list-1948")
    result = kb(club, "add", "fitment", *fitment, "--series", "frame", "--printed", "B100-B200, B300 & up")
    assert result.exit_code == 0, result.stderr
    rows = [row for row in load([club]).dataset.fitments if row.fitment_id.startswith("f-9")]
    assert [(row.fitment_id, row.serial_from, row.serial_to, row.note) for row in rows] == [
        ("f-9", "B100", "B200", "B100-B200, B300 & up"), ("f-9-2", "B300", None, "B100-B200, B300 & up"),
    ]  # fmt: skip
    result = kb(club, "add", "fitment", "--printed", "up to 4500")
    assert result.exit_code == 1 and '"4500 and lower" or "prior to 4500"' in result.stderr


def test_asked_field_by_field_with_what_exists(club: Path) -> None:
    typed = ["", "frame", "B00?1[23", "B00411", "covr", "?", "cover", "left", "cover-early", "", "belived", "believed", *[""] * 8]
    result = kb(club, "add", "sighting", "--ask", typed="\n".join(typed) + "\n")
    assert result.exit_code == 0, result.output
    shown = result.stderr
    assert "sighting_id (id) [s-2]" in shown, "Enter takes the next id"
    assert "is not a reading" in shown and "Perhaps cover?" in shown and "cover  Cover" in shown
    assert "cover-early  early" in shown
    assert 'Perhaps "believed"' in shown
    row = load([club]).dataset.sightings[-1]
    assert (row.sighting_id, row.serial, row.place, row.variant_id, row.original) == ("s-2", "B00411", "left", "cover-early", "believed")


def test_on_a_terminal_what_is_missing_is_asked_for(club: Path) -> None:
    """A real terminal; in a pipe the same command refuses."""
    command = [sys.executable, "-m", "kb.cli", "add", "maker", "--maker", "tamber", "--folder", str(club)]
    ours, theirs = pty.openpty()
    asking = subprocess.Popen(command, stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    os.close(theirs)
    os.write(ours, b"Tamber Works\n\n\n")
    out, err = asking.communicate(timeout=60)
    os.close(ours)
    assert asking.returncode == 0, err
    assert out == "makers.csv, row 3: tamber added.\n"
    assert "What it is called" in err or "name (" in err
    piped = subprocess.run([*command[:6], "other", *command[7:]], stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60)
    assert piped.returncode == 1 and "name: Empty" in piped.stderr


def test_every_file_can_be_added_to_and_every_column_has_its_option() -> None:
    group = main.get_command(main.make_context("kb", [], resilient_parsing=True), "add")
    assert group is not None
    names = group.list_commands(None)  # type: ignore[attr-defined]
    assert len(names) == len(set(names)) == len(TABLES)
    for table, name in zip(TABLES, names, strict=True):
        command = group.get_command(None, name)  # type: ignore[attr-defined]
        assert {column.name for column in columns(table)} <= {param.name for param in command.params}
        flags = [flag for param in command.params for flag in param.opts]
        assert len(flags) == len(set(flags)), f"two options of kb add {name} have one name"


def test_a_retraction_keeps_the_row(club: Path) -> None:
    result = kb(club, "retract", "p-2", "--because", "a misprint")
    assert (result.exit_code, result.stdout) == (0, "breakpoints.csv, row 3: p-2 retracted.\n")
    assert load([club]).dataset.breakpoints[1].retracted == "a misprint"
    result = kb(club, "retract", "orlop", "--because", "x")
    assert result.exit_code == 1 and "whose rows cannot be retracted" in result.stderr
    result = kb(club, "retract", "p-2", "--because", "x", "--table", "breakpints")
    assert result.exit_code == 1 and 'no file "breakpints.csv"' in result.stderr


def test_a_folder_that_is_none(tmp_path: Path) -> None:
    result = kb(tmp_path / "nowhere", "add", "sighting", *SIGHTING)
    assert result.exit_code == 1 and "cannot be opened as a folder" in result.stderr
