"""Our findings beside those of another reader of the same Data Package.

Oracle: frictionless 5 (MIT), https://framework.frictionlessdata.io/; it counts rows as we do, the header is row 1. What it cannot
know is left out: EDTF, lists, whether a variant is of the component.
"""

import csv
import shutil
from pathlib import Path

import frictionless
import pytest

from kb.dataset.datapackage import datapackage, dump
from kb.words.records import TABLES
from loaders.folder import load

MISTAKES = [
    # file, column, value, what the oracle calls it
    ("blocks.csv", "first", "12x", "type-error"),
    ("blocks.csv", "width", "19", "constraint-error"),
    ("sources.csv", "grade", "E", "constraint-error"),
    ("sources.csv", "source_id", "Not a slug", "constraint-error"),
    ("sources.csv", "title", "", "constraint-error"),
    ("components.csv", "safety_critical", "maybe", "type-error"),
    ("models.csv", "maker_id", "nobody", "foreign-key"),
    ("variants.csv", "same_function_as", "nothing", "foreign-key"),
    ("parts.csv", "part_number", "FIRST", "primary-key"),  # that of the first row again
    ("options.csv", "share", "1.5", "constraint-error"),
    ("fitments.csv", "quantity", "0", "constraint-error"),
]

Places = set[tuple[str, int, str]]


def copy(demo: Path, target: Path) -> Path:
    """The demo dataset with its datapackage.json."""
    shutil.copytree(demo, target)
    present = {table for table in TABLES if (target / f"{table}.csv").is_file()}
    (target / "datapackage.json").write_text(dump(datapackage(present)), "utf-8")
    return target


def by_the_oracle(folder: Path) -> Places:
    """(file, row, kind) of everything it finds."""
    report = frictionless.Package(folder / "datapackage.json").validate()
    return {(Path(task.place).name, getattr(error, "row_number", 0), error.type) for task in report.tasks for error in task.errors}


@pytest.fixture(scope="module")
def spoilt(root: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[int]]:
    """The demo dataset with every mistake in a row of its own, counted from the end of its file, and these rows."""
    folder = copy(root / "demo_data" / "mills-and-pumps", tmp_path_factory.mktemp("spoilt") / "data")
    taken: dict[str, int] = {}
    places = []
    for file, column, value, _ in MISTAKES:
        path = folder / file
        with path.open(newline="", encoding="utf-8") as lines:
            rows = list(csv.reader(lines))
        taken[file] = taken.get(file, 0) + 1
        at = rows[0].index(column)
        rows[-taken[file]][at] = rows[1][at] if value == "FIRST" else value
        with path.open("w", newline="", encoding="utf-8") as lines:
            csv.writer(lines).writerows(rows)
        places.append(len(rows) + 1 - taken[file])
    return folder, places


@pytest.fixture(scope="module")
def theirs(spoilt: tuple[Path, list[int]]) -> Places:
    return by_the_oracle(spoilt[0])


@pytest.fixture(scope="module")
def ours(spoilt: tuple[Path, list[int]]) -> Places:
    return {(each.file, each.row, each.column) for each in load([spoilt[0]]).findings if each.severity == "error"}


def test_the_demo_dataset_is_right_for_both(root: Path, tmp_path: Path) -> None:
    folder = copy(root / "demo_data" / "mills-and-pumps", tmp_path / "data")
    assert by_the_oracle(folder) == set()
    assert not load([folder]).wrong


@pytest.mark.parametrize("mistake", range(len(MISTAKES)))
def test_both_find_the_same_row(mistake: int, spoilt: tuple[Path, list[int]], theirs: Places, ours: Places) -> None:
    file, column, _, kind = MISTAKES[mistake]
    row = spoilt[1][mistake]
    assert (file, row, kind) in theirs
    assert (file, row, column) in ours
