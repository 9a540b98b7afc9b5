"""Which serial to look for next: the one whose sighting is expected to narrow a change-over most.

I(b; O) = H(O) - H(O | b) for the sighting O, of unknown originality, of the unit at an order: what is on it is of the old side,
of the new side, or neither (Cover and Thomas, Elements of Information Theory, 2nd ed., 2.4; docs/model.md, section 5).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kb.production.changeovers import EXACT_UP_TO, Posterior
from kb.production.claims import Floats, Orders
from kb.production.sightings import built_new, mean_built_new

AT_ONCE = 16  # candidates, by the most they can promise
STEPS = 65
HEAVIEST_BIN = 0.002  # a bin counts as one b, so a heavy one would hide what its own middle tells
EQUAL = 1e-12  # bits


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
        old = (1 - self.rate) * (1 - passed) + self.rate * self.old
        neither = np.full_like(passed, max(self.rate * (1 - self.old - self.new), 0.0))
        return -sum(p * np.log2(np.where(p > 0, p, 1.0)) for p in (new, old, neither))  # type: ignore[return-value]


def seek(posterior: Posterior, outcomes: Outcomes, stretches: Sequence[tuple[int, int]], known: Orders) -> Seek | None:
    """The best order, the lowest of equals; None if no sighting can tell anything.

    Args:
        posterior: of b.
        outcomes: what a sighting can show.
        stretches: orders (both ends included, rising) whose sighting would count.
        known: rising, orders of units that were seen already: another look at them tells nothing new.
    """
    posterior = posterior.narrowed(HEAVIEST_BIN)
    sought = _Sought(posterior, outcomes, stretches, known)
    if posterior.n <= EXACT_UP_TO:
        return sought.best(np.arange(posterior.n))
    ends = np.array(stretches, dtype=np.int64).reshape(-1)
    middle = (posterior.first + posterior.last) // 2
    candidates = np.concatenate([posterior.first - 1, posterior.first, posterior.last, middle, ends, known - 1, known + 1])
    candidates = np.unique(np.clip(candidates, 0, posterior.n - 1))
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
    def __init__(self, posterior: Posterior, outcomes: Outcomes, stretches: Sequence[tuple[int, int]], known: Orders) -> None:
        self.posterior, self.outcomes, self.known = posterior, outcomes, known
        self.stretches: Orders = np.array(stretches, dtype=np.int64).reshape(-1, 2)
        self.reach = int(posterior.widths[-1])
        mass = np.exp(posterior.log_mass)
        self.of_width = mass / np.maximum(posterior.mass, 1e-300)[:, None]

    def best(self, orders: Orders) -> Seek | None:
        """The best of some orders (rising), tried by the most they can promise."""
        after = np.searchsorted(self.stretches[:, 0], orders, side="right")
        orders = orders[(after > 0) & (orders <= self.stretches[after - 1, 1])] if len(self.stretches) else orders[:0]
        orders = orders[np.isin(orders, self.known, invert=True)]
        if not len(orders):
            return None
        passed = self.posterior.passed(orders)
        sure_old, sure_new = self.outcomes.entropy(np.array([0.0, 1.0]))
        most = self.outcomes.entropy(passed) - (1 - passed) * sure_old - passed * sure_new  # entropy is concave
        by = np.argsort(-most, kind="stable")
        best: Seek | None = None
        for start in range(0, len(by), AT_ONCE):
            some = np.sort(by[start : start + AT_ONCE])
            if best is not None and most[by[start]] < best.gain_bits - EQUAL:
                break
            gains = self.outcomes.entropy(passed[some]) - self._remaining(orders[some])
            for order, gain in zip(orders[some].tolist(), gains.tolist(), strict=True):
                equal = best is not None and abs(gain - best.gain_bits) <= EQUAL
                if gain > EQUAL and (best is None or (equal and order < best.order) or (gain > best.gain_bits and not equal)):
                    best = Seek(order, gain)
        return best

    def _remaining(self, orders: Orders) -> Floats:
        """H(O | b) for each order."""
        posterior = self.posterior
        start = np.searchsorted(posterior.last, orders - self.reach, side="right")
        stop = np.searchsorted(posterior.first, orders, side="right")
        sure_old, sure_new = self.outcomes.entropy(np.array([0.0, 1.0]))
        below = np.concatenate([[0.0], np.cumsum(posterior.mass)])
        result = below[start] * sure_new + (below[-1] - below[stop]) * sure_old
        steps = np.arange(int((stop - start).max(initial=0)))
        bins = np.minimum(start[:, None] + steps, len(posterior.first) - 1)
        passed = np.zeros(bins.shape)
        for column, width in enumerate(posterior.widths.tolist()):
            first, last = posterior.first[bins], posterior.last[bins]
            built = built_new(orders[:, None], first, width) if posterior.single else mean_built_new(orders[:, None], first, last, width)
            passed += self.of_width[:, column][bins] * built
        mass = np.where(steps < (stop - start)[:, None], posterior.mass[bins], 0.0)
        remaining: Floats = result + (mass * self.outcomes.entropy(np.minimum(passed, 1.0))).sum(axis=1)
        return remaining
