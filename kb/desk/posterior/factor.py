"""What one piece of evidence weighs: the one thing that every kind of evidence is to the posterior of a unit (docs/model.md, section 8)."""

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from importlib import import_module
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.desk.evidence.resolved import ResolvedEvidence
from kb.desk.posterior.maker_model import MakerModel
from kb.probability.channel.range_weights import Weigher
from kb.probability.inference.assembly import Spot
from kb.probability.inference.posterior import MakerPosterior
from kb.store.book import Book
from kb.store.rows import ComponentRow
from kb.words.answers.identification import UnitEntry
from kb.words.patience import go_on

Floats = NDArray[np.float64]
NOTHING: Mapping[Any, Any] = MappingProxyType({})


class Makers:
    """The makers that a question leaves, with what every factor needs to know of them.

    Attributes:
        models: maker -> what is recorded of it; with cells so short that the time of a block is told apart where some piece needs that.
    """

    def __init__(
        self, book: Book, model: Callable[[str], MakerModel], question: ResolvedEvidence, assumptions: Assumptions, replaced_rate: float | None = None
    ) -> None:
        """replaced_rate: instead of what is recorded of each component."""
        self.book, self.question, self.assumptions, self.replaced_rate = book, question, assumptions, replaced_rate
        timed = {maker for pieces in question.pieces.values() for piece in pieces for maker in piece.by_time}
        self.models = {maker: model(maker).by_time if maker in timed else model(maker) for maker in question.makers}

    @cached_property
    def prior(self) -> dict[str, Floats]:
        """maker -> (u cells,) prior; the makers, models and series left share it by units."""
        series, models, units = self.question.series, self.question.models, {}
        for maker, model in self.models.items():
            go_on()
            u, left = model.u, model.u.units.copy()
            if series:
                left[~np.isin(u.line, [i for i, line in enumerate(u.lines) if {line.series_id} == series])] = 0.0
            if models:
                left[~np.isin(u.model, [i for i, name in enumerate(u.models) if name in models])] = 0.0
            units[maker] = left
        total = sum(float(left.sum()) for left in units.values())
        share = (1 - self.assumptions.not_in_knowledge_base) / total if total else 0.0
        return {maker: left * share for maker, left in units.items()}

    def rate(self, component: ComponentRow | None = None) -> float:
        """How often castings of a component have been replaced; without one, those of units that nobody recorded."""
        if self.replaced_rate is not None:
            return self.replaced_rate
        recorded = None if component is None else component.replaced_rate
        return self.assumptions.replaced_rate if recorded is None else float(recorded)


@dataclass(frozen=True)
class Weights:
    """What a factor weighs for the units of one maker. What it does not speak of is empty; likelihoods are to the scale whose logarithm is `log`.

    Attributes:
        cells: (u cells,) P(piece | cell).
        own_number: numbered component -> (x cells,) P(piece | own number).
        seen: place -> (V+1,) P(piece | variant fitted), the unrecorded one last.
        loose: component -> the same, of something on one place of the unit, nobody knows which.
        dated: place -> (cells,) P(piece | cell, the casting left the works in the unit), and P(piece | it did not).
        absent: the components it is of, by other makers, where this one has none such.
    """

    log: float = 0.0
    cells: Floats | None = None
    own_number: Mapping[str, Floats] = field(default_factory=lambda: NOTHING)
    seen: Mapping[Spot, Floats] = field(default_factory=lambda: NOTHING)
    loose: Mapping[str, Floats] = field(default_factory=lambda: NOTHING)
    dated: Mapping[Spot, tuple[Floats, float]] = field(default_factory=lambda: NOTHING)
    absent: tuple[Spot, ...] | None = None


class Said(NamedTuple):
    """What a piece of evidence says of a unit, in words, and what that rests on."""

    says: str
    source: str = ""
    page: str = ""


class Factor(ABC):
    """One piece of evidence, or several readings of one number, held against the makers of a question.

    Attributes:
        given: as it was given; said: with what was made of it since.
        about: what it tells by itself: the unit, a casting, or a number that a component carries.
    """

    given: str
    said: str
    about: Literal["unit", "casting", "number"] = "casting"
    components: tuple[str, ...] = ()  # those it is on, by whatever maker

    @abstractmethod
    def weights(self, maker: str) -> Weights:
        """What it weighs for the units of a maker, at every cell and variant, or where the maker has no such thing."""

    @abstractmethod
    def where_unknown(self) -> Floats | float:
        """P(piece | a unit that is not in this knowledge base): one number, or one for each day on which it may have been built."""

    @abstractmethod
    def reason(self, unit: UnitEntry, posterior: MakerPosterior, bits: float) -> Said:
        """What it says of the most probable unit. posterior: of the units of its maker; bits: how much it speaks for that unit."""

    def weigher(self, maker: str) -> Weigher | None:
        """For single numbers within the cells of a maker's units; None if it does not tell them apart."""
        return None


Factors = Callable[[Makers, Sequence[Any]], Iterable[Factor]]
FACTORS: dict[str, Factors] = {}


def weighs(kind: str) -> Callable[[Factors], Factors]:
    """Marks what makes factors of all pieces of one kind."""

    def register(factors: Factors) -> Factors:
        FACTORS[kind] = factors
        return factors

    return register


def factors_of(kind: str) -> Factors:
    """What weighs the pieces of a kind: in the module of its name, which is imported once such a piece is given."""
    import_module(f"kb.desk.posterior.{kind}")
    return FACTORS[kind]


def scaled(likelihood: Floats) -> tuple[Floats, float]:
    """The likelihood so that its greatest value is 1, and the logarithm of what that was."""
    top = float(likelihood.max(initial=0.0))
    return (likelihood / top if top else likelihood), log(top)


def log(value: float) -> float:
    """The logarithm; of 0 minus infinity."""
    return math.log(value) if value > 0 else -math.inf
