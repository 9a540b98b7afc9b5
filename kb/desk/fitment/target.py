"""The question which of some rules apply at a place, as advice sees it: does this part fit here, or which of these steps is to be done here."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from kb.desk.fitment.joint_table import JointTable, JointTables
from kb.probability.inference.assembly import Spot
from kb.probability.inference.posterior import MakerPosterior
from kb.words.applicability import Applicability

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


class RuleTarget:
    """A question about one place whose answers are events of a joint table; a `Target`."""

    places = (None,)

    def __init__(
        self, tables: JointTables, spot: Spot, rules: Sequence[Applicability], labels: Sequence[str], events: Callable[[JointTable], Sequence[int]]
    ) -> None:
        """Put the question.

        Args:
            rules: what the answers depend on.
            labels: the answers in words; the last is right where none of the others is.
            events: where each of the others is right, in their order; no two of them share an entry.
        """
        self.tables, self.spot, self.rules, self.events = tables, spot, rules, events
        self._labels = [*labels]

    def labels(self, spot: Spot | None) -> list[str]:
        """See `Target`."""
        return self._labels

    def by_spot(self, maker: str, spot: Spot) -> Floats:
        """See `Target`."""
        table = self._table(spot)
        return table.by_variant(self._sets(table), spot)

    def by_fitted(self, maker: str, spot: Spot, posterior: MakerPosterior, of: Spot) -> Floats:
        """See `Target`."""
        table = self._table(spot if maker == self.tables.context.maker else None)
        return table.by_fitted(self._sets(table), maker, spot, posterior)

    def by_cells(self, maker: str, of: Spot | None = None) -> Floats:
        """See `Target`."""
        table = self._table()
        return table.by_cells(self._sets(table), maker)

    def by_own_number(self, maker: str, assembly: str, parts: Floats) -> Floats:
        """See `Target`."""
        table = self._table()
        return table.by_own_number(self._sets(table), assembly, parts)

    def _table(self, also: Spot | None = None) -> JointTable:
        return self.tables.of(self.spot, self.rules, also)

    def _sets(self, table: JointTable) -> list[Bools]:
        """For each answer, (shaped as the table) where it is right."""
        told = [table.members(event).reshape(table.table.shape) for event in self.events(table)]
        return [*told, ~np.logical_or.reduce(told)]
