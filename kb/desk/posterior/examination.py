"""An examined unit: what it may be, block by block, and what it is most probably."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.desk.posterior.maker_model import MakerModel
from kb.desk.posterior.unit_posterior import UnitPosterior, Weighing
from kb.probability.inference.posterior import MakerPosterior


@dataclass(frozen=True)
class UnitCandidate:
    """A block and model the unit may be of. cells: indexes into the maker's cells."""

    maker: str
    block: int
    model: str
    cells: NDArray[np.int64]
    probability: float


class Examination:
    """An examined unit: its posterior, and the entries of the answer."""

    def __init__(self, weighing: Weighing) -> None:
        self.weighing = weighing
        self.posterior = weighing.posterior()

    @cached_property
    def entries(self) -> list[UnitCandidate]:
        """All blocks and models, by falling probability."""
        found = []
        for maker, mass in self.posterior.mass.items():
            u = self.weighing.frames[maker].u
            key = u.block * (len(u.models) + 1) + u.model
            order = np.argsort(key, kind="stable")
            starts = np.flatnonzero(np.r_[True, np.diff(key[order]) != 0]) if len(order) else np.zeros(0, np.int64)
            for cells in np.split(order, starts[1:]):
                probability = float(mass[cells].sum())
                if probability > 0:
                    found.append(UnitCandidate(maker, int(u.block[cells[0]]), u.models[u.model[cells[0]]], cells, probability))
        return sorted(found, key=lambda e: (-e.probability, e.maker, e.block, e.model))

    @property
    def known(self) -> float:
        """P(the unit is in this knowledge base)."""
        return 1 - self.posterior.unknown

    @property
    def maker(self) -> str | None:
        """The most probable maker."""
        return max(self.posterior.mass, key=lambda m: float(self.posterior.mass[m].sum()), default=None)

    def of_maker(self) -> tuple[MakerModel, MakerPosterior, float]:
        """Frame and posterior of that maker, and the factor that makes its masses probabilities given that maker."""
        assert self.maker is not None
        posterior = self.posterior.makers[self.maker]
        return self.weighing.frames[self.maker], posterior, 1 / float(posterior.mass.sum())

    def top(self, posterior: UnitPosterior) -> float:
        """The probability of the most probable entry under another posterior of the same question."""
        if not self.entries:
            return posterior.unknown
        entry = self.entries[0]
        return float(posterior.mass[entry.maker][entry.cells].sum()) if entry.maker in posterior.mass else 0.0
