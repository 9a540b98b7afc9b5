"""What verdicts assume of costs, if somebody stated them, in words that stand below every answer that they moved."""

from kb.assumptions import Assumptions
from kb.probability.inference.costs import thresholds


def costs(assumptions: Assumptions) -> str:
    """What verdicts assume of costs; "" where nobody stated any.

    >>> costs(Assumptions().override(return_cost=40.0, sale_value=20.0))
    'Assumed: a return costs 40, a sale brings 20, asking first costs 1. So "fits" from 0.975 on (safety-critical 0.99), "does not fit" from 0.95 on.'
    """
    if assumptions.return_cost is None or assumptions.sale_value is None:
        return ""
    usual, critical = thresholds(assumptions, safety_critical=False), thresholds(assumptions, safety_critical=True)
    return (
        f"Assumed: a return costs {assumptions.return_cost:g}, a sale brings {assumptions.sale_value:g}, "
        f"asking first costs {assumptions.asking_share * assumptions.sale_value:g}. "
        f'So "fits" from {usual.fits:.3g} on (safety-critical {critical.fits:.3g}), "does not fit" from {usual.does_not_fit:.3g} on.'
    )
