"""The cells of production lines: stretches of serials within which, as far as this knowledge base can tell, every unit was built alike."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.probability.channel.digits import PrintedForm
from kb.probability.production.blocks import Line
from kb.probability.production.layout import Lines
from kb.probability.production.limits import NOTHING, orders_within
from kb.words.applicability import Limit

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class LineCells:
    """The stretches of one line within which every serial counts alike (docs/model.md, section 8).

    Arrays of one length: block (position in `blocks` of the line), model (index in `models`), first and last number, units.
    """

    models: tuple[str, ...]
    block: NDArray[np.int32]
    model: NDArray[np.int32]
    first: NDArray[np.int64]
    last: NDArray[np.int64]
    units: Floats


@dataclass(frozen=True, eq=False)
class CellTable:
    """The cells of several lines, one after the other.

    Arrays of one length: block (index in `blocks`), model (index in `models`), first and last number, units.
    """

    lines: tuple[Line, ...]
    blocks: tuple[tuple[Line, int], ...]  # (line, position of the block in it)
    models: tuple[str, ...]
    line: Ints
    block: Ints
    model: Ints
    first: Ints
    last: Ints
    units: Floats

    @classmethod
    def of(cls, lines: tuple[Line, ...], cells_of: Mapping[str, LineCells]) -> "CellTable":
        """Join the cells of these lines. cells_of: line_id -> its cells."""
        blocks = tuple((line, position) for line in lines for position in range(len(line.blocks)))
        models: list[str] = []
        parts: list[list[NDArray[np.generic]]] = [[] for _ in range(6)]
        start = 0
        for number, line in enumerate(lines):
            cells = cells_of[line.line_id]
            models += [m for m in cells.models if m not in models]
            index = np.array([models.index(m) for m in cells.models], dtype=np.int64)
            columns = (
                np.full(len(cells.block), number),
                cells.block + start,
                index[cells.model] if len(index) else cells.model,
                cells.first,
                cells.last,
                cells.units,
            )
            for part, column in zip(parts, columns, strict=True):
                part.append(column)
            start += len(line.blocks)
        joined = [np.concatenate(part) if part else np.zeros(0) for part in parts]
        line_of, block, model, first, last = (column.astype(np.int64) for column in joined[:5])
        return cls(lines, blocks, tuple(models), line_of, block, model, first, last, joined[5].astype(np.float64))

    @cached_property
    def forms(self) -> tuple[PrintedForm, ...]:
        """How the serials of each block are printed."""
        return tuple(line.form(position) for line, position in self.blocks)

    @cached_property
    def orders(self) -> Ints:
        """(cells,) production order, in its line, of the first serial of each cell."""
        return np.array(
            [self.blocks[b][0].order(self.blocks[b][1], int(first)) for b, first in zip(self.block, self.first, strict=True)], dtype=np.int64
        )

    def within(self, limit: Limit) -> Bools:
        """(cells,) the cells that lie within a limit; looked up once. Without a series a serial may be of any series these cells are of."""
        if limit not in self._within:
            left = orders_within(self._lines, limit)
            spans = [left.get(line.line_id, NOTHING) for line in self.lines]
            low, high = np.array([(span.low, span.high) for span in spans], dtype=np.int64).reshape(-1, 2)[self.line].T
            self._within[limit] = (self.orders >= low) & (self.orders <= high)
        return self._within[limit]

    def of_model(self, model_id: str) -> Bools:
        """(cells,) the cells of a model."""
        return np.array([name == model_id for name in self.models], dtype=bool)[self.model]

    @cached_property
    def _lines(self) -> Lines:
        return Lines(self.lines)

    @cached_property
    def _within(self) -> dict[Limit, Bools]:
        return {}

    @cached_property
    def share(self) -> Floats:
        """(cells,) proportional to units, sums to 1."""
        total = self.units.sum()
        return self.units / total if total else np.zeros(len(self.units))
