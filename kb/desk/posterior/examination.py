"""An examined unit: what it may be, block by block, what it is most probably, and what sits on it."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.desk.evidence.resolved import ResolvedObservation
from kb.desk.posterior.maker_model import MakerModel
from kb.desk.posterior.unit_posterior import UnitEvidence, UnitPosterior
from kb.probability.inference.assembly import Spot
from kb.probability.inference.posterior import MakerPosterior
from kb.store.book import Book
from kb.words.answers.identification import probably_unknown

Floats = NDArray[np.float64]


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

    def __init__(self, weighing: UnitEvidence) -> None:
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
    def book(self) -> Book:
        """The knowledge base it was examined by."""
        return self.weighing.book

    @property
    def probability_unknown(self) -> float:
        """P(the unit is not in this knowledge base)."""
        return self.posterior.unknown

    @property
    def unknown(self) -> bool:
        """Whether it is called "not in this knowledge base"; every answer about the unit says so or none does."""
        return probably_unknown(self.probability_unknown)

    @property
    def known(self) -> float:
        """P(the unit is in this knowledge base)."""
        return 1 - self.posterior.unknown

    @property
    def maker(self) -> str | None:
        """The most probable maker."""
        return max(self.posterior.mass, key=lambda m: float(self.posterior.mass[m].sum()), default=None)

    def known_maker(self) -> str | None:
        """The most probable maker; None where the unit is called unknown."""
        return None if self.unknown else self.maker

    @property
    def maker_model(self) -> MakerModel:
        """What is recorded of the most probable maker; there must be one."""
        assert self.maker is not None
        return self.weighing.frames[self.maker]

    @property
    def maker_posterior(self) -> MakerPosterior:
        """The posterior of the most probable maker's units; there must be one."""
        assert self.maker is not None
        return self.posterior.makers[self.maker]

    @cached_property
    def given_maker(self) -> float:
        """The factor that makes masses of the most probable maker probabilities, given that the unit is one of theirs."""
        return 1 / float(self.maker_posterior.mass.sum())

    def variant_names(self, component: str) -> list[str]:
        """The ids of a component's variants in the order of every table here; "" is last, a casting not recorded."""
        return [*(variant.variant_id for variant in self.book.variants_of.get(component, ())), ""]

    def fitted(self, place: Spot) -> Floats:
        """(variants,) P(variant at a component place), given that the unit is of the most probable maker; see `variant_names`."""
        of_place: Floats = self.maker_posterior.totals(place).fitted[0] * self.given_maker
        return of_place

    def seen(self, place: Spot) -> bool:
        """Whether a mark, feature or measure was told of that place of the most probable maker's unit."""
        return any(each.spots.get(self.maker or "") == place for each in self.weighing.question.of(ResolvedObservation))

    def top(self, posterior: UnitPosterior) -> float:
        """The probability of the most probable entry under another posterior of the same question."""
        if not self.entries:
            return posterior.unknown
        entry = self.entries[0]
        return float(posterior.mass[entry.maker][entry.cells].sum()) if entry.maker in posterior.mass else 0.0
