"""Brackets: a posterior in a few numbers: the most probable first new unit, the interval it lies in, and how claims and
sightings compare with it. Formulas: docs/model.md, section 5.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from kb.assumptions import Assumptions
from kb.probability.production.changeovers import Posterior
from kb.probability.production.claims import Claim, Floats, Orders, meant
from kb.probability.production.sightings import Sightings, built_new, pairs

ROUNDING = 1e-9  # numeric: probabilities closer than this count as equal
Standing = Literal["supported", "contradicted", "open"]


@dataclass(frozen=True)
class Bracket:
    """`first_new`: the most probable order of the first new unit, and P(it is). `low`..`high`: the shortest stretch that holds
    it with the probability asked for. Orders 0..n; n says "not yet changed".
    """

    first_new: int
    probability: float
    low: int
    high: int


def bracket(posterior: Posterior, assumptions: Assumptions) -> Bracket:
    """Mode and shortest stretch of at least `assumptions.interval_mass`; the lowest of equals."""
    density = posterior.mass / posterior.size
    best = int(np.flatnonzero(density >= density.max() * (1 - ROUNDING))[0])
    low, high = _shortest(posterior, assumptions.interval_mass - ROUNDING)
    return Bracket(int(posterior.first[best]), float(density[best]), low, high)


def standing(posterior: Posterior, claim: Claim, found: Bracket, assumptions: Assumptions) -> tuple[Standing, float]:
    """How a claim compares with everything known, and P(the first new unit is as claimed)."""
    low, high = meant(claim, posterior.n, assumptions)
    probability = posterior.between(low, high)
    if probability >= assumptions.supported_at:
        return "supported", probability
    if probability <= assumptions.contradicted_at and (found.low < low or found.high > high):
        return "contradicted", probability
    return "open", probability


def replaced(posterior: Posterior, sightings: Sightings) -> Floats:
    """P(what was seen is a replacement), shape (sightings,), in the order of `sightings`."""
    first, last, mass = posterior.first, posterior.last, posterior.joint
    nothing = np.zeros((1, len(posterior.widths)))
    before = np.concatenate([nothing, mass.cumsum(axis=0)])
    after = np.concatenate([mass[::-1].cumsum(axis=0)[::-1], nothing])
    stop = first.searchsorted(sightings.order, side="right")
    ends = (first,) if posterior.single else (first, last)
    result: Floats = np.zeros(len(sightings.order))
    for column, width in enumerate(posterior.widths.tolist()):
        start = last.searchsorted(sightings.order - width, side="right")
        result += before[start, column] / sightings.at_new + after[stop, column] / sightings.at_old
        for row, of in pairs(start, stop):
            s, old, new = sightings.order[row], sightings.at_old[row], sightings.at_new[row]
            for end in ends:
                passed = built_new(s, end[of], width)
                result += np.bincount(row, mass[of, column] / len(ends) / (old * (1 - passed) + new * passed), len(result))
    return np.minimum(sightings.replaced * result, 1.0)


def _shortest(posterior: Posterior, wanted: float) -> tuple[int, int]:
    """The shortest and then lowest stretch of orders that holds the mass wanted.

    The mass of a stretch of fixed length changes linearly with its start except where an end passes the end of a bin. So a
    shortest stretch begins with a bin or ends with one, and the lowest of that length is found on a line between two such.
    """
    first, last = posterior.first, posterior.last
    upper = _least(posterior, np.minimum(posterior.up_to(first - 1) + wanted, 1.0))
    lower = _greatest(posterior, np.maximum(posterior.up_to(last) - wanted, 0.0))
    enough = posterior.up_to(upper) - posterior.up_to(first - 1) >= wanted - ROUNDING
    lengths = np.concatenate([(upper - first)[enough], (last - lower)[posterior.up_to(last) >= wanted - ROUNDING]])
    length = int(lengths.min())
    starts = np.sort(np.concatenate([first, last + 1, last - length, last - length + 1]))
    starts = starts[(starts >= 0) & (starts + length <= posterior.n)]
    held = posterior.up_to(starts + length) - posterior.up_to(starts - 1)
    at = int(np.flatnonzero(held >= min(wanted, held.max()))[0])
    low = int(starts[at])
    if at:  # it may begin between the start before, which holds too little, and this one
        before = int(starts[at - 1])
        share = (wanted - held[at - 1]) / (held[at] - held[at - 1])
        low = min(low, before + int(np.ceil(share * (low - before) - ROUNDING)))
    return low, low + length


def _least(posterior: Posterior, mass: Floats) -> Orders:
    """The least order up to which at least so much lies."""
    ends = posterior.up_to(posterior.last)
    at = np.minimum(np.searchsorted(ends, mass, side="left"), len(ends) - 1)
    within = (mass - posterior.up_to(posterior.first - 1)[at]) / np.maximum(posterior.mass[at], ROUNDING**2) * posterior.size[at]
    return posterior.first[at] + np.clip(np.ceil(within - ROUNDING).astype(np.int64) - 1, 0, posterior.size[at] - 1)


def _greatest(posterior: Posterior, mass: Floats) -> Orders:
    """The greatest order before which at most so much lies."""
    begins = posterior.up_to(posterior.first - 1)
    at = np.maximum(np.searchsorted(begins, mass, side="right") - 1, 0)
    within = (mass - begins[at]) / np.maximum(posterior.mass[at], ROUNDING**2) * posterior.size[at]
    return posterior.first[at] + np.clip(np.floor(within + ROUNDING).astype(np.int64), 0, posterior.size[at] - 1)
