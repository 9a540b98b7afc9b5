"""Rows are typed: the file of row types is what the records and the schema say, and every row is made as its type promises."""

import ast
import sqlite3
from pathlib import Path
from typing import NamedTuple

import pytest

from docs import row_types
from kb.store.book import Book
from kb.store.build import build
from kb.store.rows import TABLE_OF, MakerRow, PartRow, SightingRow, SourceRow
from kb.words.dataset import Dataset
from kb.words.errors import FileError
from kb.words.records import Component, Maker, Part, Series, Sighting, Source, Variant


@pytest.fixture(scope="module")
def dataset() -> Dataset:
    return Dataset(
        sources=(
            Source(source_id="list", title="List", kind="parts list", grade="A"),
            Source(source_id="copy", title="Copy", kind="parts list", grade="C", copied_from=("list",)),
        ),
        makers=(Maker(maker_id="anvil", name="Anvil Works"),),
        series=(Series(series_id="frame", maker_id="anvil", name="Frames", stamped_on="the frame"),),
        components=(Component(component_id="head", maker_id="anvil", assembly="Engine", name="head", safety_critical=False),),
        variants=(Variant(variant_id="head-1", component_id="head", name="Head 1", how_to_tell="round"),),
        parts=(Part(part_number="17-a", description="Seal", kind="original", unit="each", available="no", safety_critical=True),),
        sightings=(
            Sighting(sighting_id="s1", series_id="frame", serial="12", component_id="head", variant_id="head-1", original="believed", observer="Ann"),
        ),
    )  # fmt: skip


@pytest.fixture(scope="module")
def private(dataset: Dataset, tmp_path_factory: pytest.TempPathFactory) -> Book:
    return Book(build(dataset, tmp_path_factory.mktemp("rows") / "kb.db").path)


@pytest.fixture(scope="module")
def public(dataset: Dataset, tmp_path_factory: pytest.TempPathFactory) -> Book:
    return Book(build(dataset, tmp_path_factory.mktemp("rows") / "public.db", public=True).path)


def test_the_row_types_are_what_the_records_and_the_schema_say() -> None:
    assert row_types.TARGET.read_text(encoding="utf-8") == row_types.source(), "write it anew with `make docs`"


def test_every_stored_column_of_a_table_is_in_its_row(private: Book) -> None:
    connection = sqlite3.connect(private.path)
    for kind, table in TABLE_OF.items():
        stored = {name for _, name, *_ in connection.execute(f'pragma table_info("{table}")')} - {"key"}
        assert stored == set(kind.__annotations__), table
    connection.close()


def test_yes_and_no_are_true_and_false_and_lists_are_tuples(private: Book) -> None:
    part = private.first(PartRow, "select * from parts")
    assert part is not None and part.safety_critical is True
    assert [row.copied_from for row in private.select(SourceRow, "select * from sources order by rowid")] == [(), ("list",)]
    assert private.components["head"].safety_critical is False
    assert private.components["head"].places == ("",)


def test_a_private_column_is_empty_in_a_public_file(private: Book, public: Book) -> None:
    assert [row.observer for row in private.select(SightingRow, "select * from sightings")] == ["Ann"]
    assert [(row.sighting_id, row.observer) for row in public.select(SightingRow, "select * from sightings")] == [("s1", None)]


def test_columns_are_found_by_name_whatever_their_order(private: Book) -> None:
    sql = "select 7 as x_shelf, note, name, left_means, maker_id from makers"
    assert private.select(MakerRow, sql) == [MakerRow(maker_id="anvil", name="Anvil Works", left_means=None, note=None)]


class Counted(NamedTuple):
    """One column."""

    number: int


def test_a_row_of_one_column(private: Book) -> None:
    assert private.select(Counted, "select 1 as other, count(*) as number from sources") == [Counted(2)]


def test_a_column_that_the_file_does_not_have_is_named(private: Book) -> None:
    with pytest.raises(FileError, match="it has no left_means, note. Build it again"):
        private.select(MakerRow, "select maker_id, name from makers")


def test_a_misspelt_column_is_an_error_for_the_type_checker() -> None:
    """What keeps it so: no row of the program is of a type that has every column."""
    root = Path(__file__).resolve().parents[2]
    for path in sorted((root / "kb").rglob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.Assign) and isinstance(node.value, ast.Name) and node.value.id == "Any":
                raise AssertionError(f"{path.relative_to(root)}:{node.lineno}: a name for Any hides every misspelling; take a type of kb.store.rows")
