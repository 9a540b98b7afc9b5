"""Which whole serials a worn reading may be, and between which serials they lie."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kb.probability.channel.digits import format_serial
from kb.probability.channel.range_weights import Weigher
from kb.probability.production.cell_table import CellTable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
PATIENCE = 40  # rounds of splitting; a reading that says next to nothing has no ten most probable serials
AT_ONCE = 64  # stretches split in one round
FAINT = 1e-9  # numeric: cells less probable than this beside the best hold none of the most probable serials
_POWERS = 10 ** np.arange(19, dtype=np.int64)


@dataclass(frozen=True)
class Whole:
    """One whole serial: a number of the block and model that a cell belongs to."""

    probability: float
    cell: int
    number: int


def most_probable(weigher: Weigher, cells: CellTable, mass: Floats, count: int) -> list[Whole]:
    """The `count` most probable whole serials; fewer, or none, if so many are alike that they are not found in good time.

    Best first: a stretch weighs no less than any serial in it, so a single serial that weighs most is the next best.

    Args:
        weigher: of the reading on the blocks of the cells. mass: (cells,) probability of each cell.
    """
    cell = np.flatnonzero(mass > mass.max(initial=0.0) * FAINT)
    first, last = cells.first[cell], cells.last[cell]
    weights = weigher.weights(cells.block[cell], first, last)
    factor = np.zeros(len(mass))  # makes the weight of a stretch within a cell its probability
    factor[cell[weights > 0]] = mass[cell[weights > 0]] / weights[weights > 0]
    worth = np.where(weights > 0, mass[cell], 0.0)
    for _ in range(PATIENCE):
        order = np.lexsort((first, cell, -worth))
        worth, cell, first, last = worth[order], cell[order], first[order], last[order]
        single = first == last
        if single[:count].all():
            break
        found = np.flatnonzero(single)
        least = worth[found[count - 1]] if len(found) >= count else 0.0
        keep = (worth > least) | single
        split = np.flatnonzero(keep & ~single)[:AT_ONCE]
        keep[split] = False
        whose, firsts, lasts = _tenths(first[split], last[split])
        at = cell[split][whose]
        values = weigher.weights(cells.block[at], firsts, lasts) * factor[at]
        some = values > 0
        worth = np.concatenate([worth[keep], values[some]])
        cell, first, last = (np.concatenate(pair) for pair in ((cell[keep], at[some]), (first[keep], firsts[some]), (last[keep], lasts[some])))
    order = np.lexsort((first, cell, -worth))[:count]
    ahead = order[np.logical_and.accumulate(first[order] == last[order])]  # of every stretch that is not yet split
    return [Whole(float(worth[i]), int(cell[i]), int(first[i])) for i in ahead]


def still_possible(weigher: Weigher | None, cells: CellTable, mass: Floats, entries: Sequence[Ints], tail: float) -> list[tuple[int, int]]:
    """For each block, the first and last number between which all but a small tail of its probability lies.

    Args:
        weigher: as in `most_probable`; None without a reading. mass: (cells,) probabilities. entries: for each block (of one model) its cells.
        tail: the share of a block's probability that may lie beyond either end.
    """
    searches = [_EndSearch.begin(cells, mass, entry, backwards, tail) for entry in entries for backwards in (False, True)]
    if weigher is None:
        for search in searches:
            search.evenly()
    while open_ones := [search for search in searches if search.first < search.last]:
        at, first, last = np.array([(search.cell, search.first, search.last) for search in open_ones], dtype=np.int64).T
        whose, firsts, lasts = _tenths(first, last)
        assert weigher is not None
        weights = weigher.weights(cells.block[at[whose]], firsts, lasts)
        starts = np.searchsorted(whose, np.arange(1, len(open_ones)))
        for search, *mine in zip(open_ones, *(np.split(each, starts) for each in (firsts, lasts, weights)), strict=True):
            search.narrow(*mine)
    ends = [search.last if search.backwards else search.first for search in searches]
    return [(min(pair), max(pair)) for pair in zip(ends[::2], ends[1::2], strict=True)]


def printed(cells: CellTable, block: int, number: int) -> str:
    """A serial as it is stamped."""
    return format_serial(cells.forms[block], number)


@dataclass
class _EndSearch:
    """The number at which the probability counted from one end of a block first exceeds the tail; between first and last of a cell."""

    cell: int
    first: int
    last: int
    share: float  # of the cell's probability that still lies before the number
    backwards: bool
    total: float | None = None

    @classmethod
    def begin(cls, cells: CellTable, mass: Floats, entry: Ints, backwards: bool, tail: float) -> "_EndSearch":
        order = entry[np.argsort(cells.first[entry], kind="stable")]
        order = order[::-1] if backwards else order
        reached = np.cumsum(mass[order])
        at = min(int(np.searchsorted(reached, tail * reached[-1], side="right")), len(order) - 1)
        cell = int(order[at])
        before = float(reached[at - 1]) if at else 0.0
        share = (tail * float(reached[-1]) - before) / float(mass[cell]) if mass[cell] > 0 else 0.0
        return cls(cell, int(cells.first[cell]), int(cells.last[cell]), share, backwards)

    def evenly(self) -> None:
        """Without a reading every number of the cell counts alike."""
        step = min(self.last - self.first, int(self.share * (self.last - self.first + 1)))
        self.first = self.last = self.last - step if self.backwards else self.first + step

    def narrow(self, firsts: Ints, lasts: Ints, weights: Floats) -> None:
        """Go on in the part that holds the number sought."""
        self.total = float(weights.sum()) if self.total is None else self.total
        if self.total <= 0:
            self.first = self.last = int(firsts[0])
            return
        parts = range(len(weights))[:: -1 if self.backwards else 1]
        for at in parts:
            share = float(weights[at]) / self.total
            if share > self.share:
                break
            self.share -= share if at != parts[-1] else 0.0
        self.first, self.last = int(firsts[at]), int(lasts[at])


def _tenths(first: Ints, last: Ints) -> tuple[Ints, Ints, Ints]:
    """Stretches cut where the leading digit of what varies changes, each into at most about ten parts: whose, first and last of each part."""
    size = _POWERS[np.maximum(0, np.searchsorted(_POWERS, last - first + 1) - 1)]
    low = first // size
    counts = last // size - low + 1
    whose = np.repeat(np.arange(len(first)), counts)
    begin = (low[whose] + np.arange(len(whose)) - (np.cumsum(counts) - counts)[whose]) * size[whose]
    return whose, np.maximum(begin, first[whose]), np.minimum(begin + size[whose] - 1, last[whose])
