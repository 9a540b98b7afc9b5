"""From evidence to the posterior: the factors of all pieces multiplied, over all makers that the unit may be of (docs/model.md, section 8)."""

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.desk.evidence.resolved import ResolvedEvidence
from kb.desk.posterior.castings import Castings
from kb.desk.posterior.factor import Factor, Makers, Weights, factors_of, log
from kb.desk.posterior.maker_model import MakerModel
from kb.probability.channel.range_weights import Weigher
from kb.probability.inference.assembly import Assembly, Spot
from kb.probability.inference.posterior import MakerPosterior
from kb.probability.production.serial_search import Whole, most_probable
from kb.store.book import Book
from kb.words.patience import go_on

Floats = NDArray[np.float64]
LIKELY = 100  # whole serials kept for the answer and for advice
F = TypeVar("F", bound=Factor)


@dataclass(frozen=True)
class UnitPosterior:
    """What a unit may be. scale: maker -> factor that makes the masses of its posterior probabilities; unknown: not in this knowledge base."""

    makers: dict[str, MakerPosterior]
    scale: dict[str, float]
    unknown: float
    likely: dict[str, list[Whole]] = field(default_factory=dict, compare=False)  # maker -> the most probable whole serials, once asked for

    @cached_property
    def mass(self) -> dict[str, Floats]:
        """maker -> (u cells,) probability of each cell."""
        return {maker: posterior.mass * self.scale[maker] for maker, posterior in self.makers.items()}


class UnitEvidence:
    """All evidence of one question held against one knowledge base: one factor a piece; `posterior` may leave some out."""

    def __init__(
        self, book: Book, model: Callable[[str], MakerModel], question: ResolvedEvidence, assumptions: Assumptions, replaced_rate: float | None = None
    ) -> None:
        self.makers = Makers(book, model, question, assumptions, replaced_rate)
        self.book, self.question, self.assumptions, self.replaced_rate = book, question, assumptions, replaced_rate
        self.frames = self.makers.models
        self.factors: list[Factor] = [f for kind, pieces in question.pieces.items() for f in factors_of(kind)(self.makers, pieces)]
        self._castings = {maker: Castings(self.makers, maker) for maker in self.frames}
        self._weights: dict[str, dict[Factor, Weights]] = {maker: {} for maker in self.frames}

    def of(self, meant: type[F]) -> list[F]:
        """The factors of this class."""
        return [factor for factor in self.factors if isinstance(factor, meant)]

    def posterior(self, without: Collection[Factor] = ()) -> UnitPosterior:
        """The posterior from all evidence but these pieces."""
        factors = [factor for factor in self.factors if factor not in without]
        makers: dict[str, MakerPosterior] = {}
        logs: dict[str, float] = {}
        for maker, model in self.frames.items():
            go_on()
            weights = [self.weights(factor, maker) for factor in factors]
            base = self.makers.prior[maker]
            for each in weights:
                if each.cells is not None:
                    base = base * each.cells
            top = float(base.max(initial=0.0))
            if top <= 0:
                continue
            strangers = len({each.absent for each in weights if each.absent is not None})  # places of castings that this maker does not have
            logs[maker] = math.log(top) + sum(each.log for each in weights) + strangers * log(self.assumptions.unrecorded_variant)
            assembly_of = {component: row.assembly for component, row in model.components.items()}
            makers[maker] = MakerPosterior(base / top, self._assemblies(maker, factors), assembly_of)
        known = {maker: logs[maker] + log(float(posterior.mass.sum())) for maker, posterior in makers.items()}
        unknown = log(self.assumptions.not_in_knowledge_base) + log_unknown(factors)
        top_log = max([unknown, *known.values()])
        if top_log == -math.inf:
            return UnitPosterior(makers, dict.fromkeys(makers, 0.0), 1.0)
        total = math.exp(unknown - top_log) + sum(math.exp(each - top_log) for each in known.values())
        scale = {maker: math.exp(logs[maker] - top_log) / total if logs[maker] > -math.inf else 0.0 for maker in makers}
        return UnitPosterior(makers, scale, math.exp(unknown - top_log) / total)

    def placed(self, posterior: UnitPosterior, maker: str, factor: Factor, at: Spot) -> MakerPosterior:
        """What is known of a maker's units, and that a piece that may be anywhere is at this place; to the scale that the posterior has."""
        whole = posterior.makers[maker]
        return MakerPosterior(whole.base, self._assemblies(maker, self.factors, {factor: at}), whole.component_assembly)

    def weights(self, factor: Factor, maker: str) -> Weights:
        """What one factor weighs for a maker's units."""
        mine = self._weights[maker]
        if factor not in mine:
            mine[factor] = factor.weights(maker)
        return mine[factor]

    def weigher(self, maker: str) -> Weigher | None:
        """For single numbers within the cells of a maker's units; None where nothing tells them apart."""
        return next((weigher for factor in self.factors if (weigher := factor.weigher(maker)) is not None), None)

    def likely_serials(self, posterior: UnitPosterior, maker: str) -> list[Whole]:
        """The most probable whole serials of a maker, as many as are worth listing; none where nothing tells numbers apart."""
        if maker not in posterior.likely:
            mass, u = posterior.mass[maker], self.frames[maker].u
            weigher = self.weigher(maker)
            posterior.likely[maker] = [] if weigher is None else most_probable(weigher, u, mass, LIKELY)
        return posterior.likely[maker]

    def _assemblies(self, maker: str, factors: Sequence[Factor], at: Mapping[Factor, Spot] = MappingProxyType({})) -> dict[str, Assembly]:
        return self._castings[maker].assemblies(factors, self._weights[maker], at)


def log_unknown(factors: Sequence[Factor]) -> float:
    """Logarithm of P(all pieces | a unit that is not in this knowledge base): on the average of the days on which it may have been built."""
    total, by_day = 0.0, np.ones(1)
    for factor in factors:
        go_on()
        likelihood = np.asarray(factor.where_unknown(), dtype=np.float64)
        top = float(likelihood.max())
        total += log(top)
        if likelihood.ndim and top:
            by_day = by_day * (likelihood / top)
    return total + log(float(by_day.mean()))
