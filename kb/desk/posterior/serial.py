"""What readings of a serial weigh: of the unit at every cell of its production line, of a component's own number at every cell of that."""

from collections.abc import Iterator, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.desk.evidence.second_looks import compile_pieces
from kb.desk.evidence.serial import ResolvedSerial
from kb.desk.posterior.factor import Factor, Floats, Makers, Said, Weights, log, weighs
from kb.desk.sentences.unit import ANOTHER_MAKERS_NUMBER, affix_says, own_number_says, serial_says
from kb.probability.channel.range_weights import Weigher
from kb.probability.inference.posterior import MakerPosterior
from kb.probability.production.cell_table import CellTable
from kb.words.answers.identification import UnitEntry

NEGLIGIBLE = 1e-16  # numeric: a block that the serial makes this much less likely than the best is weighed as a whole


@weighs("serial")
def factors(makers: Makers, pieces: Sequence[ResolvedSerial]) -> Iterator["SerialFactor"]:
    """One of each number that was read: those of the unit, and those of each component."""
    whose: dict[str, list[ResolvedSerial]] = {"": []}
    for piece in pieces:
        whose.setdefault(piece.component, []).append(piece)
    for component, serials in whose.items():
        if serials:
            yield OwnNumberFactor(makers, serials) if component else UnitSerialFactor(makers, serials)


class SerialFactor(Factor):
    """All readings of one number; they share the wear, so they are one piece. component: which carries it, "" for the unit."""

    def __init__(self, makers: Makers, pieces: Sequence[ResolvedSerial]) -> None:
        self.makers, self.pieces, self.component = makers, list(pieces), pieces[0].component
        self.given, self.said = ", ".join(piece.text for piece in pieces), ", ".join(piece.said for piece in pieces)
        self.compiled = compile_pieces(pieces, makers.assumptions)

    @cached_property
    def unknown(self) -> float:
        """P(readings | a number that is not in this knowledge base)."""
        return self.makers.book.text_models["serial"].evidence(self.compiled)

    def where_unknown(self) -> float:
        """See `Factor`."""
        return self.unknown


class UnitSerialFactor(SerialFactor):
    """Readings of the serial of the unit."""

    about = "unit"

    def weights(self, maker: str) -> Weights:
        """See `Factor`."""
        return Weights(cells=self._cells[maker])

    def weigher(self, maker: str) -> Weigher | None:
        """See `Factor`."""
        return self._weighers[maker]

    def reason(self, unit: UnitEntry, posterior: MakerPosterior, bits: float) -> Said:
        """See `Factor`."""
        book, block = self.makers.book, self.makers.book.blocks[unit.block]
        says = serial_says(book, unit.maker, unit.model, unit.serial_first, unit.serial_last, bits > 0)
        meaning = [affix_says(book, unit.series, s.reading) for s in self.pieces if s.series_id in ("", unit.series)]
        return Said("; ".join([says, *filter(None, meaning)]), block.source_id or "", block.page or "")

    @cached_property
    def _weighers(self) -> dict[str, Weigher]:
        models = self.makers.models
        return {maker: Weigher(self.compiled, model.u.forms, self.makers.assumptions) for maker, model in models.items()}

    @cached_property
    def _cells(self) -> dict[str, Floats]:
        """maker -> (u cells,) P(readings | cell)."""
        models, prior = self.makers.models, self.makers.prior
        whole = {maker: _block_weights(weigher, models[maker].u) for maker, weigher in self._weighers.items()}
        best = max((float((prior[m] * w).max(initial=0.0)) for m, w in whole.items()), default=0.0)
        for maker, weigher in self._weighers.items():
            live = np.flatnonzero(prior[maker] * whole[maker] >= NEGLIGIBLE * best)
            whole[maker][live] = _cell_weights(weigher, models[maker].u, live)
        return whole


class OwnNumberFactor(SerialFactor):
    """Readings of the number that a component carries itself."""

    about = "number"

    def weights(self, maker: str) -> Weights:
        """See `Factor`."""
        if self.cells is None:
            return Weights()
        if maker != self._maker:
            return Weights(log(self.unknown), absent=((self.component, ""),))
        return Weights(own_number={self.component: self.cells})

    def where_unknown(self) -> float:
        """See `Factor`."""
        return 1.0 if self.cells is None else self.unknown

    def reason(self, unit: UnitEntry, posterior: MakerPosterior, bits: float) -> Said:
        """See `Factor`."""
        book = self.makers.book
        if unit.maker != self._maker:
            return Said(ANOTHER_MAKERS_NUMBER)
        model = self.makers.models[unit.maker]
        assembly = model.components[self.component].assembly
        x = model.own[assembly].x
        line, position = x.blocks[int(np.bincount(x.block, weights=posterior.assemblies[assembly].own_numbers()).argmax())]
        block = book.blocks[line.blocks[position].block_id]
        return Said(own_number_says(book, block), block.source_id or "", block.page or "")

    @property
    def _maker(self) -> str:
        return str(self.makers.book.components[self.component].maker_id)

    @cached_property
    def cells(self) -> Floats | None:
        """(x cells,) P(readings | x); None where no numbers of that component are recorded, so that a reading says nothing."""
        model = self.makers.models.get(self._maker)
        own = model.own.get(model.components[self.component].assembly) if model is not None else None
        if own is None:
            return None
        weights = _cell_weights(Weigher(self.compiled, own.x.forms, self.makers.assumptions), own.x, np.arange(len(own.x.units)))
        named = {s.series_id for s in self.pieces}
        weights[~np.isin(own.x.line, [i for i, line in enumerate(own.x.lines) if {line.series_id} == named])] = 0.0
        return weights


def _block_weights(weigher: Weigher, cells: CellTable) -> Floats:
    """(cells,) P(reading | block of the cell)."""
    ends = [(line.blocks[position].first, line.blocks[position].last) for line, position in cells.blocks]
    first, last = np.array(ends, dtype=np.int64).reshape(-1, 2).T
    weights = weigher.weights(np.arange(len(ends)), first, last) / (last - first + 1)
    return np.asarray(weights[cells.block], dtype=np.float64)


def _cell_weights(weigher: Weigher, cells: CellTable, some: NDArray[np.int64]) -> Floats:
    """(len(some),) P(reading | cell) for some cells."""
    first, last = cells.first[some], cells.last[some]
    return weigher.weights(cells.block[some], first, last) / (last - first + 1)
