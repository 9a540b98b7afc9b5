"""Limits of a series and of serials, as fitments, options and steps state them: which cells lie within, and which nothing tells apart."""

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from kb.probability.catalogue.fitments import Limit
from kb.probability.production.cell_table import CellTable
from kb.probability.production.layout import Lines, Place, find
from kb.words.errors import DataError

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
_BITS = 64  # of a number
_WITHIN: WeakKeyDictionary[CellTable, dict[Limit, Bools]] = WeakKeyDictionary()  # found once for as long as the cells live


def within(lines: Lines, cells: CellTable, limit: Limit) -> Bools:
    """(cells,) the cells that lie within a limit; kept with the cells.

    Both ends belong to it ("4500 and lower" and "4501 and higher" meet without a gap; common practice of the trade). A serial is of one
    line, so a limit with a serial holds in that line only. Without a series the serial may be of any series these cells are of.
    """
    kept = _WITHIN.setdefault(cells, {})
    if limit not in kept:
        kept[limit] = _within(lines, cells, limit)
    return kept[limit]


@dataclass(frozen=True, eq=False)
class Distinctions:
    """What rules tell cells apart by: limits of the unit's serial, and models."""

    limits: tuple[Limit, ...]
    models: tuple[str, ...]


def alike(lines: Lines, cells: CellTable, some: Ints, cuts: Distinctions) -> Ints:
    """(len(some),) a number for each of some cells, the same for those that nothing tells apart."""
    seen = [within(lines, cells, limit)[some] for limit in cuts.limits] + [of_model(cells, model)[some] for model in cuts.models]
    numbers = np.zeros(len(some), np.int64)
    for at in range(0, len(seen), _BITS):
        packed = np.zeros((len(some), 8), np.uint8)
        packed[:, : -(-len(seen[at : at + _BITS]) // 8)] = np.packbits(seen[at : at + _BITS], axis=0).T
        more = packed.view(np.int64).ravel()
        numbers = more if at == 0 else np.unique(np.stack([numbers, more]), axis=1, return_inverse=True)[1].ravel()
    return numbers


def of_model(cells: CellTable, model: str) -> Bools:
    """(cells,) the cells of a model."""
    return np.array([name == model for name in cells.models], dtype=bool)[cells.model]


def _within(lines: Lines, cells: CellTable, limit: Limit) -> Bools:
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
