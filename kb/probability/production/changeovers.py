"""Change-overs: when a component changed, according to all claims and all sightings.

The unknowns are b, the order of the first new unit (0..n; n: not yet changed), and w, the length of the mixed stretch while old
stock was used up. The posterior is kept on bins of b, uniform inside a bin, times the possible w. Up to 8192 units every order
has its own bin and nothing is approximated; beyond that a bin is split until the logarithm of the weight changes by at most
.01 inside it, unless its weight is negligible. So 10**9 units cost no more than ten thousand. Formulas: docs/model.md, section 5.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.probability.production.claims import Claim, Floats, Orders, knots, log_weight
from kb.probability.production.sightings import Seen, Sightings

EXACT_UP_TO = 8192  # units; every order a bin
LARGEST_CHANGE = 0.01  # numeric: of the logarithm of the weight inside a bin that matters
SMALLEST_MASS = 1e-10  # numeric: of a bin that matters
NOTHING = 1e-15  # numeric: mass of the orders on one side that are ruled out
NO_LENGTH = 1e-13  # numeric: mass of a length of the mixed stretch that is ruled out
MOST_BINS = 400_000
MOST_PARTS = 32  # into which a bin is split at once
MOST_KNOTS = 500  # sightings up to which their orders are ends of bins from the start


@dataclass(frozen=True)
class Posterior:
    """P(b, w) of one change-over.

    Attributes:
        n: units concerned.
        first, last: shape (bins,), the orders of each bin, rising and without gaps; b lies in one of them, and all of them in 0..n.
        widths: shape (W,), rising.
        log_mass: shape (bins, W), natural logarithm of the probability of a bin and a width; sums to 1 outside the logarithm.
    """

    n: int
    first: Orders
    last: Orders
    widths: Orders
    log_mass: Floats

    @cached_property
    def joint(self) -> Floats:
        """P(b in bin, w), shape (bins, W)."""
        joint: Floats = np.exp(self.log_mass)
        return joint

    @cached_property
    def mass(self) -> Floats:
        """P(b in bin), shape (bins,)."""
        total: Floats = self.joint.sum(axis=1)
        return total

    @cached_property
    def size(self) -> Orders:
        """How many orders each bin holds, shape (bins,)."""
        return self.last - self.first + 1

    @cached_property
    def single(self) -> bool:
        """Whether every bin is one order, so that nothing is approximated."""
        return bool(self.size.max() == 1)

    @cached_property
    def _below(self) -> Floats:
        return np.concatenate([[0.0], np.cumsum(self.mass)])

    def between(self, low: int, high: int) -> float:
        """P(low <= b <= high)."""
        if high < low:
            return 0.0
        inside = np.minimum(self.last, high) - np.maximum(self.first, low) + 1
        return float(self.mass @ (np.maximum(inside, 0) / self.size))

    def up_to(self, order: Orders) -> Floats:
        """P(b <= order), any shape."""
        if self.single:
            exact: Floats = self._below[np.minimum(np.maximum(order + 1 - self.first[0], 0), len(self.first))]
            return exact
        at = np.minimum(self.last.searchsorted(order, side="left"), len(self.last) - 1)
        part = np.minimum(np.maximum((order - self.first[at] + 1) / self.size[at], 0.0), 1.0)
        total: Floats = self._below[at] + self.mass[at] * part
        return total

    @cached_property
    def _sums(self) -> tuple[int, Floats, Floats, Floats]:
        """For `passed`: the origin of moments, the density, and the sums of mass and moment before each bin.

        The density has the shape (W, bins), the sums (W, bins + 1).
        """
        joint = self.joint.T
        origin = int(self.first[int(self.mass.argmax())])  # near the mass, so that differences keep their digits
        middle = (self.first + self.last) / 2 - origin
        mass, moment = (np.zeros((len(self.widths), joint.shape[1] + 1)) for _ in range(2))
        joint.cumsum(axis=1, out=mass[:, 1:])
        (joint * middle).cumsum(axis=1, out=moment[:, 1:])
        return origin, joint / self.size, mass, moment

    def narrowed(self, heaviest: float) -> "Posterior":
        """The same, with every bin of greater mass divided as far as it has orders."""
        parts = np.clip(np.ceil(self.mass / heaviest).astype(np.int64), 1, self.size)
        if parts.max() == 1:
            return self
        first, last = _cut(self.first, self.last, parts)
        of = np.repeat(np.arange(len(parts)), parts)
        return Posterior(self.n, first, last, self.widths, self.log_mass[of] + np.log((last - first + 1) / self.size[of])[:, None])

    def possible(self) -> "Posterior":
        """The same without what is ruled out: orders before and after all others, and lengths of the mixed stretch.

        Keep this one once all evidence is in: it is usually small, and a long mixed stretch, which costs most, is usually ruled out.
        """
        start = int(np.searchsorted(self._below[1:], NOTHING))
        after = np.cumsum(self.mass[::-1])[::-1]
        bins = slice(start, max(int(np.searchsorted(-after, -NOTHING)), start + 1))
        kept = self.joint[bins].sum(axis=0) >= NO_LENGTH
        return Posterior(self.n, self.first[bins].copy(), self.last[bins].copy(), self.widths[kept], self.log_mass[bins, kept])

    def passed(self, order: Orders) -> Floats:
        """P(the unit at each order was built new), the mean of R(s; b, w); shape (m,).

        For one w, the b up to s - w count in full and those in (s - w, s] by (s - b + 1) / (w + 1): sums of P(b) and of b P(b).
        """
        low, high = int(self.first[0]), int(self.last[-1] + self.widths[-1])
        result = (order >= high).astype(np.float64)
        between = (low <= order) & (order < high)
        result[between] = self._passed(order[between])
        return result

    def _passed(self, order: Orders) -> Floats:
        origin, density, mass, moment = self._sums
        result = np.zeros(len(order))
        first, last, size = self.first, self.last, self.size
        after = np.minimum(order + 1 - first[0], len(first))  # where every bin is one order, the sums up to an order stand at the order
        for column, width in enumerate(self.widths.tolist()):
            if self.single:
                before = np.maximum(np.minimum(order - width + 1 - first[0], len(first)), 0)
                surely, up_to = mass[column].take(before), mass[column].take(after)
                moments = moment[column].take(after) - moment[column].take(before)
            else:
                sums = []
                for upto in (order - width, order):
                    at = np.minimum(last.searchsorted(upto, side="left"), len(last) - 1)
                    inside = np.minimum(np.maximum(upto - first[at] + 1, 0), size[at])
                    part = density[column].take(at) * inside
                    own = part * ((first[at] - origin) + (inside - 1) / 2)
                    sums.append((mass[column].take(at) + part, moment[column].take(at) + own))
                (surely, earlier), (up_to, later) = sums
                moments = later - earlier
            result += surely + ((order + 1 - origin) * (up_to - surely) - moments) / (width + 1)
        return np.minimum(np.maximum(result, 0.0), 1.0)

    def of_widths(self) -> Floats:
        """P(w), shape (W,)."""
        total: Floats = self.joint.sum(axis=0)
        return total


def width_prior(claimed: Sequence[int], assumptions: Assumptions) -> dict[int, float]:
    """P(w) before any sighting: the usual widths, and those that a source states."""
    weights: dict[int, float] = dict(assumptions.mixed_width)
    for width in claimed:
        weights[width] = max(weights.get(width, 0.0), assumptions.claimed_width_weight)
    total = sum(weights.values())
    return {width: weights[width] / total for width in sorted(weights) if weights[width] > 0}


def estimate(n: int, claims: Sequence[Claim], seen: Sequence[Seen] | Sightings, widths: Sequence[int], assumptions: Assumptions) -> Posterior:
    """The posterior of one change-over by itself.

    Args:
        n: units concerned.
        claims: the claims that count; copies have already been removed.
        seen: the sightings that count.
        widths: lengths of the mixed stretch that sources state.
        assumptions: priors.
    """
    sightings = seen if isinstance(seen, Sightings) else Sightings.of(seen)
    weight = _Weight(n, claims, sightings, width_prior(widths, assumptions), assumptions)
    if n <= EXACT_UP_TO:
        orders = np.arange(n + 1, dtype=np.int64)
        return posterior_of(n, orders, orders, weight.widths, weight.of_each())
    bins = _adapted(weight)
    return posterior_of(n, bins.first, bins.last, weight.widths, bins.log_mass)


def posterior_of(n: int, first: Orders, last: Orders, widths: Orders, log_mass: Floats) -> Posterior:
    """A posterior from weights that need not sum to 1."""
    top = log_mass.max()
    return Posterior(n, first, last, widths, log_mass - (top + np.log(np.exp(log_mass - top).sum())))


@dataclass(frozen=True)
class _Bins:
    """Bins of b with the logarithms of their mass, and bounds of it; the last three have the shape (bins, W)."""

    first: Orders
    last: Orders
    log_mass: Floats
    lowest: Floats
    highest: Floats
    change: Floats

    def joined(self, other: "_Bins", keep: NDArray[np.bool_]) -> "_Bins":
        """Those to keep and the others, by rising order."""
        first = np.concatenate([self.first[keep], other.first])
        by = np.argsort(first, kind="stable")
        names = ("last", "log_mass", "lowest", "highest", "change")
        return _Bins(first[by], *(np.concatenate([getattr(self, name)[keep], getattr(other, name)])[by] for name in names))


class _Weight:
    """Prior times claims times sightings, for any bins."""

    def __init__(self, n: int, claims: Sequence[Claim], sightings: Sightings, prior: Mapping[int, float], assumptions: Assumptions) -> None:
        self.n, self.claims, self.sightings, self.assumptions = n, claims, sightings, assumptions
        self.widths: Orders = np.array(list(prior), dtype=np.int64)
        self.log_prior: Floats = np.log(np.array(list(prior.values())))

    def of_each(self) -> Floats:
        """The logarithm of the weight of every single order, shape (n + 1, W)."""
        orders = np.arange(self.n + 1, dtype=np.int64)
        weight = np.zeros(len(orders))
        for claim in self.claims:
            weight += log_weight(claim, orders, self.n, self.assumptions)
        total: Floats = self.sightings.log_likelihood_of_each(self.n, self.widths) + weight[:, None] + self.log_prior
        return total

    def of(self, first: Orders, last: Orders) -> _Bins:
        """The mass of each bin, as if its density were linear from end to end, and the bounds."""
        left, right, change = (np.zeros((len(first), len(self.widths))) for _ in range(3))
        for claim in self.claims:
            at_first, at_last = (log_weight(claim, b, self.n, self.assumptions)[:, None] for b in (first, last))
            left += at_first
            right += at_last
            change += np.abs(at_last - at_first)
        for column, width in enumerate(self.widths):
            for total, part in zip((left, right, change), self.sightings.log_likelihood(first, last, int(width)), strict=True):
                total[:, column] += part
        base = self.log_prior + np.log(last - first + 1)[:, None]
        middle = (left + right) / 2
        return _Bins(first, last, base + np.logaddexp(left, right) - np.log(2), base + middle - change / 2, base + middle + change / 2, change)


def _adapted(weight: _Weight) -> _Bins:
    """Split the bins that matter and change inside, until nothing is left to split."""
    ends = {0, weight.n, *knots(weight.claims)}
    if len(weight.sightings.order) <= MOST_KNOTS:
        ends.update((weight.sightings.order + 1).tolist())  # where what they say jumps, as at no other end of a stretch
    first = np.array(sorted(end for end in ends if 0 <= end <= weight.n), dtype=np.int64)
    bins = weight.of(first, np.append(first[1:] - 1, weight.n))
    while len(bins.first) < MOST_BINS:
        top = bins.lowest.max()
        matters = bins.highest > top + np.log(np.exp(bins.lowest - top).sum()) + np.log(SMALLEST_MASS)
        change = np.where(matters, bins.change, 0.0).max(axis=1)
        split = (change > LARGEST_CHANGE) & (bins.last > bins.first)
        if not split.any():
            break
        if 4 * split.sum() > MOST_BINS:  # still far too coarse: the heaviest first
            split &= bins.highest.max(axis=1) >= np.partition(bins.highest.max(axis=1)[split], -MOST_BINS // 8)[-MOST_BINS // 8]
        parts = np.ceil(np.clip(change[split] / LARGEST_CHANGE, 2, MOST_PARTS)).astype(np.int64)
        bins = bins.joined(weight.of(*_cut(bins.first[split], bins.last[split], parts)), ~split)
    return bins


def _cut(first: Orders, last: Orders, parts: Orders) -> tuple[Orders, Orders]:
    """Every bin into so many parts of (nearly) one size, fewer if it has fewer orders."""
    parts = np.minimum(parts, last - first + 1)
    row = np.repeat(np.arange(len(first)), parts)
    part = np.arange(len(row)) - np.repeat(np.cumsum(parts) - parts, parts)
    step, rest = np.divmod((last - first + 1)[row], parts[row])
    begin = first[row] + part * step + np.minimum(part, rest)
    return begin, begin + step + (part < rest) - 1
