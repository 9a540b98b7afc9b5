"""The questions that identification asks: which unit it is, and once that is settled, which castings it carries."""

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.desk.posterior.examination import Examination, UnitCandidate
from kb.desk.sentences.names import unit_name, variant_name
from kb.probability.inference.assembly import Spot
from kb.probability.inference.information import entropy, normalised
from kb.probability.inference.posterior import MakerPosterior
from kb.probability.inference.target import ANYWHERE

Floats = NDArray[np.float64]


class UnitTarget:
    """The question "which unit is it": the entries and, last, not in this knowledge base."""

    places = (None,)

    def __init__(self, found: Examination) -> None:
        self.found = found
        book = found.book
        self.shown = found.entries[:50]
        self._labels = [unit_name(book, e.maker, e.model, self._block(e)) for e in self.shown] + ["not in this knowledge base"]
        self.rest = max(0.0, found.known - sum(e.probability for e in self.shown))

    def labels(self, spot: Spot | None) -> list[str]:
        """See `Asked`."""
        return self._labels

    def _block(self, entry: UnitCandidate) -> str:
        line, position = self.found.weighing.frames[entry.maker].u.blocks[entry.block]
        return str(line.blocks[position].block_id)

    @property
    def bits(self) -> float:
        """How open the question is."""
        return entropy(np.array([e.probability for e in self.shown] + [self.found.posterior.unknown, self.rest]))

    def by_spot(self, maker: str, spot: Spot) -> Floats:
        """See `Asked`."""
        fitted = self.by_fitted(maker, spot, self.found.posterior.makers[maker], spot)
        others = [0.0 if entry.maker == maker else entry.probability for entry in self.shown]
        return normalised(np.column_stack([fitted, [*others, max(0.0, 1 - float(fitted.sum()) - sum(others))]]))

    def by_fitted(self, maker: str, spot: Spot, posterior: MakerPosterior, of: Spot) -> Floats:
        """See `Asked`."""
        parts = np.zeros((len(self.shown) + 1, len(posterior.base)))
        parts[-1] = 1.0
        for row, entry in zip(parts, self.shown, strict=False):
            if entry.maker == maker:
                row[entry.cells] = 1.0
                parts[-1, entry.cells] = 0.0
        return posterior.totals(spot, parts).fitted * self.found.posterior.scale[maker]

    def by_cells(self, maker: str, of: Spot | None = None) -> Floats:
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
        table = self.found.posterior.makers[maker].table([], x_parts={assembly: parts}) * self.found.posterior.scale[maker]  # (u cells, parts)
        shown = np.zeros((len(self.shown), len(table)))
        for i, entry in enumerate(self.shown):
            shown[i, entry.cells if entry.maker == maker else []] = 1.0
        joint: Floats = np.vstack([shown, 1 - shown.sum(0)]) @ table
        return joint


class VariantTarget:
    """The question "which castings does it carry", one place at a time: the answer is the variant itself."""

    def __init__(self, found: Examination) -> None:
        self.found = found

    @cached_property
    def places(self) -> list[Spot | None]:
        """See `Asked`."""
        return [*self.found.maker_model.places] if self.found.maker else []

    def labels(self, spot: Spot | None) -> list[str]:
        """See `Asked`. Of a mark that was read somewhere the answer is the casting that it is on."""
        book = self.found.book
        if spot == ANYWHERE:
            castings = [(component, variant) for component, variants in self._variants.items() for variant in variants]
            return [f"{book.components[c].name}: {variant_name(book, variant)}" for c, variant in castings] + ["another unit"]
        return [variant_name(book, variant) for variant in (self._variants[spot[0]] if spot else [""])] + ["another unit"]

    @cached_property
    def _variants(self) -> dict[str, list[str]]:
        """component of the most probable unit's maker -> its variants, the unrecorded one last."""
        return {component: self.found.variant_names(component) for component in (self.found.maker_model.components if self.found.maker else ())}

    def by_spot(self, maker: str, spot: Spot) -> Floats:
        """See `Asked`."""
        table = self.found.posterior.makers[maker].totals(spot).fitted[0] * self.found.posterior.scale[maker]
        joint = np.diag(np.append(table, max(0.0, 1 - table.sum())))
        return normalised(joint)

    def by_fitted(self, maker: str, spot: Spot, posterior: MakerPosterior, of: Spot) -> Floats:
        """See `Asked`."""
        fitted = posterior.totals(spot).fitted[0] * self.found.posterior.scale[maker]
        sizes = {c: len(variants) for c, variants in self._variants.items() if of == ANYWHERE or c == of[0]}
        joint = np.zeros((sum(sizes.values()) + 1, len(fitted)))
        if maker == self.found.maker:
            before = sum(size for c, size in list(sizes.items())[: list(sizes).index(spot[0])])
            joint[before : before + len(fitted)] = np.diag(fitted)
        else:
            joint[-1] = fitted
        return joint

    def by_cells(self, maker: str, of: Spot | None = None) -> Floats:
        """See `Asked`."""
        posterior = self.found.posterior
        joint = np.zeros((len(self.labels(of)), len(posterior.mass[maker])))
        if maker != self.found.maker or not of or of == ANYWHERE:
            joint[-1] = posterior.mass[maker]
        else:
            joint[:-1] = posterior.makers[maker].table([of]).T * posterior.scale[maker]
        return joint

    def by_own_number(self, maker: str, assembly: str, parts: Floats) -> None:
        """See `Asked`: asked one place at a time, what a number tells of several has no one answer."""
