"""Limits: the stretch of each line that remains within the series and serials of an option, fitment, supersession or step.

A serial without a series is looked up in all of them. An empty end is open; both ends belong to it ("4500 and lower" and "4501 and
higher" meet without a gap; common practice of the trade). A serial belongs to one line, so a limit with a serial leaves nothing of the
other lines, which have their own order.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kb.probability.production.layout import Lines, SerialPlace, find
from kb.words.applicability import Limit
from kb.words.errors import DataError

EVERY_SERIAL = Limit(None)


@dataclass(frozen=True)
class OrderRange:
    """Orders low..high of a line, both ends included; empty if high < low."""

    low: int
    high: int


NOTHING = OrderRange(0, -1)


def stretches(lines: Lines, limit: Limit) -> Mapping[str, OrderRange]:
    """By line_id, the orders within a stated limit; a line with nothing left is absent.

    Raises:
        DataError: a serial is in no line, the two are in different lines, or they are reversed.
    """
    series, ends = _looked_up(lines, limit)
    for end in ends:
        if end is not None and not end.places:
            raise end.reasons[0] if end.reasons else DataError(f'"{end.serial}": there is no series of serials.', "Add the series and its blocks.")
    left = _between(lines, series, ends)
    if any(orders.high < orders.low for orders in left.values()) and any(ends):
        raise DataError(f"The serials run from {limit.serial_from} back to {limit.serial_to}.", "Swap serial_from and serial_to.")
    if not left and any(ends):
        problem = f"{limit.serial_from} and {limit.serial_to} stand in different lines."
        raise DataError(problem, "Take each line by itself: a row, or a question, for each.")
    return left


def orders_within(lines: Lines, limit: Limit) -> Mapping[str, OrderRange]:
    """The same for a limit that may be about units other than those of the lines; nothing is left of lines that it is not about."""
    return _between(lines, *_looked_up(lines, limit))


@dataclass(frozen=True)
class _End:
    """A serial looked up in several series. places: by line_id, in each series at most one. reasons: why it does not belong to the other series."""

    serial: str
    places: dict[str, SerialPlace]
    reasons: list[DataError]


def _looked_up(lines: Lines, limit: Limit) -> tuple[list[str], tuple[_End | None, _End | None]]:
    """The series that a limit is looked up in, and its ends; None is open."""
    series = [limit.series_id] if limit.series_id else list(lines.by_series)
    return series, (_find(lines, series, limit.serial_from), _find(lines, series, limit.serial_to))


def _find(lines: Lines, series: Sequence[str], serial: str | None) -> _End | None:
    if serial is None:
        return None
    end = _End(serial, {}, [])
    for series_id in series:
        try:
            place = find(lines, series_id, serial)
        except DataError as error:
            end.reasons.append(error)
        else:
            end.places[place.line.line_id] = place
    return end


def _between(lines: Lines, series: Sequence[str], ends: tuple[_End | None, _End | None]) -> dict[str, OrderRange]:
    left = {}
    for line in (line for each in series for line in lines.by_series.get(each, ())):
        if all(end is None or line.line_id in end.places for end in ends):
            first, last = (None if end is None else end.places[line.line_id].order for end in ends)
            left[line.line_id] = OrderRange(0 if first is None else first, line.count - 1 if last is None else last)
    return left
