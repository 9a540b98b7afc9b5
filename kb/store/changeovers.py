"""What the file says of change-overs: the estimates, the claims and sightings behind them, disputes; and those rows as a dataset again."""

from collections.abc import Iterable
from typing import Any, NamedTuple, TypeVar

from kb.store.book import Book
from kb.store.rows import (
    BreakpointRow,
    ChangeoverClaimRow,
    ChangeoverOddSightingRow,
    ChangeoverRow,
    ComponentRow,
    ConfirmedReadingRow,
    DisputeRow,
    MarkRow,
    SightingRow,
    SourceRow,
    VariantRow,
)
from kb.words.dataset import Dataset

Of = TypeVar("Of", ChangeoverClaimRow, ChangeoverOddSightingRow)


def changeovers(book: Book) -> list[ChangeoverRow]:
    """All estimates, in the order of the build."""
    return book.select(ChangeoverRow, "select * from changeovers order by rowid")


def changeover(book: Book, changeover_id: str) -> ChangeoverRow | None:
    """One of them."""
    return book.first(ChangeoverRow, "select * from changeovers where changeover_id = ?", changeover_id)


def changeovers_in_series(book: Book, series_id: str) -> list[ChangeoverRow]:
    """Those in a series, by component and serial."""
    return book.select(ChangeoverRow, "select * from changeovers where series_id = ? order by component_id, first_new_order", series_id)


def changeovers_in_line(book: Book, line_id: str) -> list[ChangeoverRow]:
    """Those in a line, by component and serial."""
    return book.select(ChangeoverRow, "select * from changeovers where line_id = ? order by component_id, first_new_order", line_id)


def judged_claims(book: Book) -> dict[str, list[ChangeoverClaimRow]]:
    """The standing of every claim, by change-over."""
    return _by_changeover(book, ChangeoverClaimRow, "changeover_claims")


def odd_sightings(book: Book) -> dict[str, list[ChangeoverOddSightingRow]]:
    """The sightings of castings that were probably replaced, by change-over."""
    return _by_changeover(book, ChangeoverOddSightingRow, "changeover_odd_sightings")


def breakpoints(book: Book, series_id: str, component_id: str) -> dict[str, BreakpointRow]:
    """What sources claim of a component in a series, by breakpoint_id."""
    sql = "select * from breakpoints where series_id = ? and component_id = ? order by rowid"
    return {row.breakpoint_id: row for row in book.select(BreakpointRow, sql, series_id, component_id)}


def sightings(book: Book, series_id: str, component_id: str) -> dict[str, SightingRow]:
    """What was seen of a component in a series, by sighting_id."""
    sql = "select * from sightings where series_id = ? and component_id = ? order by rowid"
    return {row.sighting_id: row for row in book.select(SightingRow, sql, series_id, component_id)}


def disputes(book: Book) -> list[DisputeRow]:
    """What contradicts each other."""
    return book.select(DisputeRow, "select * from disputes order by rowid")


def confirmed_readings(book: Book) -> list[ConfirmedReadingRow]:
    """What somebody read and what it proved to be."""
    return book.select(ConfirmedReadingRow, "select * from readings order by rowid")


def dataset_of(book: Book, series_id: str, component_id: str) -> Dataset:
    """The rows about a component in a series as a dataset, as far as its change-overs depend on them, with all marks and variants for what
    was read on it."""
    from kb.words.records import TABLES

    def records(table: str, rows: Iterable[NamedTuple]) -> tuple[Any, ...]:
        """Stored rows were checked when they were built, so they are taken at their word."""
        kind = TABLES[table]
        return tuple(kind.model_construct(**{name: getattr(row, name) for name in kind.model_fields}) for row in rows)

    claims = book.select(BreakpointRow, "select * from breakpoints where component_id = ? order by rowid", component_id)
    tables: dict[str, Iterable[SourceRow | ComponentRow | VariantRow | BreakpointRow | SightingRow | MarkRow]] = {
        "sources": book.sources.values(),
        "components": [book.components[component_id]],
        "variants": book.variants.values(),
        "breakpoints": claims,
        "sightings": sightings(book, series_id, component_id).values(),
        "marks": book.select(MarkRow, "select * from marks order by rowid"),
    }
    return Dataset.of({table: records(table, rows) for table, rows in tables.items()})


def _by_changeover(book: Book, kind: type[Of], table: str) -> dict[str, list[Of]]:
    found: dict[str, list[Of]] = {}
    for row in book.select(kind, f"select * from {table} order by rowid"):
        found.setdefault(row.changeover_id, []).append(row)
    return found
