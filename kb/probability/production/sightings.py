"""Sightings: what units that were actually seen say about one change-over.

The unit at order s was built new with probability R(s; b, w): old stock is used up evenly over the w units after the first
new one, b. A sighting is what was built, or a replacement. Formulas: docs/model.md, section 5.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kb.probability.production.claims import LEAST, Floats, Orders

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


def built_new(s: Orders | int, b: Orders | int, w: Orders | int) -> Floats:
    """R(s; b, w): P(the unit at order s was built new)."""
    new: Floats = np.minimum(np.maximum((np.asarray(s) - b + 1) / (w + 1), 0.0), 1.0)
    return new


def mean_built_new(s: Orders, first: Orders, last: Orders, w: int) -> Floats:
    """Mean of R(s; b, w) over the orders b = first..last, both ends included; arrays of one shape."""
    certain = np.minimum(np.maximum(s - w - first + 1, 0), last - first + 1)
    low, high = np.maximum(first, s - w + 1), np.minimum(last, s)
    rising = np.maximum(high - low + 1, 0) * (2 * s - low - high + 2.0) / (2 * (w + 1))
    mean: Floats = (certain + rising) / (last - first + 1)
    return mean


class Sightings:
    """All sightings that count for one change-over, sorted by order."""

    def __init__(self, order: Orders, at_old: Floats, at_new: Floats, replaced: Floats) -> None:
        """Arrays of one shape, as in `Seen`, by rising order. They are added up, so that a bin costs only the sightings inside its mixed stretch."""
        self.order, self.replaced = order, replaced
        least = np.maximum(LEAST * np.maximum(at_old, at_new), np.finfo(np.float64).tiny)
        self.at_old: Floats = np.maximum(at_old, least)
        self.at_new: Floats = np.maximum(at_new, least)
        self._old_before = np.concatenate([[0.0], np.cumsum(np.log(self.at_old))])
        self._new_after = np.concatenate([np.cumsum(np.log(self.at_new)[::-1])[::-1], [0.0]])

    @classmethod
    def of(cls, seen: Iterable[Seen]) -> "Sightings":
        """Of these, in any order."""
        rows = sorted(seen, key=lambda each: each.order)
        columns = (np.array([getattr(each, name) for each in rows], dtype=np.float64) for name in ("at_old", "at_new", "replaced"))
        return cls(np.array([each.order for each in rows], dtype=np.int64), *columns)

    def joined(self, more: Seen) -> "Sightings":
        """These and one more."""
        at = int(self.order.searchsorted(more.order, side="right"))
        return Sightings(*(np.insert(getattr(self, name), at, getattr(more, name)) for name in ("order", "at_old", "at_new", "replaced")))

    def log_likelihood(self, first: Orders, last: Orders, w: int) -> tuple[Floats, Floats, Floats]:
        """Of all sightings, at both ends of each bin first..last of b, for one length w of the mixed stretch.

        Every single sighting rises, falls or stays within a bin; the third array is the sum of their absolute changes,
        so within the bin the sum of all is at most (first end + second end + changes) / 2.

        Returns: three arrays of the shape of `first`; natural logarithms.
        """
        low = self.order.searchsorted(first, side="left")  # sightings before `low` are old in the whole bin
        high = self.order.searchsorted(last + w, side="left")  # those from `high` on are new
        constant = self._old_before[low] + self._new_after[high]
        at_first, at_last, change = constant.copy(), constant.copy(), np.zeros(len(constant))
        for row, of in pairs(low, high):
            s, old, new = self.order[of], self.at_old[of], self.at_new[of]
            passed = [built_new(s, end[row], w) for end in (first, last)]
            at = [np.log(old * (1 - each) + new * each) for each in passed]
            at_first += np.bincount(row, at[0], len(first))
            at_last += np.bincount(row, at[1], len(first))
            change += np.bincount(row, np.abs(at[0] - at[1]), len(first))
        return at_first, at_last, change

    def log_likelihood_of_each(self, n: int, widths: Orders) -> Floats:
        """Of all sightings, for each b = 0..n and each length of the mixed stretch; shape (n + 1, W), natural logarithms.

        Within the stretch what a sighting says depends on s - b only: one curve, the same for all that saw alike, is added where each stands.
        """
        reach = int(widths.max())
        b = np.arange(-reach, n + 1)  # those below 0 only give every curve its whole place
        alike: dict[tuple[float, float], list[int]] = defaultdict(list)
        for s, old, new in zip(self.order.tolist(), self.at_old.tolist(), self.at_new.tolist(), strict=True):
            alike[old, new].append(s + 1 + reach)
        old_before = self._old_before[self.order.searchsorted(b, side="left")]
        found = np.empty((len(widths), len(b)))
        for total, w in zip(found, widths.tolist(), strict=True):
            np.add(old_before, self._new_after[self.order.searchsorted(b + w, side="left")], out=total)
            passed = np.arange(w, 0, -1) / (w + 1)  # from the b furthest before the unit to the unit itself
            for (old, new), ends in alike.items() if w else ():
                curve = np.log(old * (1 - passed) + new * passed)
                for end in ends:
                    total[end - w : end] += curve
        return found[:, reach:].T


def pairs(low: NDArray[np.int64], high: NDArray[np.int64]) -> Iterator[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """All (bin, sighting) with low[bin] <= sighting < high[bin], some at a time."""
    counts = np.maximum(high - low, 0)
    ends = counts.cumsum()
    start, done, total = 0, 0, int(ends[-1]) if len(ends) else 0
    while done < total:
        stop = max(int(ends.searchsorted(done + MOST_PAIRS, side="right")), start + 1)
        row = np.repeat(np.arange(start, stop), counts[start:stop])
        yield row, low[row] + np.arange(done, ends[stop - 1]) - (ends - counts)[row]
        start, done = stop, int(ends[stop - 1])
