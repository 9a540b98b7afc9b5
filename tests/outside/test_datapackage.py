"""The dataset folder is a Data Package that others can read, and they find the same faults in the same rows.

Source: Data Package and Table Schema, version 2, https://datapackage.org/standard/.
Oracle: frictionless 5 (MIT), `validate` on the descriptor that our records generate. It counts the header as row 1, as we do.
"""

import csv
import shutil
from collections.abc import Callable
from pathlib import Path

import frictionless
import pytest

from kb.dataset.datapackage import datapackage, dump
from loaders.folder import load

Rows = list[list[str]]
Damage = Callable[[Rows], None]
Place = tuple[str, int, str]  # file, row, column; column "" where the whole row is meant


@pytest.fixture
def folder(demo_folder: Path, tmp_path: Path) -> Path:
    """The demo with its descriptor, to be damaged."""
    target = tmp_path / "dataset"
    shutil.copytree(demo_folder, target)
    (target / "datapackage.json").write_text(dump(datapackage(path.stem for path in target.glob("*.csv"))), encoding="utf-8")
    return target


def change(folder: Path, table: str, damage: Damage) -> None:
    path = folder / f"{table}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    before = [list(row) for row in rows]
    damage(rows)
    assert rows != before
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


def theirs(folder: Path) -> set[tuple[str, Place]]:
    """Kind and place of every error that frictionless reports."""
    report = frictionless.validate(str(folder / "datapackage.json"))
    found = set()
    for task in report.tasks:
        for error in task.errors:
            names = getattr(error, "field_names", None) or [getattr(error, "field_name", "")]
            found.add((error.type, (f"{task.name}.csv", getattr(error, "row_number", 0), names[0] if len(names) == 1 else "")))
    return found


def ours(folder: Path) -> set[Place]:
    return {(finding.file, finding.row, finding.column) for finding in load([folder]).findings if finding.severity == "error"}


def cell(row: int, column: str, value: str) -> Damage:
    """Another value in a cell; rows as a spreadsheet counts them."""

    def damage(rows: Rows) -> None:
        rows[row - 1][rows[0].index(column)] = value

    return damage


def again(row: int) -> Damage:
    """The row once more, at the end."""
    return lambda rows: rows.append(list(rows[row - 1]))


def test_the_demo_is_valid_for_both(folder: Path) -> None:
    assert theirs(folder) == set()
    assert ours(folder) == set()


@pytest.mark.parametrize(("table", "damage", "kind", "row", "column"), [
    ("blocks", cell(3, "last", "410a"), "type-error", 3, "last"),
    ("blocks", cell(3, "position", "2.0"), "type-error", 3, "position"),
    ("blocks", cell(3, "width", "19"), "constraint-error", 3, "width"),
    ("blocks", cell(3, "dates_are", "guessed"), "constraint-error", 3, "dates_are"),
    ("sources", cell(2, "grade", "E"), "constraint-error", 2, "grade"),
    ("sources", cell(2, "title", ""), "constraint-error", 2, "title"),
    ("components", cell(4, "safety_critical", "perhaps"), "type-error", 4, "safety_critical"),
    ("components", cell(4, "replaced_rate", "1.5"), "constraint-error", 4, "replaced_rate"),
    ("components", cell(4, "replaced_rate", "often"), "type-error", 4, "replaced_rate"),
    ("variants", cell(3, "how_to_tell", ""), "constraint-error", 3, "how_to_tell"),
    ("fitments", cell(5, "source_id", "nowhere"), "foreign-key", 5, "source_id"),
    ("fitments", cell(6, "part_number", "0000-NO"), "foreign-key", 6, "part_number"),
    ("fitments", cell(7, "fitment_id", "Fit No. 7"), "constraint-error", 7, "fitment_id"),
    ("sightings", cell(9, "variant_id", "nothing-like-it"), "foreign-key", 9, "variant_id"),
    ("supersessions", cell(3, "source_id", "hearsay-9"), "foreign-key", 3, "source_id"),
    ("variants", cell(3, "same_function_as", "nobody"), "foreign-key", 3, "same_function_as"),
])
def test_a_damaged_cell_is_found_by_both_at_the_same_place(
    folder: Path, table: str, damage: Damage, kind: str, row: int, column: str
) -> None:
    change(folder, table, damage)
    place = (f"{table}.csv", row, column)
    assert theirs(folder) == {(kind, place)}
    assert ours(folder) == {place}


@pytest.mark.parametrize(("table", "row"), [("makers", 2), ("marks", 5), ("feature_values", 2)])
def test_a_key_given_twice_is_found_by_both_in_the_later_row(folder: Path, table: str, row: int) -> None:
    change(folder, table, again(row))
    with (folder / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        last = len(list(csv.reader(file)))
    assert {(kind, place[:2]) for kind, place in theirs(folder)} == {("primary-key", (f"{table}.csv", last))}
    assert {place[:2] for place in ours(folder)} == {(f"{table}.csv", last)}


def test_several_faults_are_all_found_by_both(folder: Path) -> None:
    change(folder, "sources", cell(3, "kind", "rumour"))
    change(folder, "options", cell(2, "share", "all"))
    change(folder, "contents", cell(2, "kit_number", "0000-NO"))
    places = {("sources.csv", 3, "kind"), ("options.csv", 2, "share"), ("contents.csv", 2, "kit_number")}
    assert {place for _, place in theirs(folder)} == places
    assert ours(folder) == places


def cut(rows: Rows) -> None:
    rows[3].pop()


def lengthen(rows: Rows) -> None:
    rows[3].append("left over")


@pytest.mark.parametrize(("damage", "kind"), [(cut, "missing-cell"), (lengthen, "extra-cell")])
def test_a_row_of_another_length_is_found_by_both(folder: Path, damage: Damage, kind: str) -> None:
    change(folder, "models", damage)
    assert {(found, place[:2]) for found, place in theirs(folder)} == {(kind, ("models.csv", 4))}
    assert {place[:2] for place in ours(folder)} == {("models.csv", 4)}


@pytest.mark.parametrize(("table", "damage", "place"), [
    ("blocks", cell(2, "built_from", "1948-02-30"), ("blocks.csv", 2, "built_from")),  # no type of theirs is EDTF
    ("marks", cell(2, "variant_ids", "nobody;nothing"), ("marks.csv", 2, "variant_ids")),  # a list is a text to them
    ("breakpoints", cell(2, "first_new", "1.23E+05"), ("breakpoints.csv", 2, "first_new")),  # a spreadsheet's number is a text too
])
def test_what_a_table_schema_cannot_say_is_found_by_us_alone(folder: Path, table: str, damage: Damage, place: Place) -> None:
    change(folder, table, damage)
    assert theirs(folder) == set()
    assert ours(folder) == {place}


def test_a_misspelt_column_is_found_by_us_alone_where_it_may_be_absent(folder: Path) -> None:
    """`fieldsMatch: partial` lets optional columns be absent, and with that a misspelt one pass unread."""

    def misspell(rows: Rows) -> None:
        rows[0][rows[0].index("note")] = "notte"

    change(folder, "makers", misspell)
    assert theirs(folder) == set()
    assert ours(folder) == {("makers.csv", 1, "notte")}
