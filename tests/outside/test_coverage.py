"""The 90 % interval of a change-over, on datasets drawn again and again, holds the true first serial as often as it says.

Oracle: the generator, which knows the truth, and the binomial law. An interval states its mass, at least .90 (single serials are not divided),
so the count of hits is compared with the sum of the masses stated. Numbers of the long run stand in docs/history.md.
"""

import os
from math import sqrt
from typing import Any

import pytest

from kb.assumptions import Assumptions
from kb.probability.production.estimate import change_overs
from tests.probability.production.redrawn import Redrawn

USUAL = Assumptions()
DRAWN = 500 if os.environ.get("KB_CAMPAIGN") else 60


def no_marks(component_id: str, reading: str) -> dict[str, float]:
    raise AssertionError


def coverage(first_seed: int, **how: Any) -> tuple[int, float, float]:
    """How many of the intervals hold the truth, the sum of their masses, and the standard deviation of the count if they are right."""
    held, stated, variance = 0, 0.0, 0.0
    for seed in range(first_seed, first_seed + DRAWN):
        drawn = Redrawn(seed, USUAL, **how)
        found = change_overs(drawn.dataset, USUAL, no_marks)
        (change,) = found.changeovers
        chain = found.lineages[0].chain
        assert chain is not None
        mass = chain.marginal(0).between(change.low_order, change.high_order)
        assert mass >= USUAL.interval_mass - 1e-9
        held += change.low_order <= drawn.first_new <= change.high_order
        stated += mass
        variance += mass * (1 - mass)
    return held, stated, sqrt(variance)


CASES: list[tuple[dict[str, Any], str]] = [
    ({}, "mixed stretches as the prior has them"),
    ({"claims": 2}, "two sources"),
    ({"width": 60, "stated": True}, "a mixed stretch of 60, which a source tells"),
    ({"width": 400, "stated": True}, "of 400, which a source tells"),
    ({"width": 60}, "of 60, which nobody tells: 50 is the nearest that is thought of"),
    ({"width": 400}, "of 400, which nobody tells: between 200 and 800"),
    ({"width": 600}, "of 600, which nobody tells: one stretch in a hundred is thought to be of 800"),
    ({"claims": 2, "wrong": 1}, "one of two claims is wrong for certain"),
    ({"claims": 3, "wrong": 1, "width": 60}, "one of three is wrong, and a mixed stretch of 60"),
]


@pytest.mark.parametrize(("how", "why"), CASES)
def test_the_interval_holds_the_truth_as_often_as_it_says(how: dict[str, Any], why: str) -> None:
    """Within three standard deviations of the masses stated, and no less than three below the .90 asked for."""
    held, stated, deviation = coverage(1000, **how)
    promised = USUAL.interval_mass * DRAWN
    shown = f"{why}: {held} of {DRAWN}, stated {stated:.1f} +- {deviation:.1f}"
    assert held >= promised - 3 * sqrt(promised * (1 - USUAL.interval_mass)), shown
    assert abs(held - stated) <= 3 * max(deviation, 1.0), shown


def test_an_interval_that_is_sure_of_itself_is_caught() -> None:
    """The test above can fail: intervals made as if nothing were ever replaced hold the truth too seldom."""
    blind = USUAL.override(replaced_when_unknown=1e-6, replaced_when_believed_original=1e-6)
    held = 0
    for seed in range(1000, 1000 + DRAWN):
        drawn = Redrawn(seed, USUAL)
        (change,) = change_overs(drawn.dataset, blind, no_marks).changeovers
        held += change.low_order <= drawn.first_new <= change.high_order
    assert held < USUAL.interval_mass * DRAWN - 3 * sqrt(DRAWN * USUAL.interval_mass * (1 - USUAL.interval_mass))
