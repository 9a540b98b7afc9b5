"""Adding and retracting: what is refused, and that nothing else changes."""

import json
import threading
from collections.abc import Sequence
from pathlib import Path

import pytest

from kb.dataset import edit
from kb.dataset.changes import Held, NewCell, NewRow, Refused
from kb.dataset.ids import NextIds
from kb.dataset.lock import digest, finish, locked, replace_together
from kb.words.errors import DataError, FileError
from loaders.folder import load

SIGHTING = {"series_id": "frame", "serial": "B00411", "component_id": "cover", "variant_id": "early", "original": "believed"}
CLAIM = {
    "breakpoint_id": "p-2", "series_id": "frame", "component_id": "cover", "old_variant_id": "early", "new_variant_id": "late",
    "first_new": "B00420", "source_id": "register",
}  # fmt: skip


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_row_is_one_line_more(folder: Path) -> None:
    before = contents(folder)
    done = edit.add(folder, "sightings", SIGHTING, load=load)
    assert [(row.table, row.key, row.file, row.row) for row in done.rows] == [("sightings", "seen-002", "sightings.csv", 3)]
    assert done.doubts == ()
    after = contents(folder)
    assert after.pop("sightings.csv") == before.pop("sightings.csv") + b"seen-002,frame,B00411,cover,early,believed,\n"
    assert after == before
    assert not load([folder]).findings


def test_what_comes_in_doubt_is_written_and_said(folder: Path) -> None:
    done = edit.add(folder, "breakpoints", CLAIM, load=load)
    assert [(each.severity, each.file, each.row, each.column) for each in done.doubts] == [("doubt", "breakpoints.csv", 3, "first_new")]
    assert "contradicts p-1" in done.doubts[0].problem
    assert (folder / "breakpoints.csv").read_text().endswith("p-2,frame,cover,early,late,B00420,,register\n")


@pytest.mark.parametrize(("table", "values", "column", "words"), [
    ("sightings", SIGHTING | {"series_id": "farme"}, "series_id", "is not in series.csv"),
    ("sightings", SIGHTING | {"variant_id": "other"}, "variant_id", "is not in variants.csv"),
    ("sightings", SIGHTING | {"place": "middle"}, "place", "is no place of"),
    ("sightings", SIGHTING | {"serial": "1.23E+05"}, "serial", "No longer the number"),
    ("sightings", SIGHTING | {"seen_on": "May 48"}, "seen_on", "not a date"),
    ("sightings", SIGHTING | {"mark_read": "H41"}, "", "Neither or both"),
    ("sightings", SIGHTING | {"original": ""}, "original", "must be filled in"),
    ("sightings", SIGHTING | {"colour": "red"}, "colour", "Unknown column"),
    ("sightings", SIGHTING | {"sighting_id": "seen-001"}, "sighting_id", "already that of row 2"),
    ("sightings", SIGHTING | {"variant_id": "#REF!"}, "variant_id", "Not an id"),
    ("breakpoints", CLAIM | {"first_new": "B01412"}, "first_new", "No block"),
    ("breakpoints", CLAIM | {"first_new": ""}, "", "neither a serial nor a date"),
    ("sources", {"title": "X", "kind": "letter", "grade": "D"}, "source_id", "must be filled in"),  # people choose it
    ("parts", {"part_number": "1407.a", "description": "Seal", "kind": "original", "unit": "each", "available": "no", "safety_critical": "no"},
     "part_number", "are one number"),
    ("supersessions", {"old_part": "1407-A", "new_part": "1407", "direction": "one-way", "source_id": "register"}, "", "circle"),
    ("blocks", {"block_id": "b-2", "series_id": "frame", "position": "2", "prefix": "B", "first": "800", "last": "950", "width": "5",
                "source_id": "register"}, "first", "both hold the numbers 800 to 900"),
    ("makers", {"maker_id": "other", "name": "#REF!"}, "name", "could not work this cell out"),
])  # fmt: skip
def test_what_the_check_would_refuse_is_refused_and_nothing_is_written(
    folder: Path, table: str, values: dict[str, str], column: str, words: str
) -> None:
    before = contents(folder)
    with pytest.raises(Refused) as refused:
        edit.add(folder, table, values, load=load)
    assert any(words in each.problem and (not column or each.column == column) for each in refused.value.findings), refused.value.findings
    assert words in str(refused.value)
    assert contents(folder) == before


def test_what_was_wrong_before_is_no_reason_to_refuse(folder: Path) -> None:
    path = folder / "models.csv"
    path.write_text(path.read_text() + "m-2,orlpo,M2\n")
    assert load([folder]).wrong
    assert edit.add(folder, "sightings", SIGHTING, load=load).rows


def test_a_file_too_damaged_to_be_written_to_is_refused(folder: Path) -> None:
    path = folder / "sightings.csv"
    path.write_text(path.read_text() + 'seen-002,frame,"B00401,cover,early,believed,\n')
    before = contents(folder)
    with pytest.raises(Refused, match="never closed"):
        edit.add(folder, "sightings", SIGHTING, load=load)
    assert contents(folder) == before


def test_a_missing_file_is_made_with_all_columns(folder: Path) -> None:
    done = edit.add(folder, "affixes", {"series_id": "frame", "affix": "X", "at": "suffix", "means": "export"}, load=load)
    assert [(row.file, row.row) for row in done.rows] == [("affixes.csv", 2)]
    assert (folder / "affixes.csv").read_text() == "series_id,affix,at,means,note\nframe,X,suffix,export,\n"


def test_an_empty_folder_takes_its_first_row(tmp_path: Path) -> None:
    edit.add(tmp_path, "sources", {"source_id": "list", "title": "List", "kind": "other", "grade": "B"}, load=load)
    assert (tmp_path / "sources.csv").read_text().endswith("\nlist,List,other,,B,,\n")


def test_a_column_the_file_lacks_is_added_at_its_end(folder: Path) -> None:
    edit.add(folder, "sightings", SIGHTING | {"place": "left", "x_box": "12"}, load=load)
    lines = (folder / "sightings.csv").read_text().splitlines()
    assert lines[0].endswith("original,retracted,place,x_box")
    assert lines[1:] == ["seen-001,frame,B00400,cover,early,believed,,,", "seen-002,frame,B00411,cover,early,believed,,left,12"]


def test_the_habits_of_a_spreadsheet_stay(folder: Path) -> None:
    path = folder / "sightings.csv"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b",", b";").replace(b"\n", b"\r\n"))
    before = path.read_bytes()
    edit.add(folder, "sightings", SIGHTING, load=load)
    assert path.read_bytes() == before + b"seen-002;frame;B00411;cover;early;believed;\r\n"


def test_the_file_that_the_package_names_is_the_one(folder: Path) -> None:
    (folder / "data").mkdir()
    (folder / "sightings.csv").rename(folder / "data" / "seen.csv")
    (folder / "datapackage.json").write_text('{"resources": [{"name": "sightings", "path": "data/seen.csv"}]}', "utf-8")
    done = edit.add(folder, "sightings", SIGHTING, load=load)
    assert [(row.file, row.row) for row in done.rows] == [("data/seen.csv", 3)]
    assert not (folder / "sightings.csv").exists()


def test_retracting_changes_one_cell(folder: Path) -> None:
    before = contents(folder)
    done = edit.retract(folder, "seen-001", " swapped, says the owner ", load=load)
    assert [(row.table, row.key, row.row) for row in done.rows] == [("sightings", "seen-001", 2)]
    after = contents(folder)
    old, new = before.pop("sightings.csv"), after.pop("sightings.csv")
    assert new == old.replace(b"believed,\n", b'believed,"swapped, says the owner"\n')
    assert after == before
    assert load([folder]).dataset.sightings[0].retracted == "swapped, says the owner"


def test_retracting_where_the_file_has_no_such_column_yet(folder: Path) -> None:
    edit.retract(folder, "p-1", "misprint", load=load)
    assert (folder / "breakpoints.csv").read_text().splitlines()[1] == "p-1,frame,cover,early,late,B00412,B412 & up,list-1948,misprint"


@pytest.mark.parametrize(("key", "because", "table", "words"), [
    ("seen-002", "x", None, 'No row has the id "seen-002"'),
    ("seen-001", "x", "breakpoints", "No row in breakpoints.csv"),
    ("seen-001", "  ", None, "without a reason"),
    ("1407", "x", None, "is in parts.csv, whose rows cannot be retracted"),
    ("list-1948", "x", None, "whose rows cannot be retracted. Only these can be: blocks, breakpoints"),
    ("b-46", "x", None, 'The series "frame" has no blocks'),  # the breakpoint needs it
])  # fmt: skip
def test_a_retraction_that_cannot_be_is_refused(folder: Path, key: str, because: str, table: str | None, words: str) -> None:
    before = contents(folder)
    with pytest.raises(DataError) as refused:
        edit.retract(folder, key, because, load=load, table=table)
    assert words in str(refused.value)
    assert contents(folder) == before


def test_a_row_is_retracted_once(folder: Path) -> None:
    edit.retract(folder, "seen-001", "swapped", load=load)
    with pytest.raises(DataError, match="retracted already: swapped"):
        edit.retract(folder, "seen-001", "again", load=load)


def test_an_id_of_two_files_is_asked_for(folder: Path) -> None:
    edit.add(folder, "breakpoints", CLAIM | {"breakpoint_id": "seen-001", "first_new": "B00412"}, load=load)
    with pytest.raises(DataError, match=r"in breakpoints\.csv and in sightings\.csv.*--table"):
        edit.retract(folder, "seen-001", "x", load=load)
    assert edit.retract(folder, "seen-001", "x", load=load, table="sightings").rows[0].table == "sightings"


def test_of_many_rows_those_that_are_wrong_are_left_out_with_their_kin(folder: Path) -> None:
    part = {"description": "Nut", "kind": "standard", "unit": "each", "available": "yes", "safety_critical": "no"}
    arrow = {"direction": "one-way", "source_id": "register"}
    changes = [
        NewRow("parts", part | {"part_number": "20"}, "list.csv", 2),
        NewRow("supersessions", arrow | {"old_part": "1407", "new_part": "20", "source_id": "nobody"}, "list.csv", 2),
        NewRow("parts", part | {"part_number": "21"}, "list.csv", 3),
        NewRow("supersessions", arrow | {"old_part": "21", "new_part": "20"}, "list.csv", 4),  # names what is left out
        NewRow("parts", part | {"part_number": "1407", "description": "Seal", "kind": "original", "available": "no"}, "list.csv", 5),
        NewCell("parts", "1407-A", "available", "no", "list.csv", 6),
        NewCell("parts", "1407", "available", "perhaps", "list.csv", 7),
    ]
    done = edit.apply(folder, changes, load=load, partly=True)
    assert [(row.table, row.key) for row in done.rows] == [("parts", "21"), ("parts", "1407-A")]
    assert done.unchanged == 1
    assert {number: [(each.file, each.row) for each in found] for number, found in done.rejected.items()} == {
        1: [("list.csv", 2)], 3: [("list.csv", 4)], 6: [("list.csv", 7)],
    }  # fmt: skip
    assert [row.part_number for row in load([folder]).dataset.parts] == ["1407", "1407-A", "21"]
    with pytest.raises(Refused):
        edit.apply(folder, changes, load=load)


def test_ids_go_on_where_the_file_ends() -> None:
    ids = NextIds("sightings", ["seen-001", "mine", "seen-009"])
    assert [ids.next({"seen-011"}) for _ in range(3)] == ["seen-010", "seen-012", "seen-013"]
    assert NextIds("fitments", ["fit-6100", "fit-6104"]).next(()) == "fit-6105"


def test_demo_data_takes_a_row_of_every_claim(demo: Path) -> None:
    loaded = load([demo])
    for table in ("sightings", "breakpoints", "fitments", "supersessions", "marks", "options"):
        before = (demo / f"{table}.csv").read_bytes()
        row = getattr(loaded.dataset, table)[0]
        values = {name: _cell(value) for name, value in row.model_dump(exclude_none=True).items()}
        values[type(row).key[0]] = "another-one-99"
        if table in ("options", "supersessions"):
            with pytest.raises(Refused):  # shares would add up to more than 1; a second arrow between the same numbers is one too many
                edit.add(demo, table, values | {"share": "1"} if table == "options" else values | {"new_part": "6100"}, load=load)
            continue
        edit.add(demo, table, values, load=load)
        after = (demo / f"{table}.csv").read_bytes()
        assert after.startswith(before) and after.count(b"\n") == before.count(b"\n") + 1


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ";".join(value) if isinstance(value, tuple) else str(value)


def test_one_at_a_time(folder: Path) -> None:
    inside = threading.Event()
    go_on = threading.Event()

    def hold() -> None:
        with locked(folder):
            inside.set()
            go_on.wait(10)

    other = threading.Thread(target=hold)
    other.start()
    try:
        assert inside.wait(10)
        with pytest.raises(FileError, match="Another program is changing"), locked(folder, patience=0.05):
            pass
    finally:
        go_on.set()
        other.join()
    with locked(folder, patience=0):
        pass


def test_a_lock_on_nothing_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="cannot be opened as a folder"), locked(tmp_path / "nowhere"):
        pass


def test_what_a_killed_writer_left_is_cleared_away_and_links_stay_links(folder: Path, tmp_path: Path) -> None:
    (folder / ".parts.csv.kb-new").write_text("half a fi")
    real = tmp_path / "real.csv"
    (folder / "makers.csv").rename(real)
    real.chmod(0o640)
    (folder / "makers.csv").symlink_to(real)
    with locked(folder):
        assert not (folder / ".parts.csv.kb-new").exists()
        replace_together(folder, {"makers.csv": b"maker_id,name\n"}, {"makers.csv": digest((folder / "makers.csv").read_bytes())})
    assert (folder / "makers.csv").is_symlink()
    assert real.read_bytes() == b"maker_id,name\n" and real.stat().st_mode & 0o777 == 0o640


def test_an_edit_by_hand_while_a_row_is_checked_is_not_replaced(folder: Path) -> None:
    path = folder / "sightings.csv"
    edited = path.read_bytes() + b"# by hand\n"

    def slow_load(folders: Sequence[Path]) -> Held:
        if folders != [folder]:  # the copy on which the change is tried
            path.write_bytes(edited)
        return load(folders)

    with pytest.raises(FileError, match=r"sightings\.csv in .* was changed by somebody else just now"):
        edit.add(folder, "sightings", SIGHTING, load=slow_load)
    assert path.read_bytes() == edited


def test_an_edit_by_hand_is_not_replaced_by_finishing_an_interrupted_change(folder: Path) -> None:
    """Killed between the list of files and the first renaming; then one of them was edited in a spreadsheet."""
    names = ("makers.csv", "sightings.csv")
    old = {name: (folder / name).read_bytes() for name in names}
    for name in names:
        (folder / f".{name}.kb-new").write_bytes(old[name] + b"\n")
    (folder / ".kb-unfinished").write_text(json.dumps({name: digest(old[name]) for name in names}))
    (folder / "sightings.csv").write_bytes(old["sightings.csv"] + b"\n\n")
    with pytest.raises(FileError, match=r"somebody has edited sightings\.csv: that stays as it is.*kept as sightings\.csv\.kb-not-taken"):
        finish(folder)
    assert (folder / "makers.csv").read_bytes() == old["makers.csv"] + b"\n"
    assert (folder / "sightings.csv").read_bytes() == old["sightings.csv"] + b"\n\n"
    assert (folder / "sightings.csv.kb-not-taken").read_bytes() == old["sightings.csv"] + b"\n"
    finish(folder)
    assert not load([folder]).wrong
