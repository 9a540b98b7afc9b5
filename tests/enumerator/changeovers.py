"""When one variant followed another: b and w walked through one by one (docs/model.md, section 5).

b is the order of the first new unit, 0..n (n: not yet changed); w is the length of the mixed stretch.
"""

from itertools import accumulate
from math import exp, log2
from typing import NamedTuple

from kb.assumptions import Assumptions

Single = dict[tuple[int, int], float]  # (b, w) -> probability


class Claim(NamedTuple):
    """What one source says about b."""

    kind: str  # exact, about, range
    low: int
    high: int
    reliability: float


class Observed(NamedTuple):
    """A sighting at one order: its likelihood if the unit left the works old, or new, and if the casting was replaced."""

    order: int
    at_old: float
    at_new: float
    replaced: float


def built_new(s: int, b: int, w: int) -> float:
    """R(s; b, w): probability that the unit at order s was built new."""
    if s < b:
        return 0.0
    return (s - b + 1) / (w + 1) if s < b + w else 1.0


def widths_prior(claimed: list[int], assumptions: Assumptions) -> dict[int, float]:
    """P(w)."""
    weights = dict(assumptions.mixed_width)
    for width in claimed:
        weights[width] = max(weights.get(width, 0.0), assumptions.claimed_width_weight)
    return {w: weight / sum(weights.values()) for w, weight in weights.items()}


def spread(n: int, assumptions: Assumptions) -> float:
    """How far off a serial is that is not quite right."""
    return max(assumptions.claim_spread_least, n * assumptions.claim_spread_share)


def claim_factor(claim: Claim, n: int, assumptions: Assumptions) -> list[float]:
    """What a claim multiplies the posterior by, for b = 0..n."""
    flat, r = 1 / (n + 1), claim.reliability
    if claim.kind == "range":
        length = claim.high - claim.low + 1
        return [r * (claim.low <= b <= claim.high) / length + (1 - r) * flat for b in range(n + 1)]
    near = [exp(-abs(b - claim.low) / spread(n, assumptions)) for b in range(n + 1)]
    local = [x / sum(near) for x in near]
    if claim.kind == "about":
        return [r * local[b] + (1 - r) * flat for b in range(n + 1)]
    return [r * (b == claim.low) + (1 - r) * (local[b] / 2 + flat / 2) for b in range(n + 1)]


def estimate(n: int, claims: list[Claim], widths: list[int], sightings: list[Observed], assumptions: Assumptions) -> Single:
    """The posterior of (b, w) of one change-over by itself."""
    of_width = widths_prior(widths, assumptions)
    factors = [claim_factor(claim, n, assumptions) for claim in claims]
    posterior: Single = {}
    for b in range(n + 1):
        for w, probability in of_width.items():
            for factor in factors:
                probability *= factor[b]
            for seen in sightings:
                new = built_new(seen.order, b, w)
                probability *= seen.at_old * (1 - new) + seen.at_new * new
            posterior[b, w] = probability
    total = sum(posterior.values())
    return {bw: p / total for bw, p in posterior.items()}


def in_order(columns: list[list[float]]) -> float:
    """Sum over all b1 <= b2 <= ... of columns[0][b1] columns[1][b2] ..."""
    ways = [1.0] + [0.0] * (len(columns[0]) - 1) if columns else [1.0]
    for column in columns:
        ways = [value * so_far for value, so_far in zip(column, accumulate(ways), strict=True)]
    return sum(ways)


def over_b(single: Single, s: int | None = None) -> list[float]:
    """For each b the sum over w of P(b, w), or of P(b, w) R(s; b, w) where an order s is given."""
    sums = [0.0] * (max(b for b, _ in single) + 1)
    for (b, w), p in single.items():
        sums[b] += p if s is None else p * built_new(s, b, w)
    return sums


def stages(singles: list[Single], s: int) -> list[float]:
    """Probability that the unit at order s was built with variant 0, 1, ... K of the lineage, over the joint posterior."""
    plain = [over_b(single) for single in singles]
    passed = [over_b(single, s) for single in singles]
    whole = in_order(plain)
    at_least = [in_order(passed[:k] + plain[k:]) / whole for k in range(len(singles) + 1)] + [0.0]
    return [at_least[k] - at_least[k + 1] for k in range(len(singles) + 1)]


def joint_marginal(singles: list[Single], k: int) -> Single:
    """P(b, w) of change-over k in the joint posterior with b1 <= b2 <= ..."""
    plain = [over_b(single) for single in singles]
    whole = in_order(plain)
    kept = []
    for b in range(len(plain[k])):
        only = [p if i == b else 0.0 for i, p in enumerate(plain[k])]
        kept.append(in_order(plain[:k] + [only] + plain[k + 1 :]) / whole)
    return {(b, w): kept[b] * p / plain[k][b] if plain[k][b] else 0.0 for (b, w), p in singles[k].items()}


def result(marginal: Single, assumptions: Assumptions) -> tuple[int, float, int, int]:
    """Most probable b, its probability, and the shortest stretch low..high that holds at least .90; the lowest on ties."""
    of_b = over_b(marginal)
    best = max(range(len(of_b)), key=lambda b: (round(of_b[b], 12), -b))
    sums = [0.0, *accumulate(of_b)]
    for length in range(1, len(of_b) + 1):
        for low in range(len(of_b) - length + 1):
            if sums[low + length] - sums[low] >= assumptions.interval_mass - 1e-12:
                return best, of_b[best], low, low + length - 1
    raise ValueError("probabilities do not sum to 1")


def standing(claim: Claim, marginal: Single, assumptions: Assumptions) -> tuple[str, float]:
    """Whether a claim is supported, contradicted or open, and P(b in it)."""
    of_b = over_b(marginal)
    reach = spread(len(of_b) - 1, assumptions) if claim.kind == "about" else 0
    inside = [claim.low - reach <= b <= claim.high + reach for b in range(len(of_b))]
    probability = sum(p for p, is_in in zip(of_b, inside, strict=True) if is_in)
    _, _, low, high = result(marginal, assumptions)
    if probability >= assumptions.supported_at:
        return "supported", probability
    if probability <= assumptions.contradicted_at and not all(inside[low : high + 1]):
        return "contradicted", probability
    return "open", probability


def replaced(seen: Observed, marginal: Single) -> float:
    """P(the casting seen is not the first); the sighting is odd if this exceeds .5."""
    total = 0.0
    for (b, w), p in marginal.items():
        if p:
            new = built_new(seen.order, b, w)
            total += p * seen.replaced / (seen.at_old * (1 - new) + seen.at_new * new)
    return total


def entropy(probabilities: list[float]) -> float:
    """In bits."""
    return -sum(p * log2(p) for p in probabilities if p > 0)


def gain(s: int, marginal: Single, rho: float, g_old: float, g_new: float) -> float:
    """Expected drop in the entropy of b from a sighting at order s: an old variant, a new one, or another one.

    P(old one seen | b, w) = (1 - rho)(1 - R) + rho g(Old), and likewise for a new one; another one says nothing about b.
    """
    before = over_b(marginal)
    expected = rho * (1 - g_old - g_new) * entropy(before)
    for sign, g in ((0, g_old), (1, g_new)):
        joint = [0.0] * len(before)
        for (b, w), p in marginal.items():
            new = built_new(s, b, w)
            joint[b] += p * ((1 - rho) * (new if sign else 1 - new) + rho * g)
        total = sum(joint)
        expected += total * entropy([p / total for p in joint]) if total else 0.0
    return entropy(before) - expected
