"""`kb check`: findings on standard output, exit code 1 when an error is among them."""

import csv
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kb.cli import main

SOURCES = "source_id,title,kind,grade\nlist-1948,Parts list,parts list,B\n"
MAKERS = "maker_id,name\norlop,Orlop\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "sources.csv").write_text(SOURCES, "utf-8")
    (tmp_path / "makers.csv").write_text(MAKERS, "utf-8")
    return tmp_path


def check(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, ["check", *map(str, arguments)], catch_exceptions=False)


def test_a_clean_folder(folder: Path) -> None:
    result = check(folder)
    assert (result.exit_code, result.stdout, result.stderr) == (0, "2 rows in 2 files: no errors, no doubts.\n", "")


def test_an_error_has_its_place_and_remedy_and_ends_with_1(folder: Path) -> None:
    (folder / "makers.csv").write_text(MAKERS + "Orlop & Sons,Orlop\n", "utf-8")
    result = check(folder)
    assert (result.exit_code, result.stderr) == (1, "")
    lines = result.stdout.splitlines()
    assert lines[0] == "Errors"
    assert lines[1].startswith('makers.csv, row 3, maker_id "Orlop & Sons": ')
    assert lines[2].startswith("    ") and lines[2].strip()
    assert lines[-1].endswith("1 error, no doubts.")


def test_a_doubt_is_shown_and_ends_with_0(folder: Path) -> None:
    (folder / "sources.csv").write_text(SOURCES.replace("grade\n", "grade,copied_from\n").replace(",B\n", ",B,\n"), "utf-8")
    (folder / "series.csv").write_text("series_id,maker_id,name,stamped_on\nframe,orlop,Frames,headstock\n", "utf-8")
    (folder / "blocks.csv").write_text(
        "block_id,series_id,position,first,last,rival_of,source_id\nb-1,frame,1,1,500,,list-1948\nb-2,frame,1,1,600,b-1,list-1948\n", "utf-8")
    result = check(folder)
    assert result.exit_code == 0
    assert result.stdout.startswith("Doubts\nblocks.csv, row 3, rival_of")
    assert result.stdout.endswith(": no errors, 1 doubt.\n")


def test_json_has_findings_and_rows(folder: Path) -> None:
    (folder / "makers.csv").write_text(MAKERS + "Orlop & Sons,Orlop\n", "utf-8")
    result = check(folder, "--json")
    answer = json.loads(result.stdout)
    assert result.exit_code == 1
    assert answer["rows"]["sources.csv"] == 1
    [finding] = answer["findings"]
    assert set(finding) == {"severity", "file", "row", "column", "value", "problem", "remedy", "places", "count"}
    assert (finding["severity"], finding["file"], finding["row"], finding["column"], finding["value"]) == (
        "error", "makers.csv", 3, "maker_id", "Orlop & Sons")  # fmt: skip


def test_no_such_folder_is_a_message_and_no_folder_is_wrong_usage(folder: Path) -> None:
    result = check(folder / "nowhere")
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.startswith("Error: ") and "nowhere" in result.stderr
    assert check().exit_code == 2


def test_one_misspelt_id_is_one_finding_with_all_its_places(folder: Path) -> None:
    (folder / "parts.csv").write_text(
        "part_number,description,kind,unit,available,safety_critical,source_id\n"
        + "".join(f"{n},Seal,original,each,no,no,lst-1948\n" for n in range(115)), "utf-8"
    )  # fmt: skip
    text = check(folder).stdout
    assert text.count("parts.csv, row") == 1
    assert "Also in row 3; row 4; row 5; row 6; row 7 and 109 more." in text
    assert text.endswith(": 115 errors, no doubts.\n")
    [finding] = json.loads(check(folder, "--json").stdout)["findings"]
    assert (finding["file"], finding["row"], finding["column"], finding["count"]) == ("parts.csv", 2, "source_id", 115)
    assert finding["places"] == [{"file": "parts.csv", "row": row, "column": "source_id"} for row in range(2, 117)]


def test_of_very_many_findings_a_page_is_shown_and_all_are_written_to_a_file(folder: Path, campaign: bool) -> None:
    """Each row is wrong in its own way, so that they cannot be put together. Time and memory grow with the rows and no faster."""
    many = 1_000_000 if campaign else 20_000
    (folder / "parts.csv").write_text(
        "part_number,description,kind,unit,available,safety_critical\n" + "".join(f"{n},Seal,kind {n},each,no,no\n" for n in range(many)), "utf-8"
    )  # fmt: skip
    result = check(folder, "-o", folder / "all-findings.txt")
    assert result.exit_code == 1
    assert len(result.stdout.splitlines()) < 200
    assert f"... and {many - 60:,} more." in result.stdout
    with (folder / "all-findings.txt").open(encoding="utf-8", newline="") as opened:
        rows = list(csv.DictReader(opened))
    assert [int(row["row"]) for row in rows] == list(range(2, many + 2))
    assert len(check(folder, "--json").stdout) < 2_000_000
