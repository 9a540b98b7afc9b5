"""Does a part fit: from a joint table of what may be fitted to yes, no and silence, and from those to a verdict.

docs/model.md, section 9. Arrays only.
"""

from dataclasses import dataclass
from typing import Literal, Sequence

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

YES, NO, SILENCE = 0, 1, 2


@dataclass(frozen=True)
class RowTruth:
    """When one fitment row holds, over the axes of a joint table.

    limits: (cells,) or (cells, parts of an own number): series, serial range and model. axes: axis of the table (1, 2, ...) -> (V+1,)
    fitted variants with which its conditions on that component place hold. never: a condition fails whatever is fitted.
    """

    limits: Bools
    axes: dict[int, Bools]
    never: bool = False

    def over(self, shape: tuple[int, ...]) -> Bools:
        """The truth of the row for every entry of a table of this shape, the parts of an own number last."""
        truth = np.full((1,) * len(shape), not self.never)
        for axis, allowed in self.axes.items():
            truth = truth & allowed.reshape([-1 if a == axis else 1 for a in range(len(shape))])
        return np.asarray(np.broadcast_to(truth & limit_truth(self.limits, len(shape)), shape))


def limit_truth(limits: Bools, axes: int) -> Bools:
    """Limits (cells,) or (cells, parts) shaped to be broadcast over a table with that many axes."""
    between = (1,) * (axes - limits.ndim)
    return limits.reshape(limits.shape[:1] + between + limits.shape[1:])


def states(shape: tuple[int, ...], holds: Sequence[RowTruth], refuses: Sequence[RowTruth], others: Sequence[RowTruth]) -> NDArray[np.int8]:
    """YES, NO or SILENCE for every entry of a joint table.

    Args:
        shape: of the table (cells, V+1, ...[, parts]).
        holds: the rows that say it fits. refuses: the rows that say it does not. others: rows of other parts in the same role.
    """
    refused = _any(refuses, shape)
    yes = _any(holds, shape) & ~refused
    beyond = np.ones((1,) * len(shape), dtype=bool)
    for row in (*holds, *refuses):
        beyond = beyond & ~limit_truth(row.limits, len(shape))
    says_no = ~yes & (refused | _any(others, shape) | beyond)
    return np.where(yes, YES, np.where(says_no, NO, SILENCE)).astype(np.int8)


def _any(rows: Sequence[RowTruth], shape: tuple[int, ...]) -> Bools:
    truth = np.zeros(shape, dtype=bool)
    for row in rows:
        truth |= row.over(shape)
    return truth


def masses(table: Floats, state: NDArray[np.int8]) -> Floats:
    """(3,) the probability in each state; `table` holds joint probabilities."""
    return np.bincount(state.ravel(), weights=table.ravel(), minlength=3)


@dataclass(frozen=True)
class Standing:
    """What besides the masses decides a verdict."""

    safety_critical: bool = False
    component_seen: bool = True  # a mark, feature or measure of this component is among the evidence
    to_be_measured: bool = False  # the row asks for a measure that was not given
    sound: float = 1.0  # yes by the rows that do not rest on grade D alone


def verdict(mass: Floats, standing: Standing, assumptions: Assumptions) -> Literal["fits", "does not fit", "check first", "not recorded"]:
    """The verdict for masses (yes, no, silence).

    >>> verdict(np.array([0.97, 0.02, 0.01]), Standing(), Assumptions())
    'fits'
    >>> verdict(np.array([0.97, 0.02, 0.01]), Standing(safety_critical=True), Assumptions())
    'check first'
    """
    at = assumptions.verdict_at_safety if standing.safety_critical else assumptions.verdict_at
    yes, no, silence = (float(part) for part in mass)
    if yes >= at:
        seen = standing.component_seen or not standing.safety_critical
        return "fits" if seen and not standing.to_be_measured and standing.sound >= at else "check first"
    if no >= at:
        return "does not fit"
    return "not recorded" if silence >= assumptions.not_recorded_at else "check first"
