"""A dataset as one workbook, and back: nothing is lost, nothing damaged is accepted, nobody's work is overwritten."""

import csv
import datetime
import io
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.dataset import edit
from kb.dataset.changes import NewCell, Refused
from kb.words.errors import DataError, FileError
from kb.words.records import TABLES
from kb.words.records.columns import columns
from loaders import newbook, workbook
from loaders.folder import load


def write(folder: Path, path: Path) -> Path:
    newbook.write(path, workbook.tables_of(folder))
    return path


def changed(path: Path, table: str, cells: dict[str, Any], drop: int = 0) -> Path:
    """Open a workbook as a person would, change cells, save it."""
    book = openpyxl.load_workbook(path)
    for name, value in cells.items():
        book[table][name] = value
    if drop:
        book[table].delete_rows(drop)
    book.save(path)
    return path


def back(path: Path, folder: Path) -> list[tuple[str, str]]:
    """Table and key of what was changed."""
    book = workbook.read(path)
    written = edit.apply(folder, lambda dataset: workbook.changes(book, folder), load=load)
    return list(dict.fromkeys((row.table, row.key) for row in written.rows))


def rows(folder: Path) -> dict[str, list[dict[str, str]]]:
    """The filled cells of every row of every file."""
    found = {}
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8-sig", newline="") as file:
            found[path.name] = [{name: cell for name, cell in row.items() if cell} for row in csv.DictReader(file)]
    return found


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.glob("*.csv"))}


def test_folder_to_workbook_to_folder_loses_nothing(root: Path, tmp_path: Path) -> None:
    demo = root / "demo_data" / "mills-and-pumps"
    path = write(demo, tmp_path / "book.xlsx")
    target = tmp_path / "again"
    target.mkdir()
    shutil.copytree(demo / "pictures", target / "pictures")
    book = workbook.read(path)
    book.notes = {}  # as if it were another folder's
    edit.apply(target, workbook.changes(book, target), load=load)
    assert rows(target) == rows(demo)
    assert not load([target]).wrong
    before = contents(demo)
    assert workbook.changes(workbook.read(path), demo) == [] == workbook.changes(workbook.read(path), target)
    assert contents(demo) == before


def test_it_survives_being_opened_and_saved_by_another_program(folder: Path, tmp_path: Path) -> None:
    path = changed(write(folder, tmp_path / "book.xlsx"), "parts", {})
    assert workbook.changes(workbook.read(path), folder) == []


LOOKS_LIKE_SOMETHING = [
    "00412", "1948-05", "1948-05-03", "3/4", "1E5", "123456789012345678901", "0.50", "=1+1", "+44", "-", "TRUE", "'quoted", "#REF", " é ",
    "two\nlines", "a,b;c\t\"d\"", "1.0", "(5)", "5%", "€5",
]  # fmt: skip


def test_whatever_looks_like_a_number_a_date_or_a_formula_stays_text(tmp_path: Path) -> None:
    club = tmp_path / "club"
    club.mkdir()
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(
        [["maker_id", "name", "note", "x_own"], *([f"m-{number}", text, "", text] for number, text in enumerate(LOOKS_LIKE_SOMETHING))]
    )
    (club / "makers.csv").write_text(out.getvalue(), "utf-8", newline="")
    path = write(club, tmp_path / "book.xlsx")
    for cell in openpyxl.load_workbook(path)["makers"]["B"][1:]:
        assert (cell.data_type, cell.number_format) == ("s", "@"), cell.value
    book = workbook.read(path)
    assert book.findings == []
    cells = [(filled["name"], filled["x_own"]) for _, filled in book.tables["makers"].by_key("makers").values()]
    assert cells == [(text.strip(), text.strip()) for text in LOOKS_LIKE_SOMETHING]
    assert workbook.changes(book, club) == []


ANY = st.characters(exclude_categories=["Cc", "Cs"], exclude_characters="\ufffe\uffff")


@settings(max_examples=10)
@given(texts=st.lists(st.text(ANY, min_size=1, max_size=12), max_size=40))
def test_any_text_comes_back(texts: list[str], tmp_path_factory: pytest.TempPathFactory) -> None:
    club = tmp_path_factory.mktemp("club")
    table = workbook.Table(["maker_id", "name"], [(row, [f"m-{row}", text.strip()]) for row, text in enumerate(texts, 2)])
    newbook.write(club / "book.xlsx", {"makers": table})
    read = workbook.read(club / "book.xlsx")
    assert read.findings == [] or any("E+" in text.upper() or "," in text or "." in text for text in texts)
    assert [cells[:2] for _, cells in read.tables["makers"].rows] == [cells for _, cells in table.rows]


def test_line_ends_inside_a_cell_do_not_count_as_a_change(folder: Path, tmp_path: Path) -> None:
    path = folder / "sources.csv"
    path.write_bytes(path.read_bytes().replace(b"service bulletin,A,,", b'service bulletin,A,,"two\r\nlines"'))
    assert load([folder]).dataset.sources[1].note == "two\r\nlines"
    assert not load([folder]).wrong
    assert workbook.changes(workbook.read(write(folder, tmp_path / "book.xlsx")), folder) == []


def test_a_change_is_one_line(folder: Path, tmp_path: Path) -> None:
    before = contents(folder)
    cells = {"E2": "unknown", "A4": "1500", "B4": "Nut", "C4": "standard", "D4": "each", "E4": "yes", "F4": "no"}
    path = changed(write(folder, tmp_path / "book.xlsx"), "parts", cells)
    assert back(path, folder) == [("parts", "1407"), ("parts", "1500")]
    after = contents(folder)
    lines = before["parts.csv"].decode().splitlines()
    expected = [lines[0], "1407,Seal,original,each,unknown,no,", lines[2], "1500,Nut,standard,each,yes,no,"]
    assert after.pop("parts.csv").decode().splitlines() == expected
    before.pop("parts.csv")
    assert after == before


@pytest.mark.parametrize(("cell", "value", "words"), [
    ("F2", 412, "zeros in front"),
    ("F2", 41212345678901234, "last digits are lost"),
    ("F2", 4.12e20, "last digits are lost"),
    ("F2", "4,12E+05", "No longer the number"),
    ("F2", datetime.datetime(1948, 5, 1), "made a date"),
    ("F2", "=F3", "A formula"),
])  # fmt: skip
def test_a_damaged_cell_is_refused_with_its_name_and_nothing_is_taken(folder: Path, tmp_path: Path, cell: str, value: Any, words: str) -> None:
    before = contents(folder)
    path = changed(write(folder, tmp_path / "book.xlsx"), "breakpoints", {cell: value, "G3": "bulletin-7"})
    book = workbook.read(path)
    assert [(each.file, each.row, each.column) for each in book.findings] == [("book.xlsx, sheet breakpoints", 2, "first_new (cell F2)")]
    assert words in book.findings[0].problem
    assert [(each.row, each.cells["breakpoint_id"]) for each in book.rejected] == [(2, "p-1")]
    with pytest.raises(Refused, match="cell F2"):
        back(path, folder)
    assert contents(folder) == before


def test_a_number_in_a_number_column_is_a_number(folder: Path, tmp_path: Path) -> None:
    path = changed(write(folder, tmp_path / "book.xlsx"), "blocks", {"F3": 950})
    assert [row.last for row in load([folder]).dataset.blocks] == [500, 900]
    back(path, folder)
    assert [row.last for row in load([folder]).dataset.blocks] == [500, 950]


def test_what_the_check_refuses_is_seen_at_the_row_of_the_sheet(folder: Path, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(write(folder, tmp_path / "book.xlsx"))
    book["models"].insert_rows(2)  # a row left empty
    book["models"]["B4"] = "orlpo"
    book.save(tmp_path / "book.xlsx")
    with pytest.raises(Refused) as refused:
        back(tmp_path / "book.xlsx", folder)
    assert [(each.file, each.row, each.value) for each in refused.value.findings] == [("book.xlsx, sheet models", 4, "orlpo")]


def test_a_row_is_not_deleted_by_leaving_it_out(folder: Path, tmp_path: Path) -> None:
    path = changed(write(folder, tmp_path / "book.xlsx"), "parts", {}, drop=2)
    with pytest.raises(Refused, match='"1407": A row that the dataset has is gone'):
        back(path, folder)


def test_a_key_given_twice_is_refused(folder: Path, tmp_path: Path) -> None:
    path = changed(write(folder, tmp_path / "book.xlsx"), "models", {"A3": "m-1"})
    with pytest.raises(Refused, match='sheet models, row 3 "m-1": The key is that of row 2, too'):
        back(path, folder)


def test_sorting_a_sheet_changes_nothing(folder: Path, tmp_path: Path) -> None:
    path = write(folder, tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(path)
    sheet = book["models"]
    for column in "ABCD":
        sheet[f"{column}2"].value, sheet[f"{column}3"].value = sheet[f"{column}3"].value, sheet[f"{column}2"].value
    book.save(path)
    assert back(path, folder) == []


def test_what_others_have_done_meanwhile_stays(folder: Path, tmp_path: Path) -> None:
    path = write(folder, tmp_path / "book.xlsx")
    edit.add(folder, "models", {"model_id": "m-3", "maker_id": "orlop", "name": "M3"}, load=load)
    edit.apply(folder, [NewCell("models", "m-2", "name", "M2, theirs")], load=load)
    changed(path, "models", {"C2": "M1, mine"})
    assert back(path, folder) == [("models", "m-1")]
    assert [row.name for row in load([folder]).dataset.models] == ["M1, mine", "M2, theirs", "M3"]
    assert back(path, folder) == [], "brought again, it changes nothing"
    changed(path, "models", {"C2": "M1, mine again"})
    with pytest.raises(Refused, match=r"row 2 .m-1.: The row was changed in models\.csv, row 2, too"):
        back(path, folder)
    changed(path, "models", {"C2": "M1, mine", "C3": "M2, mine"})
    with pytest.raises(Refused, match=r"row 3 .m-2.: The row was changed in models\.csv, row 3, too"):
        back(path, folder)


def rename(name: str) -> Callable[[Any], None]:
    def spoil(book: Any) -> None:
        book["makers"].title = name

    return spoil


def heading(name: str | None) -> Callable[[Any], None]:
    def spoil(book: Any) -> None:
        book["makers"]["B1"] = name

    return spoil


@pytest.mark.parametrize(("spoil", "file", "row", "words"), [
    (rename("manufacturers"), "book.xlsx, sheet manufacturers", 0, "No file of a dataset"),
    (heading("nmae"), "book.xlsx, sheet makers", 1, 'heading "nmae"'),
    (heading("maker_id"), "book.xlsx, sheet makers", 1, "is there twice"),
    (heading(None), "book.xlsx, sheet makers", 1, 'heading ""'),
])  # fmt: skip
def test_headings_and_sheets_must_stay(folder: Path, tmp_path: Path, spoil: Callable[[Any], None], file: str, row: int, words: str) -> None:
    path = write(folder, tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(path)
    spoil(book)
    book.save(path)
    found = workbook.read(path).findings
    assert [(each.file, each.row) for each in found] == [(file, row)]
    assert words in found[0].problem


def test_a_new_workbook_explains_itself_and_offers_what_exists(folder: Path, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(write(folder, tmp_path / "book.xlsx"))
    assert book.sheetnames == [workbook.GUIDE, *TABLES, workbook.NOTES]
    assert book[workbook.NOTES].sheet_state == "hidden"
    for table in TABLES:
        sheet = book[table]
        headings = {cell.value: cell for cell in sheet[1]}
        for column in columns(table):
            cell = headings[column.name]
            assert column.description in cell.comment.text
            assert cell.protection.locked
        assert sheet.protection.sheet and sheet.freeze_panes == "A2"
        offered = {str(each.sqref).split("2")[0]: each for each in sheet.data_validations.dataValidation}
        for column in columns(table):
            rule = offered.get(headings[column.name].column_letter)
            if column.points_at:
                assert rule and rule.formula1.startswith(f"{column.points_at}!$A$2:$A$")
            elif column.choices:
                assert rule and rule.formula1 == f'"{",".join(column.choices)}"'
    cell = book["makers"]["A2"]
    assert not cell.protection.locked and not book["makers"].column_dimensions["A"].protection.locked
    assert book["makers"].column_dimensions["A"].number_format == "@"


def test_an_empty_workbook_is_filled_in_and_becomes_a_folder(tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    newbook.write(path)
    changed(path, "sources", {"A2": "list", "B2": "List", "C2": "letter", "E2": "B"})
    target = tmp_path / "club"
    target.mkdir()
    assert back(path, target) == [("sources", "list")]
    assert [path.name for path in target.iterdir()] == ["sources.csv"]
    assert load([target]).dataset.sources[0].title == "List"


def test_what_cannot_be_a_workbook_is_refused(folder: Path, tmp_path: Path) -> None:
    openpyxl.Workbook().save(tmp_path / "other.xlsx")
    book = openpyxl.load_workbook(tmp_path / "other.xlsx")
    book.active.title = workbook.GUIDE
    book.save(tmp_path / "other.xlsx")
    with pytest.raises(FileError, match="no sheet of a dataset"):
        workbook.read(tmp_path / "other.xlsx")
    with pytest.raises(FileError, match="There is no folder"):
        newbook.write(tmp_path / "nowhere" / "book.xlsx")
    with pytest.raises(DataError, match="no workbook can hold"):
        newbook.write(tmp_path / "book.xlsx", {"makers": workbook.Table(["maker_id"], [(2, ["a\x01"])])})
    (folder / "makers.csv").write_text("maker_id,name\norlop\n")
    with pytest.raises(FileError, match="cannot be read"):
        workbook.tables_of(folder)


def test_two_people_who_add_rows_to_copies_of_one_workbook_both_keep_theirs_whatever_ids_they_typed(
    folder: Path, tmp_path: Path, campaign: bool
) -> None:
    """Half of the rows of each have the ids that the other typed, too; half have none."""
    count = 200 if campaign else 12
    whole = write(folder, tmp_path / "book.xlsx")
    before = len(rows(folder).get("sightings.csv", []))
    books = []
    for number, person in enumerate(("anna", "bert")):
        book = openpyxl.load_workbook(whole)
        sheet = book["sightings"]
        heading = [cell.value for cell in sheet[1]]
        for at in range(count):
            row = {
                "sighting_id": f"new-{at}" if at % 2 else None, "series_id": "frame", "serial": f"B{100 + 300 * number + at:05}",
                "component_id": "cover", "variant_id": "cover-early", "original": "unknown", "observer": person,
            }  # fmt: skip
            sheet.append([row.get(name) for name in heading])
        books.append(tmp_path / f"{person}.xlsx")
        book.save(books[-1])
    for path in (*books, *books):  # and once more: nothing is added twice
        back(path, folder)
    added = rows(folder)["sightings.csv"][before:]
    assert len(added) == len({row["sighting_id"] for row in added}) == 2 * count
    assert sorted(row["serial"] for row in added) == sorted(f"B{100 + 300 * number + at:05}" for number in (0, 1) for at in range(count))
    assert not load([folder]).wrong


def test_a_row_is_named_by_its_new_id_wherever_the_workbook_names_it(folder: Path, tmp_path: Path) -> None:
    whole = write(folder, tmp_path / "book.xlsx")
    blocks = rows(folder)["blocks.csv"]
    for person, (first, last) in (("anna", ("20001", "20010")), ("bert", ("20021", "20030"))):
        book = openpyxl.load_workbook(whole)
        for table, row in (
            ("blocks", {**blocks[-1], "block_id": "b-new", "position": "40" if person == "anna" else "41", "first": first, "last": last}),
            ("block_models", {"block_id": "b-new", "model_id": rows(folder)["models.csv"][0]["model_id"], "units": "5"}),
        ):
            sheet = book[table]
            sheet.append([row.get(cell.value) for cell in sheet[1]])
        book.save(tmp_path / f"{person}.xlsx")
        back(tmp_path / f"{person}.xlsx", folder)
    named = [row["block_id"] for row in rows(folder)["block_models.csv"]]
    assert len(set(named[-2:])) == 2 and named[-2] == "b-new"
    by_id = {row["block_id"]: row for row in rows(folder)["blocks.csv"]}
    assert [by_id[each]["first"] for each in named[-2:]] == ["20001", "20021"]


def test_one_id_for_two_things_is_a_conflict_with_both_versions(folder: Path, tmp_path: Path) -> None:
    whole = write(folder, tmp_path / "book.xlsx")
    for person in ("anna", "bert"):
        book = openpyxl.load_workbook(whole)
        row = {"source_id": "letter-1", "title": f"Letter to {person}", "kind": "letter", "grade": "C"}
        book["sources"].append([row.get(cell.value) for cell in book["sources"][1]])
        book.save(tmp_path / f"{person}.xlsx")
    back(tmp_path / "anna.xlsx", folder)
    before = contents(folder)
    with pytest.raises(Refused, match='title: "Letter to anna" there, "Letter to bert" here'):
        back(tmp_path / "bert.xlsx", folder)
    assert contents(folder) == before
