"""`kb import`, and workbooks from `kb template`: what comes in, what does not, and where that is written."""

import csv
import json
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result

from kb.cli import main
from loaders.folder import load

from .conftest import FILES


@pytest.fixture
def club(tmp_path: Path) -> Path:
    folder = tmp_path / "club"
    folder.mkdir()
    for name, text in FILES.items():
        (folder / name).write_text(text, "utf-8")
    return folder


def kb(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(each) for each in arguments], catch_exceptions=False)


def put(path: Path, text: str) -> Path:
    path.write_text(text, "utf-8")
    return path


def reasons(path: Path) -> list[tuple[str, str]]:
    return [(row["x_row"], row["x_reason"]) for row in csv.DictReader(path.read_text("utf-8-sig").splitlines())]


def test_sightings_come_in_once_and_the_wrong_ones_go_to_the_rejects(club: Path, tmp_path: Path) -> None:
    form = put(tmp_path / "form.csv", "series id,serial,component id,variant id,original\n"
               "frame,B00402,cover,cover-early,unknown\nframe,B00403,cover,cover-erly,unknown\nframe,B00404,cover,cover-early,unknown\n")  # fmt: skip
    result = kb("import", "sightings", form, "--folder", club)
    assert (result.exit_code, result.stdout) == (1, "sightings: 2 new or changed.\n")
    assert 'form.csv, row 3, variant_id "cover-erly"' in result.stderr and "1 row was not taken" in result.stderr
    assert [row.serial for row in load([club]).dataset.sightings] == ["B00400", "B00402", "B00404"]
    [(row, reason)] = reasons(tmp_path / "form.rejects.csv")
    assert row == "3" and 'Write "cover-early"' in reason
    mended = put(tmp_path / "mended.csv", (tmp_path / "form.rejects.csv").read_text("utf-8-sig").replace("cover-erly,", "cover-early,"))
    assert kb("import", "sightings", mended, "--folder", club).exit_code == 0
    result = kb("import", "sightings", form, "--folder", club, "--rejects", tmp_path / "other.csv", "--json")
    answer = json.loads(result.stdout)
    assert answer["rows"] == [] and answer["report"] == ["2 there already."] and answer["rejected"] == 1
    assert (tmp_path / "other.csv").exists()
    assert not load([club]).wrong and len(load([club]).dataset.sightings) == 4


def test_a_parts_list_says_what_is_new(club: Path, tmp_path: Path) -> None:
    mapping = put(tmp_path / "m.toml", 'add_new = true\n[columns]\npart_number = "No"\ndescription = "What"\navailable = "Stock"\n'
                  '[words.available]\nyes = "yes"\nno = "no"\n[always]\nkind = "original"\nunit = "each"\nsafety_critical = "no"\n')  # fmt: skip
    stock = put(tmp_path / "stock.csv", "No,What,Stock\n1407,Seal 35 mm,yes\n1407 A,Lip seal,yes\n1500,Nut,no\n")
    result = kb("import", "parts", stock, "--mapping", mapping, "--folder", club)
    assert result.exit_code == 0, result.stderr
    assert result.stdout.splitlines() == [
        "parts: 2 new or changed.", "new: 1500 (Nut)", "changed: 1407 (no -> yes)",
        "described otherwise: 1407-A (Seal 35 mm, rubber -> Lip seal)",
    ]  # fmt: skip
    assert not (tmp_path / "stock.rejects.csv").exists()


def test_a_year_list_comes_in_whole_or_not_at_all(club: Path, tmp_path: Path) -> None:
    years = put(tmp_path / "years.txt", "1950 ... C0001\n1951 ... C0401\n1952 ... C0301\n")
    arguments = ("import", "years", years, "--series", "frame", "--source", "list-1948", "--model", "m-2", "--folder", club)
    before = (club / "blocks.csv").read_bytes()
    result = kb(*arguments)
    assert result.exit_code == 1 and "Not higher than the first serial before it" in result.stderr
    assert [row for row, _ in reasons(tmp_path / "years.rejects.csv")] == ["3"]
    put(years, "1950 ... C0001\n1951 ... C0401\n1952 ... C0801\n")
    result = kb(*arguments)
    assert result.exit_code == 1 and "Nothing says where the block ends" in result.stderr and "years.txt, row 3" in result.stderr
    assert [row for row, _ in reasons(tmp_path / "years.rejects.csv")] == ["3"]
    assert (club / "blocks.csv").read_bytes() == before
    result = kb(*arguments, "--last", "C1200")
    assert result.exit_code == 0, result.stderr
    assert not (tmp_path / "years.rejects.csv").exists()
    assert [(row.position, row.first, row.last, row.built_from, row.built_to) for row in load([club]).dataset.blocks[2:]] == [
        (3, 1, 400, "1950", "1950"), (4, 401, 800, "1951", "1951"), (5, 801, 1200, "1952", None),
    ]  # fmt: skip
    assert kb(*arguments, "--last", "C1200").stdout == "3 there already.\n"


def test_a_workbook_there_and_back(club: Path, tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    assert kb("template", club, "-o", path).exit_code == 0
    assert kb("template", club, "-o", path).exit_code == 1, "a workbook somebody may have filled in is not written over"
    assert kb("import", "workbook", path, "--folder", club).stdout == "Nothing is new.\n"
    book = openpyxl.load_workbook(path)
    book["models"]["C2"] = "M1, early"
    book.save(path)
    result = kb("import", "workbook", path, "--folder", club, "--json")
    assert json.loads(result.stdout)["rows"] == [{"table": "models", "key": "m-1", "file": "models.csv", "row": 2}]
    book["models"]["C3"] = 12
    book["models"]["B3"] = "orlpo"
    book.save(path)
    result = kb("import", "workbook", path, "--folder", club)
    assert result.exit_code == 1 and "C3" in result.stderr
    assert [row for row, _ in reasons(tmp_path / "book.rejects.csv")] == ["3"]
    book["models"]["C3"] = "M2"
    book.save(path)
    result = kb("import", "workbook", path, "--folder", club)
    assert result.exit_code == 1 and 'sheet models, row 3, maker_id "orlpo"' in result.stderr
    assert not (tmp_path / "book.rejects.csv").exists()
    book["models"]["B3"] = "orlop"
    book["models"]["C3"] = "M2, late"
    book.save(path)
    assert kb("import", "workbook", path, "--folder", club).stdout == "models: 1 new or changed.\n", "one goes on working in a workbook"


def test_an_empty_workbook_makes_a_folder(tmp_path: Path) -> None:
    assert kb("template", "-o", tmp_path / "book.xlsx").exit_code == 0
    book = openpyxl.load_workbook(tmp_path / "book.xlsx")
    for cell, value in {"A2": "orlop", "B2": "Orlop"}.items():
        book["makers"][cell] = value
    book.save(tmp_path / "book.xlsx")
    assert kb("import", "workbook", tmp_path / "book.xlsx", "--folder", tmp_path / "club").stdout == "makers: 1 new or changed.\n"
    assert load([tmp_path / "club"]).dataset.makers[0].name == "Orlop"


@pytest.mark.parametrize("arguments", [("template",), ("import", "parts", "x.csv"), ("import", "colours")])
def test_wrong_usage_is_2(arguments: tuple[str, ...]) -> None:
    assert kb(*arguments).exit_code == 2


def test_a_name_that_is_no_workbook_is_refused(tmp_path: Path) -> None:
    result = kb("template", "-o", tmp_path / "book.ods")
    assert result.exit_code == 1 and ".xlsx" in result.stderr
