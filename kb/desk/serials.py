"""Which whole serials a worn reading may be, and between which serials they lie."""

import heapq
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.channel.compiled import Compiled
from kb.channel.digits import PrintedForm, format_serial, stretch_weights
from kb.desk.frame import Stretches

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
PATIENCE = 60  # rounds of splitting; a reading that says next to nothing has no ten most probable serials
AT_ONCE = 16  # stretches split in one round


def most_probable(reading: Compiled, cells: Stretches, mass: Floats, count: int, assumptions: Assumptions) -> list[tuple[float, int, int]]:
    """The `count` most probable whole serials as (probability, block, number) with the model left open, or [] if too many are alike.

    Best first: a stretch is worth no less than any serial in it, so a single serial that is worth most is the next best.

    Args:
        mass: (cells,) probability of each cell.
    """
    live = np.flatnonzero(mass > mass.max(initial=0.0) * 1e-9)
    if not len(live) or mass.max() <= 0:
        return []
    whole = _weights(reading, cells, cells.block[live], cells.first[live], cells.last[live], assumptions)
    factor = {int(cell): float(mass[cell] / w) for cell, w in zip(live, whole, strict=True) if w > 0}
    heap = [
        (-float(mass[cell]), int(cells.block[cell]), int(cells.first[cell]), int(cells.last[cell]), int(cell)) for cell in live if int(cell) in factor
    ]
    heapq.heapify(heap)
    singles: dict[tuple[int, int, int], float] = {}
    for _ in range(PATIENCE):
        wide: list[tuple[float, int, int, int, int]] = []
        aside: list[tuple[float, int, int, int, int]] = []
        while heap and len(wide) < AT_ONCE:
            entry = heapq.heappop(heap)
            (aside if entry[2] == entry[3] else wide).append(entry)
            if len(aside) >= count * 4 and not wide:
                break
        for entry in aside:
            singles[(entry[1], entry[2], entry[4])] = -entry[0]
        ranked = sorted(singles.values(), reverse=True)
        worth_splitting = [e for e in wide if len(ranked) < count or -e[0] > ranked[count - 1]]
        if not worth_splitting:
            return [(p, block, number) for (block, number, _), p in sorted(singles.items(), key=lambda item: (-item[1], item[0]))[:count]]
        for entry in wide:
            if entry not in worth_splitting:
                heapq.heappush(heap, entry)
        parts = [(block, first, last, cell) for _, block, f, la, cell in worth_splitting for first, last in _tenths(f, la)]
        blocks, firsts, lasts = (np.array([part[i] for part in parts], dtype=np.int64) for i in range(3))
        for part, weight in zip(parts, _weights(reading, cells, blocks, firsts, lasts, assumptions), strict=True):
            if weight > 0:
                heapq.heappush(heap, (-float(weight) * factor[part[3]], *part))
    return []


def stretch(reading: Compiled | None, cells: Stretches, mass: Floats, mine: Ints, assumptions: Assumptions, tail: float = 0.005) -> tuple[int, int]:
    """The first and last number still possible in one block: all but `tail` of its probability lies on each side inside.

    Args:
        mass: (cells,) probabilities. mine: the cells of the block (and one model), in order of number.
    """
    ends = []
    for backwards in (False, True):
        order = mine[::-1] if backwards else mine
        reached = np.cumsum(mass[order])
        at = int(np.searchsorted(reached, tail * reached[-1], side="right"))
        cell = int(order[min(at, len(order) - 1)])
        before = float(reached[at - 1]) if at else 0.0
        ends.append(_quantile(reading, cells, cell, mass[cell], tail * float(reached[-1]) - before, backwards, assumptions))
    return min(ends), max(ends)


def _quantile(reading: Compiled | None, cells: Stretches, cell: int, mass: float, wanted: float, backwards: bool, assumptions: Assumptions) -> int:
    """The number in the cell at which the mass counted from its near end first exceeds `wanted`."""
    first, last = int(cells.first[cell]), int(cells.last[cell])
    share = wanted / mass if mass > 0 else 0.0
    if reading is None:
        span = last - first + 1
        step = min(span - 1, int(share * span))
        return last - step if backwards else first + step
    total = None
    while first < last:
        parts = list(_tenths(first, last))
        firsts, lasts = (np.array([part[i] for part in parts], dtype=np.int64) for i in range(2))
        weights = _weights(reading, cells, np.full(len(parts), cells.block[cell]), firsts, lasts, assumptions)
        total = float(weights.sum()) if total is None else total
        if total <= 0:
            break
        if backwards:
            parts, weights = parts[::-1], weights[::-1]
        at = 0
        while at < len(parts) - 1 and weights[at] / total <= share:
            share -= float(weights[at]) / total
            at += 1
        first, last = parts[at]
    return last if backwards else first


def printed(cells: Stretches, block: int, number: int) -> str:
    """A serial as it is stamped."""
    return format_serial(cells.forms[block], number)


def _tenths(first: int, last: int) -> Iterator[tuple[int, int]]:
    """The stretch cut where the leading digit of what varies changes: at most about ten parts."""
    size = 1
    while size * 10 < last - first + 1:
        size *= 10
    start = first
    while start <= last:
        end = min(last, (start // size + 1) * size - 1)
        yield start, end
        start = end + 1


def _weights(reading: Compiled, cells: Stretches, blocks: Ints, firsts: Ints, lasts: Ints, assumptions: Assumptions) -> Floats:
    """Weights of many stretches, those of one printed form together."""
    weights = np.zeros(len(blocks))
    forms: dict[PrintedForm, list[int]] = {}
    for i, block in enumerate(blocks):
        forms.setdefault(cells.forms[int(block)], []).append(i)
    for form, mine in forms.items():
        weights[mine] = stretch_weights(reading, form, firsts[mine], lasts[mine], assumptions)
    return weights
