"""Lists that somebody else made: read completely or refused at their cells; what is rejected is written out with its reason."""

import csv
import datetime
import json
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from kb.dataset import edit
from kb.words.errors import DataError, FileError, KbError
from kb.words.records.columns import columns
from loaders import columnmap, forms, listing, partslist, rejects
from loaders.folder import load


def put(path: Path, text: str) -> Path:
    path.write_text(text, "utf-8")
    return path


def xlsx(path: Path, rows: list[list[Any]], sheet: str = "Prices") -> Path:
    book = openpyxl.Workbook()
    book.active.title = sheet
    for row in rows:
        book.active.append(row)
    book.save(path)
    return path


# Reading


@pytest.mark.parametrize(("name", "text"), [
    ("a.csv", "No,What\n0012,seal\n,\n13,\n"),
    ("a.csv", "\ufeffNo;What\r\n0012;seal\r\n;\r\n13;\r\n"),
    ("a.tsv", "No\tWhat\n0012\tseal\n\t\n13\t\n"),
    ("a.jsonl", '{"No": "0012", "What": "seal"}\n\n\n{"No": 13, "What": null}\n'),
])  # fmt: skip
def test_a_list_is_rows_under_their_headings(tmp_path: Path, name: str, text: str) -> None:
    read = listing.read(put(tmp_path / name, text))
    rows = [cells for _, cells in read.rows]
    assert rows == [{"No": "0012", "What": "seal"}, {"No": "13", "What": ""}]
    assert [row for row, _ in read.rows] == ([1, 4] if name == "a.jsonl" else [2, 4])
    assert read.findings == [] and read.header == ["No", "What"]


def test_json_values_are_what_is_written(tmp_path: Path) -> None:
    read = listing.read(put(tmp_path / "a.jsonl", '{"a": 1.50, "b": true, "c": ["x", "y"], "d": 100000000000000000001}'))
    assert read.rows == [(1, {"a": "1.50", "b": "yes", "c": "x;y", "d": "100000000000000000001"})]


def test_broken_lines_are_rejected_and_the_others_read(tmp_path: Path) -> None:
    text = '{"a": "1"}\n{"a": \n[1]\n{"a": {"b": 1}}\n{"a": "2"}\n' + "[" * 100_000
    read = listing.read(put(tmp_path / "a.jsonl", text))
    assert [row for row, _ in read.rows] == [1, 5]
    assert [each.row for each in read.rejected] == [2, 3, 4, 6] == [each.row for each in read.findings]
    read = listing.read(put(tmp_path / "a.csv", "a,b\n1,2\n3\n5,6,7\n#REF!,8\n9,10\n"))
    assert [row for row, _ in read.rows] == [2, 6]
    assert [(each.row, each.cells["a"]) for each in read.rejected] == [(3, "3"), (4, "5"), (5, "#REF!")]


@pytest.mark.parametrize(("cell", "shown", "words"), [
    (412, "412", "zeros in front"),
    (1407.5, "1407.5", "zeros in front"),
    (1234567890123456, "1234567890123456", "last digits are lost"),
    (1.5e20, "150000000000000000000", "last digits are lost"),
    (datetime.datetime(1948, 5, 1), "1948-05-01", "made a date"),
    ("1.23E+05", "1.23E+05", "No longer the number"),
    ("=A1", "None", ""),  # a formula nobody has worked out is empty
])  # fmt: skip
def test_what_a_spreadsheet_did_to_a_number_is_refused_with_its_cell(tmp_path: Path, cell: Any, shown: str, words: str) -> None:
    read = listing.read(xlsx(tmp_path / "a.xlsx", [["No", "What"], ["0012", "seal"], [cell, "ring"]]), as_text={"No"})
    if not words:
        assert read.rows[1] == (3, {"No": "", "What": "ring"})
        return
    assert read.rows == [(2, {"No": "0012", "What": "seal"})]
    assert [(each.row, each.column, each.value) for each in read.findings] == [(3, "No (cell A3)", shown)]
    assert words in read.findings[0].problem
    assert read.rejected[0].cells["What"] == "ring"


def test_amounts_are_numbers(tmp_path: Path) -> None:
    read = listing.read(xlsx(tmp_path / "a.xlsx", [["No", "Price", "In"], ["0012", 4.25, True], ["0013", 4, False]]), as_text={"No"})
    assert [cells for _, cells in read.rows] == [{"No": "0012", "Price": "4.25", "In": "yes"}, {"No": "0013", "Price": "4", "In": "no"}]


@pytest.mark.parametrize(("name", "data", "words"), [
    ("a.pdf", b"x", "no list this program reads"),
    ("a.xlsx", b"PK\x03\x04 no workbook", "is no workbook"),
    ("a.xlsx", b"", "is no workbook"),
    ("a.csv", b"", "is empty"),
    ("a.csv", b"a,a\n1,2\n", 'two columns named "a"'),
    ("a.csv", b'a,b\n"1,2\n', "never closed"),
    ("a.jsonl", b"\xff\xfe", "UTF-8"),
    ("a.jsonl", b"\n", "is empty"),
])  # fmt: skip
def test_what_is_no_list_is_refused(tmp_path: Path, name: str, data: bytes, words: str) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(FileError, match=words):
        listing.read(tmp_path / name)


@pytest.mark.parametrize("name", ["a.csv", "a.xlsx", "a.jsonl"])
def test_a_list_that_is_not_there_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(FileError, match="cannot be read"):
        listing.read(tmp_path / name)


def test_a_sheet_by_its_name(tmp_path: Path) -> None:
    path = xlsx(tmp_path / "a.xlsx", [["No"], ["1"]])
    assert listing.read(path, sheet="Prices").rows == [(2, {"No": "1"})]
    with pytest.raises(FileError, match='no sheet "Stock"'):
        listing.read(path, sheet="Stock")


def test_rejects_can_be_mended_and_brought_again(tmp_path: Path) -> None:
    found = listing.read(put(tmp_path / "a.csv", "a,b\n1,2\n3\n"))
    rejects.write(tmp_path / "r.csv", found.rejected)
    rows = list(csv.DictReader((tmp_path / "r.csv").read_text("utf-8-sig").splitlines()))
    assert [(row["a"], row["x_file"], row["x_row"]) for row in rows] == [("3", "a.csv", "3")]
    assert "The row has 1 cells, the header has 2." in rows[0]["x_reason"]
    rejects.write(tmp_path / "r.csv", [])
    assert not (tmp_path / "r.csv").exists()


# Mapping

PARTS = columns("parts")


@pytest.mark.parametrize(("text", "words"), [
    ("columns", "is not TOML"),
    ("colums = {}", 'Perhaps "columns" is meant'),
    ('[columns]\npart_numer = "No"', 'Perhaps "part_number" is meant'),
    ("[columns]\npart_number = 3", "not as it should be"),
    ('[words]\navailable = "yes"', "not as it should be"),
    ('add_new = "yes"', "not as it should be"),
    ('[always]\ncolour = "red"', 'no column "colour"'),
])  # fmt: skip
def test_a_mapping_that_is_wrong_is_refused(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(DataError) as refused:
        columnmap.parse(put(tmp_path / "m.toml", text), PARTS)
    assert words in str(refused.value)


def test_a_mapping_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="cannot be read"):
        columnmap.parse(tmp_path / "m.toml", PARTS)


# Parts lists

MAPPING = """
add_new = {add_new}
[columns]
part_number = "Item"
description = "Text"
available = "Stock"
new_part = "Now"
[words.available]
"in stock" = "yes"
"sold out" = "no"
"" = "unknown"
[always]
kind = "original"
unit = "each"
safety_critical = "no"
source_id = "bulletin-7"
"""
LIST = """Item,Text,Stock,Now
14 07,Seal,In Stock,
1407.A,Sealing ring,sold  out,1500
1500,Nut,in stock,
1600,Bolt,,
1601,Bolt,in stock,9999
1602,Bolt,back order,
??,Bolt,,
1407,Seal,sold out,
1500,Nut,in stock,
"""


@pytest.mark.parametrize("add_new", [True, False])
def test_a_suppliers_list_says_what_is_new_changed_and_unknown(folder: Path, tmp_path: Path, add_new: bool) -> None:
    mapping = put(tmp_path / "m.toml", MAPPING.format(add_new=str(add_new).lower()))
    parts = partslist.read(put(tmp_path / "list.csv", LIST), mapping)
    before = load([folder]).dataset.parts
    done = edit.apply(folder, parts.plan, load=load, partly=True)
    news = {(each.kind, each.part_number, each.before, each.now) for each in parts.report(done.rejected)}
    dataset = load([folder]).dataset
    now = {row.part_number: row.available for row in dataset.parts}
    rejected = {each.row: each.reason for each in parts.listing.not_taken(parts.planned, done.rejected)}
    assert "back order" in rejected[7] and "no letter and no digit" not in rejected[7]
    assert '"??"' in rejected[8] and "in row 2 already" in rejected[9]
    assert not load([folder]).wrong
    if add_new:
        assert now == {"1407": "yes", "1407-A": "no", "1500": "yes", "1600": "unknown"}
        assert [(row.old_part, row.new_part, row.source_id) for row in dataset.supersessions] == [("1407-A", "1500", "bulletin-7")]
        assert news == {
            ("new", "1500", "", "Nut"), ("new", "1600", "", "Bolt"), ("changed", "1407", "no", "yes"), ("changed", "1407-A", "yes", "no"),
            ("superseded", "1407.A", "", "1500"), ("described otherwise", "1407-A", "Seal", "Sealing ring"),
        }  # fmt: skip
        assert set(rejected) == {6, 7, 8, 9}
        assert "The replacement is no part" in rejected[6]
    else:
        assert now == {"1407": "yes", "1407-A": "yes"}, "the row that names an unknown replacement is left out as a whole"
        assert {each for each in news if each[0] == "unknown"} == {("unknown", number, "", "") for number in ("1500", "1600", "1601")}
        assert set(rejected) == {3, 7, 8, 9}
    again = partslist.read(tmp_path / "list.csv", mapping)
    done = edit.apply(folder, again.plan, load=load, partly=True)
    assert done.rows == (), "brought again, it changes nothing"
    assert {part.part_number for part in before} <= set(now), "nothing is lost"


def test_part_numbers_that_are_numbers_are_refused_unless_told_otherwise(tmp_path: Path) -> None:
    path = xlsx(tmp_path / "l.xlsx", [["Item", "Text"], [1407, "Seal"], ["0012", "Nut"]])
    short = '[columns]\npart_number = "Item"\ndescription = "Text"\n'
    strict = partslist.read(path, put(tmp_path / "a.toml", short))
    assert [values["part_number"] for _, values in strict.rows] == ["0012"]
    loose = partslist.read(path, put(tmp_path / "b.toml", "numbers_as_shown = true\n" + short))
    assert [values["part_number"] for _, values in loose.rows] == ["1407", "0012"]


@pytest.mark.parametrize(("text", "words"), [
    ('[columns]\ndescription = "Text"', "which column is the part number"),
    ('[columns]\npart_number = "Itm"', 'Perhaps "Item" is meant'),
])  # fmt: skip
def test_a_list_without_its_columns_is_refused(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(DataError) as refused:
        partslist.read(put(tmp_path / "l.csv", LIST), put(tmp_path / "m.toml", text))
    assert words in str(refused.value)


# Forms

ANSWERS = [
    {"When": "2024-05-03", "Number": "B00400", "Casting": "three holes", "By": "member 3"},
    {"When": "2024-05-04", "Number": "B0045?", "Casting": "four holes", "By": "member 4"},
    {"When": "3 May", "Number": "B00410", "Casting": "four holes", "By": "member 5"},
    {"When": "2024-05-05", "Number": "B00420", "Casting": "no idea", "By": "member 6"},
]
FORM = """
[columns]
seen_on = "When"
serial = "Number"
variant_id = "Casting"
observer = "By"
[words.variant_id]
"three holes" = "cover-early"
"four holes" = "cover-late"
[always]
series_id = "frame"
component_id = "cover"
original = "unknown"
"""


@pytest.mark.parametrize("kind", ["csv", "jsonl"])
def test_answers_of_a_form_become_sightings_once(folder: Path, tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"form.{kind}"
    lines = [json.dumps(each) for each in ANSWERS] if kind == "jsonl" else ["When,Number,Casting,By", *(",".join(each.values()) for each in ANSWERS)]
    put(path, "\n".join(lines))
    form, rows = forms.read(path, put(tmp_path / "form.toml", FORM))
    plan = forms.unknown_yet(rows)
    planned = plan(load([folder]).dataset)
    done = edit.apply(folder, planned, load=load, partly=True)
    first = 1 if kind == "jsonl" else 2
    assert [(row.key, row.row) for row in done.rows] == [("sighting-1", 2), ("sighting-2", 3)]
    assert [each.row for each in form.not_taken(planned, done.rejected)] == [first + 2, first + 3]
    dataset = load([folder]).dataset
    assert [(row.serial, row.variant_id, row.observer) for row in dataset.sightings] == [
        ("B00400", "cover-early", "member 3"), ("B0045?", "cover-late", "member 4"),
    ]  # fmt: skip
    put(path, "\n".join([*lines, lines[-4]]))
    _, rows = forms.read(path, tmp_path / "form.toml")
    assert edit.apply(folder, forms.unknown_yet(rows), load=load, partly=True).rows == ()


def test_a_form_with_our_headings_needs_no_mapping(folder: Path, tmp_path: Path) -> None:
    text = "Series id,Serial,Component id,Variant-ID,original,x_reason\nframe,B00400,cover,cover-early,believed,was wrong\n"
    _, rows = forms.read(put(tmp_path / "form.csv", text))
    assert edit.apply(folder, rows, load=load).rows[0].key == "sighting-1"
    assert "x_reason" not in (folder / "sightings.csv").read_text()
    with pytest.raises(KbError, match='Perhaps "serial" is meant'):
        forms.read(put(tmp_path / "form.csv", "Series id,Serail\nframe,1\n"))
