"""What is claimed and seen about a change-over, laid out along the production order, for pictures and the tables behind them."""

from collections.abc import Iterator
from dataclasses import dataclass

from kb.probability.production.blocks import Line
from kb.probability.production.layout import find
from kb.store import changeovers as stored
from kb.store.book import Book
from kb.store.rows import BreakpointRow, SightingRow
from kb.words.answers.review import ChangeOver, SightingEntry
from kb.words.errors import DataError


@dataclass(frozen=True)
class DrawnSighting:
    """A sighting that counts: where it lies, what the answer says of it, whether it is probably a replacement, and its row."""

    order: int
    counted: SightingEntry
    odd: bool
    row: SightingRow

    @property
    def side(self) -> str:
        """The casting it speaks for: old, new or neither."""
        return self.counted.speaks_for


@dataclass(frozen=True)
class DrawnClaim:
    """What a source says: a serial, or a range of serials."""

    letter: str
    first: int
    last: int
    row: BreakpointRow
    standing: str
    probability: float


@dataclass(frozen=True)
class DrawnChangeOver:
    """A change-over with everything about it. low, high, first_new: production orders; `count` units in the line."""

    found: ChangeOver
    line: Line
    low: int
    high: int
    first_new: int
    dots: tuple[DrawnSighting, ...]
    claims: tuple[DrawnClaim, ...]

    @property
    def count(self) -> int:
        """How many units the line has."""
        return int(self.line.count)

    def serial(self, order: int) -> str:
        """The serial at an order; behind the last one the last one."""
        return str(self.line.serial(min(max(order, 0), self.count - 1)))


def changes_of(book: Book, found: ChangeOver) -> Iterator[DrawnChangeOver]:
    """The change-over laid out; nothing if its line has no serials. found: in full, as `review` gives it for one component of one series."""
    line = next((line for line in book.lines if line.series_id == found.series and line.line == found.line), None)
    if line is None or not line.count:
        return
    places = Places(book, found.series, line)
    first_new, low, high = (places.order(serial, line.count) for serial in (found.first_new, found.low, found.high))
    yield DrawnChangeOver(found, line, low, high, first_new, tuple(_dots(book, found, places)), tuple(_claims(book, found, places)))


class Places:
    """Where serials of one line stand in its production order."""

    def __init__(self, book: Book, series: str, line: Line) -> None:
        self.book, self.series, self.line = book, series, line

    def find(self, serial: str | None) -> int | None:
        """The order of a whole serial of this line, else None."""
        if not serial:
            return None
        try:
            place = find(self.book.lines, self.series, serial)
        except DataError:
            return None
        return int(place.order) if place.line.line_id == self.line.line_id else None

    def order(self, serial: str, otherwise: int) -> int:
        """The order, or what an empty serial stands for."""
        found = self.find(serial)
        return otherwise if found is None else found


def _dots(book: Book, found: ChangeOver, places: Places) -> Iterator[DrawnSighting]:
    """The sightings that the answer counts, each for the casting that the answer says it speaks for."""
    odd = {each.sighting_id for each in found.odd_sightings}
    recorded = stored.sightings(book, found.series, found.component)
    for each in found.weighed or ():
        order = places.find(each.serial)
        assert order is not None, f"{each.serial} is counted, so it lies in its line"
        yield DrawnSighting(order, each, each.sighting_id in odd, recorded[each.sighting_id])


def _claims(book: Book, found: ChangeOver, places: Places) -> Iterator[DrawnClaim]:
    rows = stored.breakpoints(book, found.series, found.component)
    for position, entry in enumerate(found.claims):
        row = rows[entry.breakpoint_id]
        ends = [end for end in (places.find(row.first_new), places.find(row.first_new_to), places.find(row.last_old)) if end is not None]
        if ends:
            letter = chr(ord("A") + position) if position < 26 else str(position + 1)
            yield DrawnClaim(letter, min(ends), max(ends), row, entry.standing, entry.probability)
