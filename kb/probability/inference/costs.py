"""From what a wrong sale and a lost sale cost to the probabilities from which a verdict is given.

A seller may sell, say no, or ask the customer first. Selling a part that does not fit costs a return R; saying no to one that fits loses the
sale's value S; asking costs K whatever the answer. With the probability p that it fits the expected costs are R (1 - p), S p and K, and the
cheapest is right: sell from p = max(1 - K/R, R/(R + S)) on, say no up to p = min(K/S, R/(R + S)), ask between them.

Sources: with asking out of the question, p = R/(R + S) is equation 2 of Elkan, The foundations of cost-sensitive learning, IJCAI 2001; the
band of asking is the reject rule of Chow, On optimum recognition error and reject tradeoff, IEEE Transactions on Information Theory 16, 1970.
"""

from typing import NamedTuple

from kb.assumptions import Assumptions
from kb.words.errors import DataError


class Costs(NamedTuple):
    """What a part that comes back costs, and what a sale brings that is lost by saying no; in one currency."""

    return_cost: float | None
    sale_value: float | None


class Thresholds(NamedTuple):
    """From which probability on a part "fits", and from which probability of the contrary on it "does not fit"."""

    fits: float
    does_not_fit: float


def expected_cost_thresholds(return_cost: float, sale_value: float, asking_cost: float) -> Thresholds:
    """The rule above; costs in one currency, the first two above 0. With R = S and K = S/20 both are .95.

    >>> expected_cost_thresholds(1, 1, 0.05)
    Thresholds(fits=0.95, does_not_fit=0.95)
    >>> expected_cost_thresholds(40, 10, 1000).fits  # asking is out of the question: R / (R + S)
    0.8
    """
    both = return_cost / (return_cost + sale_value)
    return Thresholds(max(1 - asking_cost / return_cost, both), max(1 - asking_cost / sale_value, 1 - both))


def thresholds(assumptions: Assumptions, safety_critical: bool) -> Thresholds:
    """The thresholds that hold under these assumptions. Stated costs never lower those of safety-critical parts.

    Raises:
        DataError: only one of the costs is stated, or one is not above 0.
    """
    usual = Thresholds(assumptions.verdict_at, assumptions.verdict_at)
    back, sale = assumptions.return_cost, assumptions.sale_value
    if back is not None or sale is not None:
        if back is None or sale is None:
            raise DataError("The cost of a return without the value of a sale, or the other way round.", "State both, in one currency.")
        if not (back > 0 and sale > 0):
            raise DataError("A cost that is not above 0.", "State what a return costs and what a sale brings, both above 0.")
        stated = expected_cost_thresholds(back, sale, assumptions.asking_share * sale)
        least = assumptions.verdict_least
        usual = Thresholds(max(least, stated.fits), max(least, stated.does_not_fit))
    if safety_critical:
        return Thresholds(max(usual.fits, assumptions.verdict_at_safety), max(usual.does_not_fit, assumptions.verdict_at_safety))
    return usual
