"""Wear: how often a character that looks plain is another one (docs/model.md, section 1)."""

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.words.errors import DataError
from kb.words.notation import ALPHABET


def confusion(level: str, assumptions: Assumptions) -> NDArray[np.float64]:
    """M[true, seen], shape (36, 36), rows sum to 1, characters in the order of `kb.words.notation.ALPHABET`.

    The right character with 1 - m, every other with m / 35, m by wear.

    Raises:
        DataError: there is no such level of wear.
    """
    if level not in assumptions.misread:
        raise DataError(f'"{level}" is not a level of wear.', f"Use one of: {', '.join(assumptions.misread)}.")
    misread, size = assumptions.misread[level], len(ALPHABET)
    table = np.full((size, size), misread / (size - 1))
    np.fill_diagonal(table, 1 - misread)
    return table
