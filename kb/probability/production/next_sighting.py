"""Which serial to look for next: the one whose sighting is expected to narrow the change-over most.

I(b; O) = H(O) - H(O | b) for the sighting O, of unknown originality, of the unit at an order: what is on it is of the old side,
of the new side, or neither (Cover and Thomas, Elements of Information Theory, 2nd ed., 2.4; docs/model.md, section 5).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from kb.probability.production.changeovers import EXACT_UP_TO, Posterior
from kb.probability.production.claims import Floats, Orders
from kb.probability.production.sightings import mean_built_new

AT_ONCE = 16  # candidates, by the most they can promise
STEPS = 65
HEAVIEST_BIN = 0.002  # numeric: a bin counts as one b, so a heavy one would hide what its own middle tells
EQUAL = 1e-12  # numeric: bits


@dataclass(frozen=True)
class Seek:
    """The unit to look for, by its order, and the expected drop in the entropy of b in bits."""

    order: int
    gain_bits: float


@dataclass(frozen=True)
class Outcomes:
    """What a sighting can show: `rate` is P(replaced); `old`, `new` are the shares of either side among replacements."""

    rate: float
    old: float
    new: float

    def entropy(self, passed: Floats) -> Floats:
        """Entropy in bits of what is seen on a unit built new with probability `passed`; any shape."""
        new = (1 - self.rate) * passed + self.rate * self.new
        neither = max(self.rate * (1 - self.old - self.new), 0.0)
        old = 1 - new - neither
        entropy: Floats = _entropy(new) + _entropy(old) + _entropy(np.array(neither))
        return entropy


def _entropy(p: Floats) -> Floats:
    """-p log2 p, 0 at 0."""
    some: Floats = np.maximum(p, 1e-300)  # numeric
    return -some * np.log2(some)


def seek(posterior: Posterior, outcomes: Outcomes, stretches: Sequence[tuple[int, int]], known: Orders) -> Seek | None:
    """The best order, the lowest of equals; None if no sighting can tell anything.

    Args:
        posterior: of b.
        outcomes: what a sighting can show.
        stretches: orders (both ends included, rising) whose sighting would count.
        known: rising, orders of units already seen; another look at them tells nothing new.
    """
    sought = _Sought(posterior, outcomes, stretches, known)
    if sought.single:
        return sought.best(np.arange(sought.low, min(sought.high, posterior.n)))
    ends = np.array(stretches, dtype=np.int64).reshape(-1)
    first, last = sought.first, sought.last
    edges = np.array([sought.low - 1, sought.high])
    candidates = np.concatenate([first - 1, first, last, (first + last) // 2, edges, ends, known - 1, known + 1])
    candidates = np.unique(np.minimum(np.maximum(candidates, 0), posterior.n - 1))
    found = sought.best(candidates)
    while found is not None:  # between the neighbours of the best, until they touch
        at = int(np.searchsorted(candidates, found.order))
        low, high = int(candidates[max(at - 1, 0)]), int(candidates[min(at + 1, len(candidates) - 1)])
        if high - low <= 2:
            break
        candidates = np.unique(np.append(np.linspace(low, high, STEPS).astype(np.int64), found.order))
        found = sought.best(candidates)
    return found


class _Sought:
    """The expected gain at every order. Units before `low` are certainly old, those from `high` on certainly new.

    `single`: these are few orders, so every order is a bin of its own.
    """

    def __init__(self, posterior: Posterior, outcomes: Outcomes, stretches: Sequence[tuple[int, int]], known: Orders) -> None:
        few = posterior.last[-1] - posterior.first[0] < EXACT_UP_TO
        posterior = posterior if few else posterior.narrowed(HEAVIEST_BIN)
        self.posterior, self.outcomes, self.known = posterior, outcomes, known
        self.stretches: Orders = np.array(stretches, dtype=np.int64).reshape(-1, 2)
        self.reach = int(posterior.widths[-1])
        self.first, self.last, joint, size = posterior.first, posterior.last, posterior.joint, posterior.size
        self.low, self.high = int(self.first[0]), int(self.last[-1]) + self.reach
        self.single = bool(few)
        if few and not posterior.single:
            self.first = self.last = np.arange(self.first[0], self.last[-1] + 1)
            joint = np.repeat(joint / size[:, None], size, axis=0)
        self.mass = joint.sum(axis=1)
        self.of_width: Floats = joint / np.maximum(self.mass, 1e-300)[:, None]  # numeric
        self.below = np.concatenate([[0.0], self.mass.cumsum()])
        self.sure_old, self.sure_new = outcomes.entropy(np.array([0.0, 1.0])).tolist()

    def best(self, orders: Orders) -> Seek | None:
        """The best of some orders (rising), tried by the most they can promise."""
        orders = orders[(orders >= self.low) & (orders < self.high)]
        after = self.stretches[:, 0].searchsorted(orders, side="right")
        orders = orders[(after > 0) & (orders <= self.stretches[after - 1, 1])] if len(self.stretches) else orders[:0]
        if len(self.known):
            orders = orders[self.known[np.minimum(self.known.searchsorted(orders), len(self.known) - 1)] != orders]
        if not len(orders):
            return None
        passed = self.posterior.passed(orders)
        entropy = self.outcomes.entropy(passed)
        most = entropy - (1 - passed) * self.sure_old - passed * self.sure_new  # entropy is concave
        by = np.argsort(-most, kind="stable")
        best: Seek | None = None
        for start in range(0, len(by), AT_ONCE):
            some = np.sort(by[start : start + AT_ONCE])
            if best is not None and most[by[start]] < best.gain_bits - EQUAL:
                break
            gains = entropy[some] - self._remaining(orders[some])
            for order, gain in zip(orders[some].tolist(), gains.tolist(), strict=True):
                equal = best is not None and abs(gain - best.gain_bits) <= EQUAL
                if gain > EQUAL and (best is None or (equal and order < best.order) or (gain > best.gain_bits and not equal)):
                    best = Seek(order, gain)
        return best

    @cached_property
    def _around(self) -> tuple[Floats, Floats, Floats]:
        """Of every order, with `reach` empty ones before and after: P(b); P(the mixed stretch is one of the k shortest | b); and by how much P(new)
        rises with each unit while those are over and the others are not. The last two have the shape (k = 0..W, orders).
        """
        inside = slice(self.reach, self.reach + len(self.mass))
        of_width, shape = self.of_width.T, (len(self.posterior.widths) + 1, len(self.mass) + 2 * self.reach)
        mass, over, rising = np.zeros(shape[1]), np.zeros(shape), np.zeros(shape)
        mass[inside] = self.mass
        of_width.cumsum(axis=0, out=over[1:, inside])
        (of_width / (self.posterior.widths + 1)[:, None])[::-1].cumsum(axis=0, out=rising[-2::-1, inside])
        return mass, over, rising

    def _remaining(self, orders: Orders) -> Floats:
        """H(O | b) for each order."""
        start = self.last.searchsorted(orders - self.reach, side="right")
        stop = self.first.searchsorted(orders, side="right")
        result = self.below[start] * self.sure_new + (self.below[-1] - self.below[stop]) * self.sure_old
        mass, passed = self._in_orders(orders) if self.single else self._in_bins(orders, start, stop)
        remaining: Floats = result + (mass * self.outcomes.entropy(np.minimum(passed, 1.0))).sum(axis=1)
        return remaining

    def _in_orders(self, orders: Orders) -> tuple[Floats, Floats]:
        """P(b) and P(new | b) where b is so many units before each of the orders; shape (orders, units before)."""
        mass, over, rising = self._around
        before = np.arange(max(int(orders.min() - self.last[-1]), 0), min(self.reach, int(orders.max()) - self.low + 1))
        b = orders[:, None] - before + (self.reach - self.low)
        at = b + self.posterior.widths.searchsorted(before, side="right") * len(mass)
        return mass.take(b), over.take(at) + (before + 1) * rising.take(at)

    def _in_bins(self, orders: Orders, start: Orders, stop: Orders) -> tuple[Floats, Floats]:
        """P(b in bin) and P(new | b in bin) in the bins start..stop - 1 of each of the orders; shape (orders, most bins)."""
        steps = np.arange(int((stop - start).max(initial=0)))
        bins = np.minimum(start[:, None] + steps, len(self.first) - 1)
        first, last, of_width = self.first[bins], self.last[bins], self.of_width[bins]
        passed = np.zeros(bins.shape)
        for column, width in enumerate(self.posterior.widths.tolist()):
            passed += of_width[:, :, column] * mean_built_new(orders[:, None], first, last, width)
        return np.where(steps < (stop - start)[:, None], self.mass[bins], 0.0), passed
