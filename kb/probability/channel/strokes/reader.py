"""A reader of worn characters: compares what is left with every known character and names the one it resembles most.

Nothing here depends on letters: characters are sets of marks over any places, such as the segments of a display or the squares of a grid.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Marks = NDArray[np.bool_]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Reader:
    """How a reader judges.

    Attributes:
        missing: cost of a missing mark of the character (the bias: how readily missing ink is forgiven); an extra one costs 1.
        doubt: how much dearer a character must be to be e times less likely; 0: always the cheapest, ties shared.
    """

    missing: float = 1.0
    doubt: float = 0.0

    def reads(self, cost: Floats) -> Floats:
        """(P, C) probability that each pattern is read as each character, from the costs."""
        over = cost - cost.min(axis=1, keepdims=True)
        weight = np.exp(-over / self.doubt) if self.doubt else (over < 1e-9).astype(np.float64)  # numeric
        return np.asarray(weight / weight.sum(axis=1, keepdims=True), dtype=np.float64)

    def cost(self, seen: Marks, near_seen: Marks, known: Marks, near_known: Marks) -> Floats:
        """(P, C) what taking each pattern for each character costs.

        Args:
            seen, near_seen: (P, places) the patterns, and where a mark would count as theirs.
            known, near_known: (C, places) the characters, likewise.
        """
        missing = known.sum(axis=1) - near_seen.astype(np.float32) @ known.T.astype(np.float32)  # counts: exact in float32
        excess = seen.sum(axis=1, keepdims=True) - seen.astype(np.float32) @ near_known.T.astype(np.float32)
        return np.asarray(self.missing * missing.astype(np.float64) + excess, dtype=np.float64)


def flipped(known: Marks, loss: float, gain: float) -> tuple[Marks, Floats]:
    """All patterns over few places, (2^n, n), and how likely each comes of each character, (C, 2^n): marks vanish and appear independently."""
    places = known.shape[1]
    patterns = (np.arange(2**places)[:, None] >> np.arange(places) & 1).astype(np.bool_)
    chance = np.where(known[:, None, :], np.where(patterns, 1 - loss, loss), np.where(patterns, gain, 1 - gain))
    return patterns, np.asarray(chance.prod(axis=2), dtype=np.float64)
