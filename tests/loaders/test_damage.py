"""One kind of damage to a row: what a spreadsheet, an editor or a tired person does to a dataset folder, and what the loader says about it.

Source of the kinds: RFC 4180, and common practice of those who keep lists in spreadsheets.
"""

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from loaders.folder import load

Damage = Callable[[bytes], bytes | None]


def swap(old: str, new: str, encoding: str = "utf-8") -> Damage:
    """Replace a text that must be there."""

    def damage(data: bytes) -> bytes:
        assert old.encode() in data, old
        return data.replace(old.encode(), new.encode(encoding), 1)

    return damage


def add(text: str) -> Damage:
    """Add lines at the end."""
    return lambda data: data + text.encode()


def gone(_: bytes) -> None:
    """Delete the file."""


def utf16(data: bytes) -> bytes:
    """What "Unicode text" means in a spreadsheet."""
    return data.decode().encode("utf-16")


def without(name: str) -> Damage:
    """Delete a column."""

    def damage(data: bytes) -> bytes:
        rows = list(csv.reader(io.StringIO(data.decode())))
        at = rows[0].index(name)
        return "\n".join(",".join(row[:at] + row[at + 1 :]) for row in rows).encode()

    return damage


def package(name: str, path: str) -> Damage:
    """A datapackage.json of one resource."""
    return lambda _: json.dumps({"resources": [{"name": name, "path": path}]}).encode()


FAULTS = [
    # file, damage, severity, row, column, value, problem, remedy
    ("makers.csv", swap("orlop,Orlop", "orlop,Örlop", "latin-1"), "error", 2, "name", "Örlop", "not UTF-8", "CSV UTF-8"),
    ("makers.csv", utf16, "error", 0, "", "", "UTF-16", "CSV UTF-8"),
    ("makers.csv", lambda d: d.decode().encode("utf-16-le"), "error", 0, "", "", "UTF-16", "CSV UTF-8"),
    ("makers.csv", swap("Orlop", "Or\0lop"), "error", 2, "name", "Or\ufffdlop", "NUL", "Save it again"),
    ("makers.csv", lambda d: b"", "error", 0, "", "", "is empty", "header row"),
    ("makers.csv", lambda d: b"\n\n", "error", 0, "", "", "is empty", "header row"),
    ("makers.csv", gone, "error", 0, "", "", "The file is missing, but models.csv", "Add makers.csv"),
    ("models.csv", swap("M2,1948-05", "M2, the second,1948-05"), "error", 3, "", "1948-05", "5 cells, the header has 4", "quotation"),
    ("models.csv", swap("m-2,orlop,M2,1948-05", "m-2,orlop,M2"), "error", 3, "", "M2", "3 cells, the header has 4", "separators"),
    ("models.csv", swap("m-2,orlop,M2", 'm-2,orlop,"M2'), "error", 3, "", "", "never closed", "Close it"),
    ("models.csv", swap(",name", ",nmae"), "error", 1, "nmae", "nmae", "Unknown column", 'Rename it to "name"'),
    ("models.csv", swap(",built_from", ",Built From"), "error", 1, "Built From", "Built From", "Unknown column", 'Rename it to "built_from"'),
    ("models.csv", swap(",built_from", ",colour"), "error", 1, "colour", "colour", "Unknown column", "x_"),
    ("models.csv", swap(",built_from", ",name"), "error", 1, "name", "name", "twice", "Delete or rename"),
    ("parts.csv", swap(",x_shelf", ","), "error", 3, "", "B 4", "7 cells, the header has 6", "quotation marks"),
    ("parts.csv", swap(",x_shelf", ",x_"), "error", 1, "x_", "x_", "Unknown column", "x_"),
    ("sources.csv", without("title"), "error", 1, "title", "", 'column "title" is missing', "Add it"),
    ("models.csv", add("m-2,orlop,M2 again,\n"), "error", 4, "model_id", "m-2", "already that of row 3", "another key"),
    ("models.csv", add("m_2,orlop,M2 again,\n"), "doubt", 4, "model_id", "m_2", 'looks like "m-2"', "one spelling"),
    ("models.csv", add("m-l,orlop,M1 again,\n"), "doubt", 4, "model_id", "m-l", 'looks like "m-1"', "one spelling"),
    ("models.csv", add('"m-3\n",orlop,M3,\n'), "error", 4, "model_id", "m-3\n", "line break", "on one line"),
    ("models.csv", add("M 3,orlop,M3,\n"), "error", 4, "model_id", "M 3", "Not an id", 'Perhaps "m-3"'),
    ("models.csv", add("m-\u0430,orlop,M3,\n"), "error", 4, "model_id", "m-\u0430", "Not an id", "a-z"),  # a Cyrillic letter
    ("models.csv", add(",orlop,M3,\n"), "error", 4, "model_id", "", "Empty", "Id of the model"),
    ("models.csv", swap("1948-05", "1948-02-30"), "error", 3, "built_from", "1948-02-30", "impossible date", "has 29 days"),
    ("models.csv", swap("1948-05", "May-48"), "error", 3, "built_from", "May-48", "not a date", "1948-05"),
    ("models.csv", swap("1948-05", "1948/.."), "error", 3, "built_from", "1948/..", "open end", "both ends"),
    ("models.csv", swap("m-2,orlop", "m-2,orlpo"), "error", 3, "maker_id", "orlpo", "is not in makers.csv", 'Write "orlop"'),
    ("models.csv", swap("M2", "#REF!"), "error", 3, "name", "#REF!", "could not work this cell out", "not a formula"),
    ("models.csv", swap("1948-05", "########"), "error", 3, "built_from", "########", "could not work this cell out", "widen"),
    ("blocks.csv", swap("501,900", "501,1.23E+05"), "error", 3, "last", "1.23E+05", "No longer the number", "Set the column to Text"),
    ("blocks.csv", swap("501,900", "501,9.0"), "error", 3, "last", "9.0", "Not a whole number", "without separators"),
    ("blocks.csv", swap("501,900", '501,"1,900"'), "error", 3, "last", "1,900", "Not a whole number", "Write 1900"),
    ("blocks.csv", swap("501,900", "900,501"), "error", 3, "last", "501", "before it begins", "Swap"),
    ("blocks.csv", gone, "error", 0, "", "", "The file is missing, but breakpoints.csv names serials", "Add blocks.csv"),
    ("blocks.csv", swap("1,500", "x,500"), "error", 2, "first", "x", "Not a whole number", "without separators"),
    ("breakpoints.csv", swap("B00412", "B01412"), "error", 2, "first_new", "B01412", "No block", "B00001 to B00500"),
    ("breakpoints.csv", swap("p-1,frame", "p-1,farme"), "error", 2, "series_id", "farme", "is not in series.csv", 'Write "frame"'),
    ("breakpoints.csv", swap("B00412", '"4,12E+05"'), "error", 2, "first_new", "4,12E+05", "No longer the number", "Set the column to Text"),
    ("breakpoints.csv", swap("early,cover-late", "late,cover-late"), "error", 2, "new_variant_id", "cover-late", "are the same", "leave old"),
    ("parts.csv", swap("1407-A", "1407.0"), "error", 3, "part_number", "1407.0", "has given decimals", "write 1407-0"),
    ("parts.csv", swap("1407-A", "Jan-14"), "error", 3, "part_number", "Jan-14", "looks like a date", "write JAN-14"),
    ("parts.csv", swap("1407-A", "14-Jan"), "error", 3, "part_number", "14-Jan", "looks like a date", "write 14-JAN"),
    ("parts.csv", swap("1407-A", '"1,4E+03"'), "error", 3, "part_number", "1,4E+03", "No longer the number", "Set the column to Text"),
    ("parts.csv", swap("yes,no,B 4", "maybe,no,B 4"), "error", 3, "available", "maybe", "Not one of the words", "yes, no, unknown"),
    ("variants.csv", swap("0.5", '"0,5"'), "error", 3, "service_share", "0,5", "Not a number", "Write 0.5"),
    ("sorces.csv", lambda _: b"source_id\n", "error", 0, "", "", "No file of a dataset", "Rename it to sources.csv"),
    ("colours.csv", lambda _: b"colour_id\n", "error", 0, "", "", "No file of a dataset", "move it out"),
    ("datapackage.json", lambda _: b"{", "error", 0, "", "", "Not a data package", "delete it"),
    ("datapackage.json", package("makers", "../makers.csv"), "error", 0, "resources", "../makers.csv", "leads out", "Correct it"),
    ("datapackage.json", package("markers", "makers.csv"), "error", 0, "resources", "markers", "No table", "Correct it"),
]  # fmt: skip


@pytest.mark.parametrize(("file", "damage", "severity", "row", "column", "value", "problem", "remedy"), FAULTS)
def test_damage_is_one_finding_at_its_cell(
    folder: Path, file: str, damage: Damage, severity: str, row: int, column: str, value: str, problem: str, remedy: str
) -> None:
    path = folder / file
    data = damage(path.read_bytes() if path.exists() else b"")
    if data is None:
        path.unlink()
    else:
        path.write_bytes(data)
    found = load([folder]).findings
    assert [(each.severity, each.file, each.row, each.column, each.value) for each in found] == [(severity, file, row, column, value)]
    assert problem in found[0].problem
    assert remedy in found[0].remedy


@pytest.mark.parametrize(("file", "damage"), [
    ("makers.csv", lambda d: b"\xef\xbb\xbf" + d),  # byte order mark
    ("makers.csv", lambda d: d.replace(b"\n", b"\r\n")),
    ("makers.csv", lambda d: d.replace(b"\n", b"\r")),
    ("models.csv", lambda d: d.replace(b",", b";")),
    ("models.csv", lambda d: d.replace(b",", b"\t")),
    ("models.csv", lambda d: b"sep=;\n" + d.replace(b",", b";")),
    ("models.csv", lambda d: d + b"\n\n  \n,,,\n"),
    ("models.csv", lambda d: d.replace(b"\n", b",,\n")),  # empty columns a spreadsheet leaves behind
    ("models.csv", lambda d: b"\n".join(b",".join(reversed(line.split(b","))) for line in d.split(b"\n"))),
    ("models.csv", lambda d: d.replace(b"M2", b'"M2"').replace(b"orlop", b"  orlop\xc2\xa0")),
    ("models.csv", lambda d: b"\n" + d),
    ("sources.csv", lambda d: d.replace(b"Bulletin 7", b'"Bulletin ""7"",\nsecond edition"').replace(b'7"",\nsecond', b'7"", second')),
])  # fmt: skip
def test_what_programs_write_differently_is_taken_without_a_word(folder: Path, file: str, damage: Damage) -> None:
    before = load([folder])
    data = damage((folder / file).read_bytes())
    assert data is not None
    (folder / file).write_bytes(data)
    after = load([folder])
    assert after.findings == ()
    table = file.removesuffix(".csv")
    assert [row.key_text for row in getattr(after.dataset, table)] == [row.key_text for row in getattr(before.dataset, table)]
    assert len(getattr(after.dataset, table)) > 0


def test_a_table_in_two_files_is_found_where_it_stands(folder: Path) -> None:
    """datapackage.json may name several files of one table; findings and origins name the right one."""
    (folder / "more.csv").write_text("model_id,maker_id,name\nm-3,orlop,M3\nm-4,orlpo,M4\nm-2,orlop,M2 again\n", encoding="utf-8")
    (folder / "datapackage.json").write_text(json.dumps({"resources": [{"name": "models", "path": ["models.csv", "more.csv"]}]}), encoding="utf-8")
    loaded = load([folder])
    found = [(each.file, each.row, each.column, each.value) for each in loaded.findings if each.severity == "error"]
    assert found == [("more.csv", 3, "maker_id", "orlpo"), ("more.csv", 4, "model_id", "m-2")]
    assert loaded.findings[-1].problem == 'The key "m-2" is already that of models.csv, row 3.'
    places = [loaded.origin("models", index) for index in range(len(loaded.dataset.models))]
    assert places == [("models.csv", 2), ("models.csv", 3), ("more.csv", 2), ("more.csv", 3)]
    assert loaded.counts["models.csv"] == 2 and loaded.counts["more.csv"] == 3


def test_the_undamaged_folder_has_no_finding(folder: Path) -> None:
    loaded = load([folder])
    assert loaded.findings == () and not loaded.wrong
    assert loaded.counts["parts.csv"] == 2
    assert loaded.extras == {"parts": {"x_shelf": {1: "B 4"}}}
    assert loaded.origin("blocks", 1) == ("blocks.csv", 3)


def test_all_findings_are_reported_together(folder: Path) -> None:
    for file, damage in (("makers.csv", swap("Orlop", "")), ("models.csv", swap("1948-05", "1948-13")), ("blocks.csv", swap("m-2", "m-9"))):
        path = folder / file
        path.write_bytes(damage(path.read_bytes()) or b"")
    found = load([folder]).findings
    assert [(each.file, each.row, each.column) for each in found] == [
        ("makers.csv", 2, "name"),
        ("models.csv", 3, "built_from"),
        ("blocks.csv", 3, "model_id"),
    ]


def test_a_wrong_row_is_not_missed_by_the_rows_that_point_at_it(folder: Path) -> None:
    path = folder / "sources.csv"
    path.write_bytes(path.read_bytes().replace(b"list,B", b"list,E"))
    assert [(each.file, each.row, each.column) for each in load([folder]).findings] == [("sources.csv", 2, "grade")]


def test_rows_are_counted_as_a_spreadsheet_shows_them(folder: Path) -> None:
    path = folder / "sources.csv"
    text = path.read_text("utf-8").replace('"Parts list, 1948"', '"Parts\nlist,\n1948"').replace("bulletin-7,", "\nbulletin-7,")
    path.write_text(text.replace("bulletin,A", "bulletin,X"), "utf-8")
    assert [(each.row, each.column) for each in load([folder]).findings] == [(2, "title"), (4, "grade")]


def test_a_later_layer_adds_and_replaces_and_says_so(folder: Path, tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    shop.mkdir()
    header = "part_number,description,kind,unit,available,safety_critical,x_price\n"
    (shop / "parts.csv").write_text(header + "1407-A,Seal with lip,original,each,no,no,4\n1500,Nut,standard,each,yes,no,\n", "utf-8")
    loaded = load([folder, shop])
    assert [(part.part_number, part.description) for part in loaded.dataset.parts] == [("1407", "Seal"), ("1407-A", "Seal with lip"), ("1500", "Nut")]
    assert [(each.severity, each.file, each.row, each.value) for each in loaded.findings] == [("doubt", "shop/parts.csv", 2, "1407-A")]
    assert "club/parts.csv, row 3" in loaded.findings[0].problem
    assert [(each.key, each.earlier, each.later) for each in loaded.replaced] == [("1407-A", ("club/parts.csv", 3), ("shop/parts.csv", 2))]
    assert loaded.extras["parts"] == {"x_shelf": {}, "x_price": {1: "4"}}
    assert loaded.origin("parts", 0) == ("club/parts.csv", 2)
    assert loaded.origin("parts", 2) == ("shop/parts.csv", 3)
    assert not loaded.wrong


def test_datapackage_may_name_the_files(folder: Path) -> None:
    (folder / "data").mkdir()
    (folder / "makers.csv").rename(folder / "data" / "the-makers.csv")
    (folder / "datapackage.json").write_text('{"resources": [{"name": "makers", "path": "data/the-makers.csv"}]}', "utf-8")
    loaded = load([folder])
    assert loaded.findings == ()
    assert loaded.origin("makers", 0) == ("data/the-makers.csv", 2)


@pytest.mark.parametrize(
    ("name", "words"), [("nowhere", "does not exist"), ("club/makers.csv", "is a file, not a folder"), ("empty", "holds no file of a dataset")]
)
def test_a_folder_that_is_none_is_refused(folder: Path, tmp_path: Path, name: str, words: str) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(Exception, match=words) as refused:
        load([tmp_path / name])
    assert type(refused.value).__name__ == "FileError"
