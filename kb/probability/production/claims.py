"""Claims: what the sources say about one change-over, as weights over the order of the first new unit.

A claim is right with the reliability of its source; otherwise the truth is close to it (a slip) or anywhere.
Formulas: docs/model.md, section 5.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions

Floats = NDArray[np.float64]
Orders = NDArray[np.int64]
Kind = Literal["exact", "about", "range"]
LEAST = 1e-30  # numeric: beside 1, stands for "impossible", so that contradicting certainties still leave the least contradicted order


@dataclass(frozen=True)
class Claim:
    """The first new unit is the one at `low` (exact, about), or one of `low`..`high` (range).

    Orders are among the units concerned, 0..n; n says "not yet changed". `reliability` is P(the source is right).
    """

    kind: Kind
    low: int
    high: int
    reliability: float


def spread(n: int, assumptions: Assumptions) -> float:
    """How far a slip goes, in orders: max(2, n/200) by default."""
    return max(assumptions.claim_spread_least, n * assumptions.claim_spread_share)


def log_weight(claim: Claim, b: Orders, n: int, assumptions: Assumptions) -> Floats:
    """Natural logarithm of the factor a claim brings.

    Args:
        claim: what is said.
        b: shape (k,), orders 0..n of the first new unit.
        n: how many units are concerned.
        assumptions: for the spread of slips.

    Returns: shape (k,).
    """
    r, anywhere = claim.reliability, 1.0 / (n + 1)
    if claim.kind == "range":
        inside = (claim.low <= b) & (b <= claim.high)
        weight = r * inside / (claim.high - claim.low + 1) + (1 - r) * anywhere
    else:
        near = _near(b, claim.low, n, spread(n, assumptions))
        weight = r * near + (1 - r) * anywhere if claim.kind == "about" else r * (b == claim.low) + (1 - r) * (near + anywhere) / 2
    return np.log(np.maximum(weight, LEAST))


def _near(b: Orders, c: int, n: int, scale: float) -> Floats:
    """exp(-|b - c| / scale), made to sum to 1 over 0..n by two geometric sums."""
    below_and_at = np.expm1(-(c + 1) / scale)
    above = np.exp(-1 / scale) * np.expm1(-(n - c) / scale)
    total = (below_and_at + above) / np.expm1(-1 / scale)
    near: Floats = np.exp(-np.abs(b - c) / scale) / total
    return near


def knots(claims: Iterable[Claim]) -> list[int]:
    """The orders at which a weight jumps or turns; between two of them it rises, falls or stays."""
    found = set()
    for claim in claims:
        found |= {claim.low, claim.low + 1, claim.high + 1}
    return sorted(found)


def meant(claim: Claim, n: int, assumptions: Assumptions) -> tuple[int, int]:
    """The orders, both ends included, in which the change-over lies if the claim is right."""
    if claim.kind != "about":
        return claim.low, claim.high
    reach = int(spread(n, assumptions))
    return max(claim.low - reach, 0), min(claim.low + reach, n)
