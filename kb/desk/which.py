"""The questions that identification asks: which unit it is, and once that is settled, which castings it carries."""

import numpy as np
from numpy.typing import NDArray

from kb.desk import explain
from kb.desk.found import Entry, Found
from kb.inference.advice import entropy, normalised
from kb.inference.assembly import Spot

Floats = NDArray[np.float64]


class WhichUnit:
    """The question "which unit is it": the entries and, last, not in this knowledge base."""

    def __init__(self, found: Found) -> None:
        self.found = found
        book = found.weighing.book
        self.shown = found.entries[:50]
        self._labels = [f"{explain.model_name(book, e.maker, e.model)}, block {self._block(e)}" for e in self.shown] + ["not in this knowledge base"]
        self.rest = max(0.0, found.known - sum(e.probability for e in self.shown))

    def labels(self, spot: Spot | None) -> list[str]:
        """See `Asked`."""
        return self._labels

    def _block(self, entry: Entry) -> str:
        line, position = self.found.weighing.frames[entry.maker].u.blocks[entry.block]
        return str(line.blocks[position].block_id)

    @property
    def bits(self) -> float:
        """How open the question is."""
        return entropy(np.array([e.probability for e in self.shown] + [self.found.posterior.unknown, self.rest]))

    def by_spot(self, maker: str, spot: Spot) -> Floats:
        """See `Asked`."""
        mine = np.array([entry.maker == maker for entry in self.shown])
        parts = np.zeros((len(self.shown), len(self.found.posterior.mass[maker])))
        for row, entry in zip(parts, self.shown, strict=True):
            row[entry.cells if entry.maker == maker else []] = 1.0
        fitted = self.found.posterior.makers[maker].totals(spot, parts).fitted * self.found.posterior.scale[maker]
        joint = np.zeros((len(self.shown) + 1, fitted.shape[1] + 1))
        joint[:-1, :-1] = fitted
        joint[:-1, -1] = np.where(mine, 0.0, [entry.probability for entry in self.shown])
        joint[-1, -1] = self.found.posterior.unknown + self.rest
        return normalised(joint)

    def by_cells(self, maker: str) -> Floats:
        """See `Asked`."""
        joint = np.zeros((len(self.shown) + 1, len(self.found.posterior.mass[maker])))
        joint[-1] = self.found.posterior.mass[maker]
        for i, entry in enumerate(self.shown):
            if entry.maker == maker:
                joint[i, entry.cells] = joint[-1, entry.cells]
                joint[-1, entry.cells] = 0.0
        return joint

    def by_own_number(self, maker: str, assembly: str, parts: Floats) -> Floats:
        """See `Asked`."""
        table = self.found.posterior.makers[maker].table([], x_of=assembly, x_parts=parts) * self.found.posterior.scale[maker]  # (u cells, parts)
        shown = np.zeros((len(self.shown), len(table)))
        for i, entry in enumerate(self.shown):
            shown[i, entry.cells if entry.maker == maker else []] = 1.0
        joint: Floats = np.vstack([shown, 1 - shown.sum(0)]) @ table
        return joint


class WhichVariants:
    """The question "which castings does it carry", one place at a time: the answer is the variant itself."""

    def __init__(self, found: Found) -> None:
        self.found = found

    def labels(self, spot: Spot | None) -> list[str]:
        """See `Asked`."""
        book = self.found.weighing.book
        variants = [v.variant_id for v in book.variants_of.get(spot[0], [])] if spot else []
        return [explain.variant_name(book, variant) for variant in [*variants, ""]] + ["another unit"]

    def by_spot(self, maker: str, spot: Spot) -> Floats:
        """See `Asked`."""
        table = self.found.posterior.makers[maker].totals(spot).fitted[0] * self.found.posterior.scale[maker]
        joint = np.diag(np.append(table, max(0.0, 1 - table.sum())))
        return normalised(joint)

    def by_cells(self, maker: str) -> Floats:
        """See `Asked`: the serial is settled, re-reading it tells nothing more."""
        return np.zeros((len(self.labels(None)), len(self.found.posterior.mass[maker])))

    def by_own_number(self, maker: str, assembly: str, parts: Floats) -> None:
        """See `Asked`: asked one place at a time, what a number tells of several has no one answer."""
