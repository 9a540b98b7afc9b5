"""The units concerned: the part of production that a lineage is about, counted separately.

A change-over of one model is about the blocks that contain it; the blocks between them do not count. docs/model.md, section 5.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

import numpy as np

from kb.probability.production.blocks import Line
from kb.probability.production.claims import Orders


@dataclass(frozen=True)
class Concerned:
    """The units concerned: whole blocks of a line, counted 0..count-1 separately."""

    line: Line
    blocks: tuple[int, ...]  # indices in the line, rising

    @cached_property
    def starts(self) -> tuple[int, ...]:
        """Order of the first number of each block, and at the end the count of all."""
        return tuple(accumulate((self.line.blocks[index].count for index in self.blocks), initial=0))

    @property
    def count(self) -> int:
        """How many."""
        return self.starts[-1]

    @cached_property
    def _begins(self) -> Orders:
        return np.array([self.line.starts[index] for index in self.blocks], dtype=np.int64)

    @cached_property
    def _ends(self) -> Orders:
        return np.array([self.line.starts[index + 1] for index in self.blocks], dtype=np.int64)

    @cached_property
    def _starts(self) -> Orders:
        return np.array(self.starts, dtype=np.int64)

    def orders(self, of_line: Orders) -> Orders:
        """Orders among the units concerned from orders of the line; what lies outside is moved up to the next one concerned."""
        at = np.searchsorted(self._ends, of_line, side="right")
        inside = np.minimum(at, len(self.blocks) - 1)
        moved: Orders = np.where(at < len(self.blocks), self._starts[inside] + np.maximum(of_line - self._begins[inside], 0), self.count)
        return moved

    def last_before(self, of_line: int) -> int:
        """The order of the last one concerned that is not after an order of the line; -1 if there is none."""
        return self.order(of_line + 1) - 1

    def of_line(self, orders: Orders) -> Orders:
        """Orders of the line from orders 0..count-1 among the units concerned."""
        at = np.searchsorted(self._starts, orders, side="right") - 1
        placed: Orders = self._begins[at] + orders - self._starts[at]
        return placed

    def order(self, of_line: int) -> int:
        """`orders` of a single one."""
        return int(self.orders(np.array([of_line]))[0])

    def held(self, of_line: Orders) -> Orders:
        """Orders among the units concerned of those orders of the line that are of units concerned."""
        orders = self.orders(of_line)
        held: Orders = orders[orders < self.orders(of_line + 1)]
        return held

    def serial(self, order: int) -> str:
        """The serial at an order; "" for the count itself, which says "not yet changed"."""
        if order >= self.count:
            return ""
        return self.line.serial(int(self.of_line(np.array([order]))[0]))
