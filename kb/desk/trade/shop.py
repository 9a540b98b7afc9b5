"""The shop's own records beside a part: kits both ways, offers with their age, what came of sales, where it stands in the parts lists.

Offers and outcomes are private; a knowledge base built with --public does not have them, and nothing is said then.
"""

from collections.abc import Iterable
from datetime import date
from functools import cache

from kb.desk.fitment.rulebook import PartBook
from kb.desk.sentences.trade import age, tally
from kb.store.book import Book, Row
from kb.words import edtf
from kb.words.answers.trade import KitLine, OfferEntry, PlaceInBook
from kb.words.notation import simplify


def contents(book: Book, part_number: str) -> list[KitLine]:
    """What a kit holds."""
    rows = book.rows(
        "select c.*, p.description from contents c join parts p using (part_number) where c.kit_number = ? order by c.rowid", part_number
    )
    return [_kit_line(row) for row in rows]


def in_kits(book: Book, part_number: str) -> list[KitLine]:
    """The kits that hold a part."""
    rows = book.rows(
        "select c.*, p.description from contents c join parts p on p.part_number = c.kit_number where c.part_number = ? order by c.rowid",
        part_number,
    )
    return [_kit_line(row) for row in rows]


def offers(book: Book, part_numbers: Iterable[str], today: date | None = None) -> list[OfferEntry]:
    """What suppliers offer of some numbers, the latest first. today: the day from which the age counts; without it no age is said."""
    if not _has(book, "offers"):
        return []
    rows = [row for number in dict.fromkeys(part_numbers) for row in book.rows("select * from offers where part_number = ? order by rowid", number)]
    rows.sort(key=lambda row: edtf.parse(row.as_of).last, reverse=True)
    return [
        OfferEntry(
            part_number=row.part_number,
            supplier=row.supplier,
            their_number=row.their_number or "",
            condition=row.condition,
            price=row.price,
            currency=row.currency or "",
            as_of=row.as_of,
            age=age(row.as_of, today) if today else "",
        )
        for row in rows
    ]


def under_their_number(book: Book, parts: PartBook, typed: str) -> list[tuple[Row, str]]:
    """The parts that a supplier offers under a number of his own, each with the supplier."""
    if not _has(book, "offers"):
        return []
    asked, found = simplify(typed), dict[tuple[str, str], tuple[Row, str]]()
    for row in book.rows("select part_number, supplier, their_number from offers where their_number is not null order by rowid"):
        part = parts.part(row.part_number)
        if simplify(row.their_number) == asked and part is not None:
            found.setdefault((row.part_number, row.supplier), (part, row.supplier))
    return list(found.values())


def outcomes(book: Book, part_numbers: Iterable[str]) -> str:
    """What came of sales of some numbers, in words: "fitted 14, returned 1: wrong shaft"; "" if nothing is recorded."""
    if not _has(book, "outcomes"):
        return ""
    numbers = list(dict.fromkeys(part_numbers))
    rows = [row for number in numbers for row in book.rows("select result, reason from outcomes where part_number = ? order by rowid", number)]
    return tally([(row.result, row.reason or "") for row in rows])


def in_books(book: Book, part_number: str) -> list[PlaceInBook]:
    """Where the parts lists show a part: figure and item."""
    rows = book.rows(
        "select distinct source_id, page, figure, item, component_id, role from fitments"
        " where part_number = ? and (figure is not null or item is not null) and retracted is null order by rowid",
        part_number,
    )
    return [
        PlaceInBook(
            source=row.source_id, page=row.page or "", figure=row.figure or "", item=row.item or "", component=row.component_id, role=row.role
        )
        for row in rows
    ]


def dimensions(book: Book, part_number: str) -> list[str]:
    """The measures of a part, in file order."""
    rows = book.rows("select dimension, value, unit from dimensions where part_number = ? order by rowid", part_number)
    return [f"{row.dimension} {row.value:g} {row.unit}" for row in rows]


@cache
def _has(book: Book, table: str) -> bool:
    return book.one("select 1 as yes from sqlite_master where type = 'table' and name = ?", table) is not None


def _kit_line(row: Row) -> KitLine:
    return KitLine(kit_number=row.kit_number, part_number=row.part_number, description=row.description, quantity=row.quantity)
