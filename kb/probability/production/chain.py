"""The change-overs of one lineage together: the second cannot come before the first.

The joint posterior is the product of the single ones, restricted to b1 <= b2 <= ... <= bK. Each sum over it runs along the bins
once for each change-over (forward and backward sums of a Markov chain; Rabiner, Proc. IEEE 77, 1989, section III). Change-overs that
contradict each other leave very little, so the sums are logarithms, and those of a window are taken relative to the bins that matter.
Formulas: docs/model.md, section 5.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.probability.production.changeovers import Posterior
from kb.probability.production.claims import Floats, Orders
from kb.probability.production.sightings import built_new, mean_built_new, pairs

HEAVIEST_BIN = 0.002  # numeric: of several change-overs: bins must be narrow beside the doubt about their order
LARGEST_LOG = 600.0  # whose exponential is still a number, for the product of all change-overs
MOST_ELEMENTS = 400_000  # of an array over orders and bins; bounds the memory


@dataclass(frozen=True)
class Without:
    """Sightings to leave out again, for each order asked and each change-over.

    Attributes:
        at_old, at_new: shape (orders, sightings, K), P(seen | built old) and P(seen | built new); 1 where there is none.
    """

    at_old: Floats
    at_new: Floats


class Chain:
    """The joint posterior of the change-overs 1..K of a lineage, K >= 1."""

    def __init__(self, posteriors: Sequence[Posterior]) -> None:
        """Bring all onto common bins and add up from both sides."""
        posteriors = [posteriors[0].possible()] if len(posteriors) == 1 else posteriors  # no other rules in what it rules out
        self.n = posteriors[0].n
        self.first, self.last = _common_bins(posteriors)
        self.size: Orders = self.last - self.first + 1
        self._singles = bool((self.size == 1).all())
        self._posteriors = tuple(posteriors)
        self._widths = [posterior.widths for posterior in posteriors]
        self._reach = int(max(widths[-1] for widths in self._widths))

    def __len__(self) -> int:
        return len(self._posteriors)

    @cached_property
    def _log_mass(self) -> list[Floats]:
        """Per change-over: log mass of each bin and width, shape (bins, W)."""
        return [_onto(posterior, self.first, self.size) for posterior in self._posteriors]

    @cached_property
    def _log_bin(self) -> list[Floats]:
        """Per change-over: log mass of each bin."""
        return [np.logaddexp.reduce(mass, axis=1) for mass in self._log_mass]

    @cached_property
    def _of_width(self) -> list[Floats]:
        """Per change-over: given the bin, P(w); shape (bins, W)."""
        return [np.exp(mass - total[:, None]) for mass, total in zip(self._log_mass, self._log_bin, strict=True)]

    @cached_property
    def _log_tie(self) -> Floats:
        """Within one bin of m orders two b are in order with probability (m + 1) / 2m."""
        tie: Floats = np.log((self.size + 1) / (2 * self.size))
        return tie

    @cached_property
    def _tops(self) -> list[float]:
        """Per change-over, its log mass in the bins of one probable course of events: the scale of all that matters."""
        tops: list[float] = []
        latest = len(self.first)
        for forward, own in zip(self._forward[::-1], self._log_bin[::-1], strict=True):
            at = int(forward[:latest].argmax())
            tops.append(float(own[at]))
            latest = at + 1
        return tops[::-1]

    def _scaled(self, log_values: Floats, first: int, last: int) -> Floats:
        """Values that are products over the change-overs first..last-1, relative to what matters; never infinite."""
        scaled: Floats = np.exp(np.minimum(log_values - sum(self._tops[first:last]), LARGEST_LOG / (len(self) + 1)))
        return scaled

    @cached_property
    def _forward(self) -> list[Floats]:
        """Per change-over: log mass of b1 <= ... <= bk with bk in the bin, by all up to k."""
        sums = [self._log_bin[0]]
        for own in self._log_bin[1:]:
            sums.append(own + np.logaddexp(_running(sums[-1])[:-1], sums[-1] + self._log_tie))
        return sums

    @cached_property
    def _backward(self) -> list[Floats]:
        """Per change-over: log mass of all after k, given bk in the bin."""
        sums = [np.zeros(len(self.first))]
        for own in self._log_bin[:0:-1]:
            ahead = own + sums[-1]
            sums.append(np.logaddexp(_running(ahead[::-1])[-2::-1], ahead + self._log_tie))
        return sums[::-1]

    @cached_property
    def _log_before(self) -> list[Floats]:
        """Entry [k][i]: log mass of the first k change-overs all in the bins before i; k = 0..K."""
        return [np.zeros(len(self.first) + 1), *(_running(sums) for sums in self._forward)]

    @cached_property
    def _log_after(self) -> list[Floats]:
        """Entry [k][i]: log mass of the change-overs after the first k all in the bins from i on; k = 0..K."""
        ahead = [own + back for own, back in zip(self._log_bin, self._backward, strict=True)]
        return [*(_running(sums[::-1])[::-1] for sums in ahead), np.zeros(len(self.first) + 1)]

    def marginal(self, k: int) -> Posterior:
        """P(b, w) of change-over k = 0..K-1, given everything known about all of them."""
        if len(self) == 1:
            return self._posteriors[0]
        joint = self._forward[k] + self._backward[k] - self._log_after[0][0]
        log_mass = joint[:, None] + np.log(np.maximum(self._of_width[k], np.finfo(np.float64).tiny))
        return Posterior(self.n, self.first, self.last, self._widths[k], log_mass).possible()

    def stage(self, orders: Orders, without: Without | None = None) -> Floats:
        """P(the unit at an order was built after passing the first k change-overs), k = 0..K: R_1 R_2 ... R_k on average.

        Args:
            orders: shape (m,), 0..n-1.
            without: sightings of these units themselves, to be left out.

        Returns: shape (m, K + 1); column 0 is 1, every row falls.
        """
        result = np.ones((len(orders), len(self) + 1))
        if len(self) == 1 and without is None:
            result[:, 1] = self._posteriors[0].passed(orders)
            return result
        if len(self) == 1 and without is not None:
            return self._alone(result, orders, without)
        return self._in_turn(result, orders, without)

    def _alone(self, result: Floats, orders: Orders, without: Without) -> Floats:
        """`stage` of a single change-over.

        Per width, those b are looked at for which the unit is neither surely old nor surely new, (s - w, s]; what lies before and after is summed up.
        """
        posterior = self._posteriors[0]
        first, last, joint = self.first, self.last, posterior.joint
        old, new = without.at_old[:, :, 0], without.at_new[:, :, 0]
        before = np.concatenate([np.zeros((1, joint.shape[1])), joint.cumsum(axis=0)])
        after = np.concatenate([joint[::-1].cumsum(axis=0)[::-1], np.zeros((1, joint.shape[1]))])
        stop = first.searchsorted(orders, side="right")
        surely_new, surely_old, plain, passed = (np.zeros(len(orders)) for _ in range(4))
        for column, width in enumerate(posterior.widths.tolist()):
            start = last.searchsorted(orders - width, side="right")
            surely_new += before[start, column]
            surely_old += after[stop, column]
            for row, of in pairs(start, stop):
                s, low, high = orders[row], first[of], last[of]
                mass = joint[of, column] * (_undone_at(old, new, row, s, low, width) + _undone_at(old, new, row, s, high, width)) / 2
                plain += np.bincount(row, mass, len(orders))
                built = built_new(s, low, width) if self._singles else mean_built_new(s, low, high, width)
                passed += np.bincount(row, mass * built, len(orders))
        surely_new, surely_old = surely_new / new.prod(axis=1), surely_old / old.prod(axis=1)
        result[:, 1] = np.minimum((surely_new + passed) / (surely_new + plain + surely_old), 1.0)
        return result

    def _in_turn(self, result: Floats, orders: Orders, without: Without | None) -> Floats:
        start = np.searchsorted(self.last, orders - self._reach, side="right")  # before it, every unit asked is surely new
        stop = np.searchsorted(self.first, orders, side="right")  # from here on, surely old
        done = 0
        while done < len(orders):
            ahead = np.maximum.accumulate(stop[done:] - start[done:])
            count = max(1, int(np.searchsorted(ahead * np.arange(1, len(ahead) + 1), MOST_ELEMENTS, side="right")))
            part = slice(done, done + count)
            left = Without(without.at_old[part], without.at_new[part]) if without else None
            result[part, 1:] = self._stage(orders[part], start[part], stop[part], left)
            done += count
        return result

    def _stage(self, orders: Orders, start: Orders, stop: Orders, without: Without | None) -> Floats:
        """`stage` by three stretches: change-overs before the window, in it (bins start..stop-1), after it."""
        steps = np.arange(max(int((stop - start).max()), 1))
        bins = np.minimum(start[:, None] + steps, len(self.first) - 1)
        inside = steps < (stop - start)[:, None]
        plain, passed = zip(*(self._in_window(k, orders, bins, inside, without) for k in range(len(self))), strict=True)
        count = len(self)
        before = [self._scaled(self._log_before[k][start], 0, k) for k in range(count + 1)]
        after = [self._scaled(self._log_after[k][stop], k, count) for k in range(count + 1)]
        if without is not None:
            new, old = without.at_new.prod(axis=1), without.at_old.prod(axis=1)  # (orders, K)
            before = [value / new[:, :k].prod(axis=1) for k, value in enumerate(before)]
            after = [value / old[:, k:].prod(axis=1) for k, value in enumerate(after)]
        untied = None if self._singles else 1 - np.exp(self._log_tie)[bins]
        everything = _together(plain, before, after, untied, at_least=0)
        stages = [_together(passed[:k] + plain[k:], before, after, untied, at_least=k) / everything for k in range(1, count + 1)]
        return np.minimum(np.column_stack(stages), 1.0)

    def _in_window(self, k: int, orders: Orders, bins: Orders, inside: NDArray[np.bool_], without: Without | None) -> tuple[Floats, Floats]:
        """Mass of change-over k in each bin of the windows, and of having passed it there; shape (orders, window)."""
        first, last, s = self.first[bins], self.last[bins], orders[:, None]
        mass = np.where(inside, self._scaled(self._log_bin[k], k, k + 1)[bins], 0.0)
        plain, passed = np.zeros(bins.shape), np.zeros(bins.shape)
        for column, width in enumerate(self._widths[k].tolist()):
            share = self._of_width[k][:, column][bins]
            if without is not None:
                share = share * (_undone(without, k, s, first, width) + _undone(without, k, s, last, width)) / 2
                plain += share
            passed += share * (built_new(s, first, width) if self._singles else mean_built_new(s, first, last, width))
        return mass * plain if without is not None else mass, mass * passed


def _undone_at(old: Floats, new: Floats, row: Orders, s: Orders, b: Orders, width: int) -> Floats:
    """1 / P(the sightings of the unit in a row | b, w), shape of `row`; `old`, `new` of shape (orders, sightings)."""
    built = built_new(s, b, width)
    factor = np.ones(len(row))
    for each in range(old.shape[1]):
        factor /= old[row, each] * (1 - built) + new[row, each] * built
    return factor


def _undone(without: Without, k: int, s: Orders, b: Orders, width: int) -> Floats:
    """1 / P(the sightings to leave out | b, w), shape (orders, window)."""
    new = built_new(s, b, width)
    factor = np.ones(b.shape)
    for each in range(without.at_old.shape[1]):
        factor /= without.at_old[:, each, k, None] * (1 - new) + without.at_new[:, each, k, None] * new
    return factor


def _together(window: Sequence[Floats], before: Sequence[Floats], after: Sequence[Floats], untied: Floats | None, at_least: int) -> Floats:
    """Mass of all change-overs in order, at least so many of them before or in the window; shape (orders,).

    Args:
        window: per change-over, shape (orders, bins of the window), its mass there.
        before, after: for k = 0..K, shape (orders,), mass of the first k before it, of those after the first k after it.
        untied: shape of a window, share of two in one bin that are not in order; None: 0 everywhere.
        at_least: how many.
    """
    mass = np.zeros(len(before[0]))
    here: Floats | None = None  # of the k-th in each bin of the window, with all before it in order
    for k in range(len(window) + 1):
        reached = before[k]
        if k:
            earlier = before[k - 1][:, None]
            if here is not None:
                earlier = earlier + np.cumsum(here, axis=1)
                if untied is not None:
                    earlier -= here * untied
            here = window[k - 1] * earlier
            reached = reached + here.sum(axis=1)
        if k >= at_least:
            mass += reached * after[k]
    return mass


def _running(log_values: Floats) -> Floats:
    """Logarithms of the sums of the first 0, 1, 2, ... values."""
    return np.concatenate([[-np.inf], np.logaddexp.accumulate(log_values)])


def _common_bins(posteriors: Sequence[Posterior]) -> tuple[Orders, Orders]:
    """Bins that each posterior's bins are made of, narrow where several change-overs may lie in one."""
    if len(posteriors) == 1:
        return posteriors[0].first, posteriors[0].last
    first = np.unique(np.concatenate([posterior.narrowed(HEAVIEST_BIN).first for posterior in posteriors]))
    return first, np.append(first[1:] - 1, posteriors[0].n)


def _onto(posterior: Posterior, first: Orders, size: Orders) -> Floats:
    """The log mass of narrower bins, each inside one bin of the posterior."""
    of = np.searchsorted(posterior.first, first, side="right") - 1
    log_mass: Floats = posterior.log_mass[of] + np.log(size / posterior.size[of])[:, None]
    return log_mass
