"""The shop's own records: offers of suppliers and what came of sales. A file built with --public has neither."""

from typing import NamedTuple

from kb.store.book import Book
from kb.store.rows import OfferRow, OutcomeRow


class PrintedPlaceRow(NamedTuple):
    """Where a parts list shows a part."""

    source_id: str
    page: str | None
    figure: str | None
    item: str | None
    component_id: str
    role: str


def offers(book: Book, part_number: str) -> list[OfferRow]:
    """What suppliers offer of a number, in file order."""
    return book.select(OfferRow, "select * from offers where part_number = ? order by rowid", part_number) if book.has("offers") else []


def offers_under_own_numbers(book: Book) -> list[OfferRow]:
    """The offers whose supplier uses a number of his own."""
    return book.select(OfferRow, "select * from offers where their_number is not null order by rowid") if book.has("offers") else []


def outcomes(book: Book, part_number: str) -> list[OutcomeRow]:
    """What came of sales of a number, in file order."""
    return book.select(OutcomeRow, "select * from outcomes where part_number = ? order by rowid", part_number) if book.has("outcomes") else []


def printed_places(book: Book, part_number: str) -> list[PrintedPlaceRow]:
    """Figure and item of a part in the parts lists."""
    return book.select(
        PrintedPlaceRow,
        "select distinct source_id, page, figure, item, component_id, role from fitments"
        " where part_number = ? and (figure is not null or item is not null) and retracted is null order by rowid",
        part_number,
    )
