"""How long a casting waits before the unit it goes into is built: days to some months, rarely years (docs/model.md, section 13).

Days are counted as day numbers (`date.toordinal`). Nothing is published about the wait; `casting_lead` in kb/assumptions.py states the
common practice of the trade and can be overridden.
"""

from collections.abc import Iterable, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.words.edtf import Span

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Days = tuple[int, int]


class LeadTime:
    """The distribution of the wait, and what it implies for a casting date."""

    def __init__(self, assumptions: Assumptions) -> None:
        """Shares by longest wait; within a band every wait is equally likely."""
        rows = sorted(assumptions.casting_lead.items())
        total = sum(share for _, share in rows)
        shortest = [0] + [longest + 1 for longest, _ in rows[:-1]]
        self.share: Floats = np.concatenate(
            [np.full(longest - start + 1, share / total / (longest - start + 1)) for start, (longest, share) in zip(shortest, rows, strict=True)]
        )

    @property
    def longest(self) -> int:
        """The longest wait in days."""
        return len(self.share) - 1

    @cached_property
    def _no_longer(self) -> Floats:
        """(longest + 2,) P(wait no longer than that many days), from -1 day on."""
        return np.concatenate([[0.0], np.cumsum(self.share)])

    def on_days(self, meanings: Iterable[Days], days: Ints) -> Floats:
        """(n,) P(cast within one of some stretches of days that do not overlap | built on each of these days)."""
        found = np.zeros(len(days))
        for first, last in meanings:
            longest, shortest = (np.clip(days - day, -1, self.longest) + 1 for day in (first, last + 1))
            found += self._no_longer[longest] - self._no_longer[shortest]
        return found

    def cast_within(self, meanings: Sequence[Days], start: Ints, end: Ints) -> Floats:
        """(n,) P(cast within one of some stretches of days that do not overlap | built between start and end, each day equally likely).

        Args:
            start, end: shape (n,), day numbers, both included.

        >>> lead = LeadTime(Assumptions().override(casting_lead={1: 1.0}))  # cast on the day itself or the day before
        >>> lead.cast_within([(9, 9)], np.array([8, 9, 10, 9]), np.array([8, 9, 10, 10])).tolist()
        [0.0, 0.5, 0.5, 0.5]
        """
        windows, which = np.unique(np.column_stack([start, end]), axis=0, return_inverse=True)
        length = windows[:, 1] - windows[:, 0] + 1
        begins = np.cumsum(length) - length
        days = np.repeat(windows[:, 0] - begins, length) + np.arange(int(length.sum()))
        sums: Floats = np.add.reduceat(self.on_days(meanings, days), begins) if len(begins) else np.zeros(0)
        return (sums / length)[which.ravel()]


def disjoint(spans: Sequence[Span]) -> list[Days]:
    """The days of some spans as stretches, in order, that neither overlap nor touch.

    >>> from kb.words.edtf import parse
    >>> len(disjoint([parse("1948-03"), parse("1948-03-31/1948-04-02"), parse("1949")]))
    2
    """
    found: list[Days] = []
    for span in sorted(spans):
        first, last = span.first.toordinal(), span.last.toordinal()
        if found and first <= found[-1][1] + 1:
            found[-1] = (found[-1][0], max(found[-1][1], last))
        else:
            found.append((first, last))
    return found


def common_days(stretches: Iterable[Days], window: Days) -> int:
    """How many days of the stretches lie in a window."""
    return sum(max(0, min(last, window[1]) - max(first, window[0]) + 1) for first, last in stretches)
