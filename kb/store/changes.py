"""The rows of a knowledge base that are in force, to be held against those of another one."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Generic, NamedTuple, TypeVar

from kb.store.book import Book
from kb.store.rows import TABLE_OF, ChangeoverRow
from kb.words.records import TABLES

R = TypeVar("R", bound=NamedTuple)
Cells = Mapping[str, object]
_MADE = {"key", "normal", "data"}  # columns that the build made


@dataclass(frozen=True)
class StoredTable(Generic[R]):
    """The rows of one table by key, and their cells as they are stored: those of x_ columns too, those that the build made not."""

    rows: Mapping[str, R]
    cells: Mapping[str, Cells]


class InForce:
    """What one knowledge base says. A row that is retracted is left out."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.tables = [table for table in TABLE_OF.values() if book.has(table)]

    @cache  # noqa: B019 - lives for one comparison
    def table(self, kind: type[R]) -> StoredTable[R]:
        """The rows of one kind; none where the file does not have the table."""
        name = TABLE_OF[kind]
        if name not in self.tables:
            return StoredTable({}, {})
        sql = f'select * from "{name}" order by rowid'
        rows, cells = self.book.select(kind, sql), self.book.as_stored(sql)
        keyed = [("/".join(str(each[column]) for column in TABLES[name].key), row, each) for row, each in zip(rows, cells, strict=True)]
        kept = [each for each in keyed if not each[2].get("retracted")]
        return StoredTable(
            {key: row for key, row, _ in kept}, {key: {name: cell for name, cell in each.items() if name not in _MADE} for key, _, each in kept}
        )

    def changeovers(self) -> dict[str, ChangeoverRow]:
        """The estimated change-overs by their id."""
        return {row.changeover_id: row for row in self.book.select(ChangeoverRow, "select * from changeovers order by rowid")}
