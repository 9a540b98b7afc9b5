"""Events of a joint posterior: sets of its entries are whole numbers, one bit an entry, so that thousands of rules cost little.

Entries are (cell, fitted variant at each place..., part of each own number...) of a table from `kb.probability.inference.posterior`.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
_FEW = 48


class EventSpace:
    """Sets of entries of one joint table.

    >>> space = EventSpace(np.array([[0.1, 0.2], [0.3, 0.4]]))
    >>> second_variant = space.along(1, np.array([False, True]))
    >>> round(space.mass(second_variant), 3), round(space.mass(space.everything & ~second_variant), 3)
    (0.6, 0.4)
    """

    def __init__(self, table: Floats) -> None:
        """table: (cells, V+1, ..., parts, ...) joint probabilities; they need not sum to 1."""
        self.table = table
        self._flat = table.ravel()
        self.everything = (1 << self._flat.size) - 1
        self._masses: dict[int, float] = {0: 0.0}
        self._each: list[float] = self._flat.tolist() if self._flat.size <= _FEW else []
        self._sets: dict[tuple[int, bytes], int] = {}

    def along(self, axis: int, allowed: Bools) -> int:
        """The entries whose index on one axis is allowed."""
        key = (axis, allowed.tobytes())
        if key not in self._sets:
            self._sets[key] = self._number(allowed.reshape([-1 if a == axis else 1 for a in range(self.table.ndim)]))
        return self._sets[key]

    def mass(self, entries: int) -> float:
        """The probability of a set of entries."""
        mass = self._masses.get(entries)
        if mass is None:
            if self._each:  # of few entries, one by one takes less time than an array
                mass, left = 0.0, entries
                while left:
                    lowest = left & -left
                    mass += self._each[lowest.bit_length() - 1]
                    left ^= lowest
            else:
                mass = float(self._flat[self.members(entries)].sum())
            self._masses[entries] = mass
        return mass

    def members(self, entries: int) -> Bools:
        """(entries of the flattened table,) which of them belong to the set."""
        size = self._flat.size
        packed = np.frombuffer(entries.to_bytes((size + 7) // 8, "little"), np.uint8)
        return np.unpackbits(packed, count=size, bitorder="little").astype(bool)

    def _number(self, truth: Bools) -> int:
        return int.from_bytes(np.packbits(np.broadcast_to(truth, self.table.shape).ravel(), bitorder="little").tobytes(), "little")
