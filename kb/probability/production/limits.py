"""Limits: the stretch of each line that a series and two serials of an option, fitment, supersession or step leave.

Serials without a series are looked up in every series. An empty end is open; both ends belong to it.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from kb.probability.production.layout import Lines, Place, find
from kb.words.errors import DataError


@dataclass(frozen=True)
class Stretch:
    """Orders low..high of a line, both ends included; empty if high < low."""

    low: int
    high: int


def stretches(lines: Lines, series_id: str | None, serial_from: str | None, serial_to: str | None) -> Mapping[str, Stretch]:
    """By line_id, the orders within the limits; a line of which nothing is left is absent.

    A serial limit of one line leaves nothing of the other lines, which have an order of their own.

    Raises:
        DataError: a serial stands nowhere, the two stand in different lines, or they are reversed.
    """
    series = [series_id] if series_id else list(lines.by_series)
    asked = [line for each in series for line in lines.by_series.get(each, ())]
    if serial_from is None and serial_to is None:
        return {line.line_id: Stretch(0, line.count - 1) for line in asked}
    ends = [None if serial is None else _found(lines, series, serial) for serial in (serial_from, serial_to)]
    left = {}
    for line in asked:
        places = [None if end is None else end.get(line.line_id) for end in ends]
        if any(end is not None and place is None for end, place in zip(ends, places, strict=True)):
            continue
        low, high = places[0].order if places[0] else 0, places[1].order if places[1] else line.count - 1
        if high < low:
            raise DataError(f"The serials run from {serial_from} back to {serial_to}.", "Exchange serial_from and serial_to.")
        left[line.line_id] = Stretch(low, high)
    if not left:
        raise DataError(f"{serial_from} and {serial_to} stand in different lines.", "Take each line by itself: a row, or a question, for each.")
    return left


def _found(lines: Lines, series: list[str], serial: str) -> dict[str, Place]:
    """By line_id, where a serial stands; in each series at most once."""
    found, reasons = {}, []
    for series_id in series:
        try:
            place = find(lines, series_id, serial)
        except DataError as error:
            reasons.append(error)
        else:
            found[place.line.line_id] = place
    if not found:
        raise reasons[0] if reasons else DataError(f'"{serial}": there is no series of serials.', "Add the series and its blocks.")
    return found
