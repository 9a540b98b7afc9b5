"""Lists of parts at the command line: sentences for a shop, a stock list, and what came of sales."""

import csv
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kb.cli import main
from loaders.folder import load


def kb(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(each) for each in arguments], catch_exceptions=False)


@pytest.fixture
def parts(tmp_path: Path) -> Path:
    path = tmp_path / "parts.csv"
    path.write_text("shelf,Part number\nA1,1407\nA2,14O7\n=A3,1407-A\nA4,\n")
    return path


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def test_a_sentence_for_each_part_and_the_reason_where_there_is_none(db: Path, parts: Path, tmp_path: Path) -> None:
    assert kb("listing", parts, "-o", tmp_path / "out.csv", "--language", "de", "--db", db).exit_code == 0
    found = rows(tmp_path / "out.csv")
    assert list(found[0]) == ["shelf", "Part number", "part_here", "sentence", "error"]
    assert found[0]["sentence"].startswith("Passt zu M1 Nr. B00001 bis B")
    assert "O for 0" in found[1]["error"]
    assert found[2]["shelf"] == "'=A3"
    assert [bool(row["sentence"]) for row in found] == [True, False, True, False]
    shown = kb("listing", parts, "--length", "60", "--db", db)
    assert "Ask before ordering" in shown.stdout or "ask before ordering" in shown.stdout
    assert kb("listing", parts, "--length", "5", "--db", db).exit_code == 2
    plain = json.loads(kb("listing", parts, "--json", "--db", db).stdout)
    assert plain[0]["units"][0]["serial_first"] == "B00001"


def test_a_stock_list_beside_its_own_columns(db: Path, parts: Path, tmp_path: Path) -> None:
    assert kb("stock", parts, "-o", tmp_path / "out.xlsx", "--db", db).exit_code == 0
    assert kb("stock", parts, "-o", tmp_path / "out.csv", "--db", db).exit_code == 0
    found = rows(tmp_path / "out.csv")
    assert [row["status"] for row in found] == ["superseded", "unknown", "current", "unknown"]
    assert found[0]["current"] == "1407-A"
    assert found[1]["near"].startswith("perhaps 1407 (O for 0)")
    shown = kb("stock", parts, "--db", db).stdout
    assert "Superseded (1)" in shown
    assert "Unknown here (1)" in shown
    assert "1 row without a part number." in shown


def test_a_list_without_part_numbers_is_refused(db: Path, tmp_path: Path) -> None:
    (tmp_path / "in.csv").write_text("shelf\nA1\n")
    for command in ("stock", "listing"):
        result = kb(command, tmp_path / "in.csv", "--db", db)
        assert result.exit_code == 1
        assert "no column of part numbers" in result.output


def test_outcomes_are_written_into_a_layer_and_stand_beside_the_verdict(club: Path, tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    shop.mkdir()
    result = kb("outcome", "1407", "returned", "--because", "wrong shaft", "--variant", "cover-early", "--folder", shop, "--onto", club)
    assert result.exit_code == 0, result.output
    assert {line.split(",")[0] for line in result.output.splitlines() if ".csv, row" in line} == {"shop/outcomes.csv"}  # no doubts of the club's
    assert kb("outcome", "1407", "fitted", "--on", "2024-05", "--folder", shop, "--onto", club).exit_code == 0
    written = rows(shop / "outcomes.csv")
    assert [(row["outcome_id"], row["result"], row["component_id"]) for row in written] == [
        ("outcome-1", "returned", "cover"),  # the component follows from the variant
        ("outcome-2", "fitted", ""),
    ]
    assert not load([club, shop]).wrong
    assert kb("build", club, shop, "-o", tmp_path / "kb.db").exit_code == 0
    assert "Sold before: fitted 1, returned 1: wrong shaft." in kb("fits", "1407", "--serial", "B00100", "--db", tmp_path / "kb.db").stdout
    assert "f-1" in json.dumps(json.loads(kb("review", "--json", "--db", tmp_path / "kb.db").stdout)["disputes"])  # which says that it fits
    assert kb("outcome", "9999", "fitted", "--folder", shop, "--onto", club).exit_code == 1
    assert len(rows(shop / "outcomes.csv")) == 2


def test_what_to_say_to_a_customer(db: Path) -> None:
    shown = kb("sell", "1407", "--serial", "B00100", "--db", db)
    assert shown.exit_code == 0
    assert shown.stdout.startswith("FITS  1407, Seal 35 mm")
    assert "2 x 1407-A" in shown.stdout
    assert kb("sell", "1407", "--serial", "B00100", "--return-cost", "40", "--db", db).exit_code == 2
    dear = kb("fits", "1407", "--serial", "B00100", "--return-cost", "900", "--sale-value", "5", "--db", db).stdout
    assert dear.startswith("CHECK FIRST")
    assert "Assumed: a return costs 900" in dear
