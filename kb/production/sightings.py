"""Sightings: what units that were really seen say about one change-over.

The unit at order s was built new with probability R(s; b, w): old stock is used up evenly over the w units after the first
new one, b. A sighting is what was built, or a replacement. Formulas: docs/model.md, section 5.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kb.production.claims import LEAST, Floats, Orders

MOST_PAIRS = 2_000_000  # of a sighting and a bin at a time; bounds the memory


@dataclass(frozen=True)
class Seen:
    """One sighting, for one change-over.

    `at_old` and `at_new`: P(what was seen | built old), P(.. | built new). `replaced`: P(what was seen, and replaced).
    """

    order: int
    at_old: float
    at_new: float
    replaced: float


def built_new(s: Orders | int, b: Orders | int, w: int) -> Floats:
    """R(s; b, w): P(the unit at order s was built new)."""
    return np.clip((np.asarray(s) - b + 1) / (w + 1), 0.0, 1.0)


def mean_built_new(s: Orders, first: Orders, last: Orders, w: int) -> Floats:
    """Mean of R(s; b, w) over the orders b = first..last, both ends included; arrays of one shape."""
    certain = np.clip(s - w - first + 1, 0, last - first + 1)
    low, high = np.maximum(first, s - w + 1), np.minimum(last, s)
    rising = np.maximum(high - low + 1, 0) * (2 * s - low - high + 2.0) / (2 * (w + 1))
    mean: Floats = (certain + rising) / (last - first + 1)
    return mean


class Sightings:
    """All sightings that count for one change-over, sorted by order."""

    def __init__(self, seen: Iterable[Seen]) -> None:
        """Sort and add up, so that a bin costs only the sightings inside its mixed stretch."""
        rows = sorted(seen, key=lambda each: each.order)
        self.order: Orders = np.array([each.order for each in rows], dtype=np.int64)
        at_old, at_new = (np.array([getattr(each, name) for each in rows], dtype=np.float64) for name in ("at_old", "at_new"))
        least = np.maximum(LEAST * np.maximum(at_old, at_new), np.finfo(np.float64).tiny)
        self.at_old: Floats = np.maximum(at_old, least)
        self.at_new: Floats = np.maximum(at_new, least)
        self.replaced: Floats = np.array([each.replaced for each in rows], dtype=np.float64)
        self._old_before = np.concatenate([[0.0], np.cumsum(np.log(self.at_old))])
        self._new_after = np.concatenate([np.cumsum(np.log(self.at_new)[::-1])[::-1], [0.0]])

    def log_likelihood(self, first: Orders, last: Orders, w: int) -> tuple[Floats, Floats, Floats]:
        """Of all sightings, at both ends of each bin first..last of b, for one length w of the mixed stretch.

        Every single sighting rises, falls or stays within a bin; the third array is the sum of their absolute changes,
        so within the bin the sum of all is at most (first end + second end + changes) / 2.

        Returns: three arrays of the shape of `first`; natural logarithms.
        """
        low = np.searchsorted(self.order, first, side="left")  # sightings before `low` are old in the whole bin
        high = np.searchsorted(self.order, last + w, side="left")  # those from `high` on are new
        constant = self._old_before[low] + self._new_after[high]
        at_first, at_last, change = constant.copy(), constant.copy(), np.zeros(len(constant))
        single = bool((first == last).all())
        for row, of in pairs(low, high):
            s, old, new = self.order[of], self.at_old[of], self.at_new[of]
            passed = [built_new(s, end[row], w) for end in ((first,) if single else (first, last))]
            at = [np.log(old * (1 - each) + new * each) for each in passed]
            at_first += np.bincount(row, at[0], len(first))
            if not single:
                at_last += np.bincount(row, at[1], len(first))
                change += np.bincount(row, np.abs(at[0] - at[1]), len(first))
        return at_first, at_first if single else at_last, change


def pairs(low: NDArray[np.int64], high: NDArray[np.int64]) -> Iterator[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """All (bin, sighting) with low[bin] <= sighting < high[bin], some at a time."""
    counts = np.maximum(high - low, 0)
    ends = np.cumsum(counts)
    start, done = 0, 0
    while start < len(counts) and done < ends[-1]:
        stop = max(int(np.searchsorted(ends, done + MOST_PAIRS, side="right")), start + 1)
        row = np.repeat(np.arange(start, stop), counts[start:stop])
        yield row, low[row] + np.arange(done, ends[stop - 1]) - (ends - counts)[row]
        start, done = stop, int(ends[stop - 1])
