"""Shims and spacers of stocked thicknesses: which to put in so that a clearance comes within its limits.

A bounded subset-sum: every combination of what is at hand is reached by its sum, with the fewest pieces that make that sum (Bellman's
recursion; Martello and Toth, Knapsack Problems, 1990, chapters 3 and 4). Lengths are whole units of a micrometre, so nothing is rounded.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from kb.words.errors import QuestionError

FINEST = Fraction(1, 1000)  # of a millimetre: no shim is sold finer
MOST_REACHED = 200_000  # sums; more pieces than that are no shim pack


@dataclass(frozen=True)
class Stock:
    """Shims of one thickness at hand. thickness in millimetres."""

    name: str
    thickness: Fraction
    count: int


@dataclass(frozen=True)
class Pack:
    """A combination: how many of each, and their thickness together in millimetres."""

    pieces: tuple[tuple[str, int], ...]
    thickness: Fraction

    @property
    def count(self) -> int:
        """How many pieces it is."""
        return sum(count for _, count in self.pieces)


def packs(stock: Sequence[Stock], low: Fraction, high: Fraction, aim: Fraction, most: int = 2) -> list[Pack]:
    """The combinations whose thickness lies within low..high, both included: fewest pieces first, then nearest to the aim, then the thinner.

    Raises:
        QuestionError: a thickness is not a positive multiple of a micrometre, or there are too many pieces to combine.

    >>> tenths = [Stock("1/10", Fraction(1, 10), 4), Stock("1/4", Fraction(1, 4), 2)]
    >>> [(p.pieces, float(p.thickness)) for p in packs(tenths, Fraction("0.3"), Fraction("0.45"), Fraction("0.35"))]
    [((('1/10', 1), ('1/4', 1)), 0.35), ((('1/10', 3),), 0.3)]
    """
    best = fewest(stock, high)
    found = [
        Pack(tuple((s.name, n) for s, n in zip(stock, counts, strict=True) if n), total * FINEST)
        for total, counts in best.items()
        if low <= total * FINEST <= high
    ]
    return sorted(found, key=lambda pack: (pack.count, abs(pack.thickness - aim), pack.thickness))[:most]


def fewest(stock: Sequence[Stock], upper: Fraction) -> Mapping[int, tuple[int, ...]]:
    """Every thickness up to `upper` that can be reached, in micrometres -> how many of each stock makes it with the fewest pieces.

    Raises:
        QuestionError: see `packs`.
    """
    best: dict[int, tuple[int, ...]] = {0: ()}
    for each in stock:
        steps = each.thickness / FINEST
        if steps.denominator != 1 or steps <= 0:
            raise QuestionError(f"{each.name} is {float(each.thickness):g} mm thick.", "A shim's thickness is a positive multiple of 0.001 mm.")
        thick = int(steps)
        extended: dict[int, tuple[int, ...]] = {}
        for total, counts in best.items():
            for number in range(each.count + 1):
                reached = total + number * thick
                if reached * FINEST > upper:
                    break
                candidate = (*counts, number)
                if reached not in extended or sum(candidate) < sum(extended[reached]):
                    extended[reached] = candidate
        if len(extended) > MOST_REACHED:
            raise QuestionError("There are too many shims to combine.", "Name only those that may be used, with how many of each.")
        best = extended
    return best
