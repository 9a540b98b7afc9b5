"""How often castings have been replaced, according to the sightings of the whole dataset, to compare with the rate assumed where nothing is known.

Only what depends on that rate takes part: sightings of unknown originality, of components without a rate of their own, in lineages of
one change-over (with several, one sighting would count more than once). For each change-over the posterior P(b, w) under the assumed
rate gives the marginal likelihood of any other rate without estimating again,

    P(all seen | rho) / P(all seen | rho0) = sum over (b, w) of P(b, w | all, rho0) x product of P(seen | b, w, rho) / P(seen | b, w, rho0),

and over all change-overs these multiply. The prior of rho is flat on the grid. The estimate is only reported.
Marginal likelihood on a grid: Gelman et al., Bayesian Data Analysis, 3rd ed., 3.7. Model: docs/model.md, section 5.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from kb.probability.production.changeovers import Posterior
from kb.probability.production.claims import LEAST, Floats

EVERYWHERE = np.array([0.0, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.6, 0.9])  # numeric: rates that are tried first
FINE = 25  # steps where they matter
MATTERS = 1e-8  # numeric: of the likeliest: mass of an order, or likelihood of a rate
NEGLIGIBLE = 1e-12  # numeric: mass of a point
POINTS = 120  # orders of one change-over up to which none are put together
TOGETHER = 24  # stretches to put them together into, besides those that sightings part


@dataclass(frozen=True)
class Witnesses:
    """The sightings of one change-over that say something about the rate, one to an entry of the arrays, and the change-over given all evidence.

    `old`, `new`, `service`: what was seen, if an old, a new, or any variant by its share among replacements is there.
    """

    posterior: Posterior
    order: Floats
    old: Floats
    new: Floats
    service: Floats


@dataclass(frozen=True)
class Rate:
    """P(replaced) of a casting of unknown originality: the likeliest, and the shortest stretch of rates that holds the mass asked for."""

    likeliest: float
    low: float
    high: float
    sightings: int
    changeovers: int


def replaced_rate(witnesses: Sequence[Witnesses], assumed: float, mass: float) -> Rate | None:
    """The rate by all of them; None without any sighting.

    Args:
        witnesses: of the change-overs that count.
        assumed: the rate under which their posteriors were made, above 0.
        mass: of the interval.
    """
    found = [each for each in witnesses if len(each.order)]
    if not found or assumed <= 0:
        return None
    told = [_told(each, assumed) for each in found]
    rates = EVERYWHERE
    while True:  # until the peak is resolved
        likely = _likelihood(told, rates)
        inside = np.flatnonzero(likely > MATTERS)
        if len(rates) == FINE and (len(inside) > FINE // 2 or rates[1] - rates[0] < 1e-6):  # numeric
            break
        rates = np.linspace(rates[max(inside[0] - 1, 0)], rates[min(inside[-1] + 1, len(rates) - 1)], FINE)
    low, high = _shortest(rates, likely, mass)
    at, step = _peak(rates, likely), float(rates[1] - rates[0])
    near = np.linspace(max(at - step, 0.0), min(at + step, float(rates[-1])), 7)
    return Rate(_peak(near, _likelihood(told, near)), low, high, sum(len(each.order) for each in found), len(found))


def _likelihood(told: Sequence[Callable[[Floats], Floats]], rates: Floats) -> Floats:
    """Beside that of the likeliest rate; shape (rates,)."""
    log: Floats = np.sum([each(rates) for each in told], axis=0)
    likelihood: Floats = np.exp(log - log.max())
    return likelihood


def _told(each: Witnesses, assumed: float) -> Callable[[Floats], Floats]:
    """The logarithm of the marginal likelihood of one change-over beside that of the assumed rate, as a function of rates.

    At each point (b, w) the sightings before b are old and those from b + w on new, whatever the rate: sums up to there are enough. Only those
    between, which are either, are looked at one by one.
    """
    b, width, log_mass = _points(each)
    by = np.argsort(each.order, kind="stable")
    order, old, new, service = each.order[by], each.old[by], each.new[by], each.service[by]
    low = order.searchsorted(b - 1, side="right")
    high = np.maximum(order.searchsorted(b + width, side="left"), low)
    ends = np.concatenate([[0], np.cumsum(high - low)])
    point = np.repeat(np.arange(len(b)), high - low)
    which = np.arange(ends[-1]) + (low - ends[:-1])[point]
    passed = (order[which] - b[point] + 1) / (width[point] + 1)
    between, by_chance = old[which] * (1 - passed) + new[which] * passed, service[which]

    def seen(built: Floats, replaced: Floats, rates: Floats) -> Floats:
        """The sum of log P(seen | rate) before each sighting and after the last; shape (rates, sightings + 1)."""
        log = np.log(np.maximum(built + rates * (replaced - built), LEAST))
        return np.concatenate([np.zeros((len(rates), 1)), np.cumsum(log, axis=1)], axis=1)

    def told(rates: Floats) -> Floats:
        both = np.append(rates, assumed)[:, None]
        as_old, as_new, as_either = seen(old, service, both), seen(new, service, both), seen(between, by_chance, both)
        within = as_old[:, low] + (as_new[:, -1:] - as_new[:, high]) + (as_either[:, ends[1:]] - as_either[:, ends[:-1]])  # (rates, points)
        weights = within - within[-1] + log_mass
        top = weights.max(axis=1)
        total = top + np.log(np.exp(weights - top[:, None]).sum(axis=1))
        result: Floats = (total - total[-1])[:-1]
        return result

    return told


def _points(each: Witnesses) -> tuple[Floats, Floats, Floats]:
    """b, w and the logarithm of P(b, w) at the points that matter; orders between the same sightings are put together if there are many."""
    posterior = each.posterior
    matters = np.flatnonzero(posterior.mass > MATTERS * posterior.mass.max())
    bins = slice(int(matters[0]), int(matters[-1]) + 1)
    first, last, mass = posterior.first[bins], posterior.last[bins], posterior.joint[bins]
    middle = (first + last) / 2
    if len(first) > POINTS:
        ends = np.unique(np.concatenate([each.order + 1, np.linspace(first[0], last[-1], TOGETHER)]))
        group = np.searchsorted(ends, middle, side="right")
    else:
        group = np.arange(len(first))
    points = []
    for column, width in enumerate(posterior.widths.tolist()):
        total = np.bincount(group, mass[:, column])
        kept = np.flatnonzero(total > NEGLIGIBLE)
        points.append((np.bincount(group, mass[:, column] * middle)[kept] / total[kept], np.full(len(kept), float(width)), np.log(total[kept])))
    b, width, log_mass = (np.concatenate(column) for column in zip(*points, strict=True))
    return b, width, log_mass


def _peak(rates: Floats, likely: Floats) -> float:
    """The top of a parabola through the highest point and its neighbours, in logarithms."""
    at = int(likely.argmax())
    if at in (0, len(rates) - 1):
        return float(rates[at])
    before, top, after = np.log(np.maximum(likely[at - 1 : at + 2], LEAST))
    return float(rates[at] + (rates[1] - rates[0]) * (before - after) / (2 * (before - 2 * top + after)))


def _shortest(rates: Floats, likely: Floats, mass: float) -> tuple[float, float]:
    """Where the likelihood, its logarithm straight between the rates, is highest until it holds the mass; of a likelihood with one peak."""
    fine = np.linspace(rates[0], rates[-1], 20 * len(rates))
    density = np.exp(np.interp(fine, rates, np.log(np.maximum(likely, LEAST))))
    order = np.argsort(-density, kind="stable")
    enough = order[: int(np.searchsorted(np.cumsum(density[order]), mass * density.sum())) + 1]
    return float(fine[enough.min()]), float(fine[enough.max()])
