"""The shop's own records beside a part: kits both ways, offers with their age, what came of sales, where it stands in the parts lists.

Offers and outcomes are private; a knowledge base built with --public does not have them, and nothing is said then.
"""

from collections.abc import Iterable
from datetime import date

from kb.desk.fitment.rulebook import Rulebook
from kb.desk.sentences.trade import age
from kb.store import parts as parts_of
from kb.store import shop as stored
from kb.store.book import Book
from kb.store.rows import PartRow
from kb.words import edtf
from kb.words.answers.trade import KitLine, OfferEntry, PlaceInBook
from kb.words.notation import simplify


def contents(book: Book, part_number: str) -> list[KitLine]:
    """What a kit holds."""
    return [KitLine(**row._asdict()) for row in parts_of.contents(book, part_number)]


def in_kits(book: Book, part_number: str) -> list[KitLine]:
    """The kits that hold a part."""
    return [KitLine(**row._asdict()) for row in parts_of.kits_with(book, part_number)]


def offers(book: Book, part_numbers: Iterable[str], today: date | None = None) -> list[OfferEntry]:
    """What suppliers offer of some numbers, the latest first. today: the day from which the age counts; without it no age is said."""
    rows = [row for number in dict.fromkeys(part_numbers) for row in stored.offers(book, number)]
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


def under_their_number(book: Book, parts: Rulebook, typed: str) -> list[tuple[PartRow, str]]:
    """The parts that a supplier offers under a number of his own, each with the supplier."""
    asked, found = simplify(typed), dict[tuple[str, str], tuple[PartRow, str]]()
    for row in stored.offers_under_own_numbers(book):
        part = parts.part(row.part_number)
        if simplify(row.their_number or "") == asked and part is not None:
            found.setdefault((row.part_number, row.supplier), (part, row.supplier))
    return list(found.values())


def in_books(book: Book, part_number: str) -> list[PlaceInBook]:
    """Where the parts lists show a part: figure and item."""
    rows = stored.printed_places(book, part_number)
    return [
        PlaceInBook(
            source=row.source_id, page=row.page or "", figure=row.figure or "", item=row.item or "", component=row.component_id, role=row.role
        )
        for row in rows
    ]


def dimensions(book: Book, part_number: str) -> list[str]:
    """The measures of a part, in file order."""
    return [f"{row.dimension} {row.value:g} {row.unit}" for row in parts_of.dimensions(book, part_number)]
