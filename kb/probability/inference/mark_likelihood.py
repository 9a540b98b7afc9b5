"""P(a mark read | variant): on the average of the marks that the variant bears, or of a foundry's (docs/model.md, section 4).

The build weighs marks read on sighted units with it, the desk marks read on the unit in question.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions

Floats = NDArray[np.float64]


def none_there(marked: Sequence[bool], assumptions: Assumptions) -> Floats:
    """(V,) P(no mark there | variant). marked: whether one is recorded on each variant."""
    return np.array([assumptions.none_where_marked if each else assumptions.none_where_unmarked for each in marked], dtype=np.float64)


def foundry_share(known: int, assumptions: Assumptions) -> float:
    """How often what was read is a foundry mark, of which so many are known."""
    return assumptions.foundry_share if known else 0.0


def or_foundry(own: Floats, foundry: Floats, assumptions: Assumptions) -> Floats:
    """What was read may be a foundry mark, any one as likely, with the share that such marks have; nothing changes where none is known.

    Args:
        own: P(reading | a mark of its own), any shape.
        foundry: (F,) P(reading | text) of every foundry mark.
    """
    share = foundry_share(len(foundry), assumptions)
    return (1 - share) * own + (share * float(foundry.mean()) if len(foundry) else 0.0)


def mark_likelihood(of_marks: Sequence[Floats], unrecorded: float, foundry: Floats, assumptions: Assumptions) -> Floats:
    """(V,) L(v) = (1 - P(no mark | v)) ((1 - s) mean of P(reading | mark of v) + s mean of P(reading | foundry mark)).

    Args:
        of_marks: for each variant (m,) P(reading | text) of its marks; empty where none is recorded.
        unrecorded: U(reading), which stands for the marks of such a variant.
        foundry: (F,) as in `or_foundry`.

    >>> usual = Assumptions()
    >>> marked, unmarked = mark_likelihood([np.array([0.8, 0.2]), np.zeros(0)], 0.01, np.zeros(0), usual).tolist()
    >>> round(marked, 6) == round((1 - usual.none_where_marked) * 0.5, 6), round(unmarked, 6) == round((1 - usual.none_where_unmarked) * 0.01, 6)
    (True, True)
    """
    own = np.array([float(mine.mean()) if len(mine) else unrecorded for mine in of_marks], dtype=np.float64)
    return (1 - none_there([len(mine) > 0 for mine in of_marks], assumptions)) * or_foundry(own, foundry, assumptions)
