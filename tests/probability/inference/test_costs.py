"""Verdict thresholds from stated costs, against the textbook.

Source: Elkan, The foundations of cost-sensitive learning, IJCAI 2001, eq. 2: act as if it fits from p* = (c10 - c00) / (c10 - c00 + c01 - c11) on;
Chow, On optimum recognition error and reject tradeoff, IEEE Trans. Information Theory 16, 1970: reject where no class is probable enough.
Oracle: the cheapest of the three actions at every probability of a fine grid.
"""

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.probability.inference.costs import expected_cost_thresholds, thresholds
from kb.probability.inference.verdict import VerdictContext, VerdictThresholds, verdict
from kb.words.errors import DataError

COSTS = [(1.0, 1.0, 0.05), (40.0, 20.0, 1.0), (5.0, 100.0, 5.0), (300.0, 10.0, 0.5), (7.0, 7.0, 3.0)]


@pytest.mark.parametrize(("back", "sale", "asking"), COSTS)
def test_the_cheapest_action_at_every_probability(back: float, sale: float, asking: float) -> None:
    at = expected_cost_thresholds(back, sale, asking)
    for p in np.linspace(0, 1, 10001):
        costs = {"sell": back * (1 - p), "ask": asking, "refuse": sale * p}
        ours = "sell" if p >= at.fits else "refuse" if 1 - p >= at.does_not_fit else "ask"
        assert costs[ours] <= min(costs.values()) + 1e-9, (p, ours)


@pytest.mark.parametrize(("back", "sale"), [(1.0, 1.0), (40.0, 20.0), (19.0, 1.0), (1.0, 3.0)])
def test_without_asking_it_is_the_two_way_rule(back: float, sale: float) -> None:
    """c10 = cost of selling what does not fit, c01 = cost of refusing what fits, right decisions cost nothing."""
    at = expected_cost_thresholds(back, sale, asking_cost=1e9)
    assert at.fits == pytest.approx(back / (back + sale))
    assert at.does_not_fit == pytest.approx(1 - at.fits)


def test_equal_costs_leave_the_verdicts_as_they_are() -> None:
    assert thresholds(Assumptions().override(return_cost=30.0, sale_value=30.0), False) == pytest.approx(thresholds(Assumptions(), False))


@pytest.mark.parametrize(("back", "sale", "critical", "fits"), [
    (40.0, 20.0, False, 0.975),
    (20.0, 40.0, False, 0.9),
    (1.0, 1000.0, False, Assumptions().verdict_least),  # however cheap a return, an even chance is no "fits"
    (1.0, 1000.0, True, 0.99),  # never lower for what is safety-critical
    (1000.0, 10.0, True, 0.9995),  # but higher if a return is dear
])
def test_stated_costs_move_the_threshold(back: float, sale: float, critical: bool, fits: float) -> None:
    assumptions = Assumptions().override(return_cost=back, sale_value=sale)
    assert thresholds(assumptions, critical).fits == pytest.approx(fits)
    standing = VerdictContext(safety_critical=critical)
    assert verdict(fits + 1e-9, 0.0, standing, VerdictThresholds.of(assumptions)) == "fits"
    assert verdict(fits - 1e-6, 0.0, standing, VerdictThresholds.of(assumptions)) == "check first"


@pytest.mark.parametrize("costs", [{"return_cost": 5.0}, {"sale_value": 5.0}, {"return_cost": 0.0, "sale_value": 5.0}])
def test_half_a_statement_is_refused(costs: dict[str, float]) -> None:
    with pytest.raises(DataError):
        thresholds(Assumptions().override(**costs), False)
