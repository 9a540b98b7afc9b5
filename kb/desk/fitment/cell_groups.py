"""Cells that no rule tells apart are one: what rules tell units apart by, and the cells in groups."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from kb.probability.production.cell_table import CellTable
from kb.words.applicability import Limit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_BITS = 64  # of a number


@dataclass(frozen=True, eq=False)
class Distinctions:
    """What rules tell cells apart by: limits of the unit's serial, and models."""

    limits: tuple[Limit, ...]
    models: tuple[str, ...]

    def numbers(self, cells: CellTable, some: Ints) -> Ints:
        """(len(some),) a number for each of some cells, the same for those that nothing tells apart."""
        seen = [cells.within(limit)[some] for limit in self.limits] + [cells.of_model(model)[some] for model in self.models]
        numbers = np.zeros(len(some), np.int64)
        for at in range(0, len(seen), _BITS):
            packed = np.zeros((len(some), 8), np.uint8)
            packed[:, : -(-len(seen[at : at + _BITS]) // 8)] = np.packbits(seen[at : at + _BITS], axis=0).T
            more = packed.view(np.int64).ravel()
            numbers = more if at == 0 else np.unique(np.stack([numbers, more]), axis=1, return_inverse=True)[1].ravel()
        return numbers


class CellGroups(NamedTuple):
    """Cells in groups. which: (cells,) the group of each. first: (groups,) a cell of each. order: the cells group by group. starts: of the groups."""

    which: Ints
    first: Ints
    order: Ints
    starts: Ints

    @classmethod
    def of(cls, numbers: Ints, cells: Ints) -> "CellGroups":
        """The cells, by the numbers of their groups."""
        order = np.argsort(numbers, kind="stable")
        begins = np.append(True, np.diff(numbers[order]) != 0)[: len(order)]
        which = np.empty(len(order), np.int64)
        which[order] = np.cumsum(begins) - 1
        starts = np.flatnonzero(begins)
        return cls(which, cells[order[starts]], order, starts)

    def together(self, table: Floats) -> Floats:
        """(groups, ...) the sums of a table (cells, ...)."""
        summed: Floats = np.add.reduceat(table[self.order], self.starts, axis=0)
        return summed
