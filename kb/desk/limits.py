"""Limits of a series and of serials, as fitments, options and steps state them: which cells lie within."""

import numpy as np
from numpy.typing import NDArray

from kb.catalogue.fitments import Limit
from kb.desk.frame import Stretches
from kb.production.places import Lines, Place, find
from kb.words.errors import DataError

Bools = NDArray[np.bool_]


def within(lines: Lines, cells: Stretches, limit: Limit) -> Bools:
    """(cells,) the cells that lie within a limit.

    Both ends belong to it ("4500 and lower" and "4501 and higher" meet without a gap; common practice of the trade). A serial is of one
    line, so a limit with a serial holds in that line only. Without a series the serial may be of any series these cells are of.
    """
    series = [limit.series_id] if limit.series_id else list(dict.fromkeys(line.series_id for line in cells.lines))
    true = np.zeros(len(cells.units), dtype=bool)
    for series_id in series:
        ends = [(_place(lines, series_id, text) if text else None) for text in (limit.serial_from, limit.serial_to)]
        if any(place is None and text for place, text in zip(ends, (limit.serial_from, limit.serial_to), strict=True)):
            continue  # no serial of this series
        first, last = ends
        line_ids = {place.line.line_id for place in ends if place is not None}
        mine = [i for i, line in enumerate(cells.lines) if line.series_id == series_id and (not line_ids or {line.line_id} == line_ids)]
        inside = np.isin(cells.line, mine)
        if first is not None:
            inside &= cells.orders >= first.order
        if last is not None:
            inside &= cells.orders <= last.order
        true |= inside
    return true


def _place(lines: Lines, series_id: str, text: str) -> Place | None:
    try:
        return find(lines, series_id, text)
    except DataError:
        return None
