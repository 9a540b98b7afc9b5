"""Totals: how many units of a block were built, judging by the serials that have been sighted.

The serials seen are k different numbers out of 1..N, all sets of k equally likely; N is unknown, with a flat prior.
Sightings are counted within a block, never across blocks: makers started a new model at the next full hundred, so numbers just above
one are seen too often (Ruggles and Brodie, JASA 42, 1947).
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from math import comb, sqrt

from kb.probability.production.blocks import Line
from kb.words.errors import DataError


@dataclass(frozen=True)
class Total:
    """What k different serials, the highest of them the m-th number of its block, say about the number N of units built.

    Sampling of m without replacement; Goodman, JASA 47, 1952. Posterior: P(N) proportional to 1 / C(N, k) for N >= m.
    """

    seen: int
    highest: int

    @property
    def estimate(self) -> float:
        """The unbiased estimate m + m/k - 1."""
        return self.highest + self.highest / self.seen - 1

    @property
    def mean(self) -> float | None:
        """(m - 1)(k - 1)/(k - 2); None below three serials, when it is infinite."""
        return (self.highest - 1) * (self.seen - 1) / (self.seen - 2) if self.seen > 2 else None

    @property
    def deviation(self) -> float | None:
        """Standard deviation of the posterior; None below four serials, when it is infinite."""
        k, m = self.seen, self.highest
        return sqrt((k - 1) * (m - 1) * (m - k + 1) / ((k - 3) * (k - 2) ** 2)) if k > 3 else None

    def more_than(self, units: int) -> float:
        """P(N > units) = C(m - 1, k - 1) / C(units, k - 1)."""
        return 1.0 if units < self.highest else comb(self.highest - 1, self.seen - 1) / comb(units, self.seen - 1)

    def at_most(self, probability: float) -> int:
        """The least number of units with P(N <= it) of at least so much, below 1; the median for .5."""
        if not 0 <= probability < 1:
            raise ValueError(f"{probability} is not a probability below 1")
        low, high = self.highest - 1, self.highest
        while self.more_than(high) > 1 - probability:
            low, high = high, 2 * high
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if self.more_than(middle) > 1 - probability else (low, middle)
        return high


def total(offsets: Collection[int]) -> Total:
    """From the positions of the sighted serials in their block, counted from 1.

    Raises:
        DataError: fewer than two different ones, or one below 1.
    """
    different = set(offsets)
    if len(different) < 2:
        raise DataError(f"{len(different)} sighted serials say nothing about how many there were.", "At least two different ones are needed.")
    if min(different) < 1:
        raise DataError(f"{min(different)} is no place in a block.", "The first number of a block is its place 1.")
    return Total(len(different), max(different))


def by_block(line: Line, orders: Iterable[int]) -> dict[str, Total]:
    """By block_id, for the blocks of a line with at least two sighted serials, given as production orders."""
    offsets: dict[str, set[int]] = defaultdict(set)
    for order in orders:
        index, number = line.at(order)
        block = line.blocks[index]
        offsets[block.block_id].add(number - block.first + 1)
    return {block_id: total(seen) for block_id, seen in offsets.items() if len(seen) > 1}
