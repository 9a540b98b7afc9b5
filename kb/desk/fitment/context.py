"""One examined unit as rules see it, should it be of one maker: its castings, its cells, and what was seen on it."""

import re
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from kb.desk.evidence.mark import PlacedMark
from kb.desk.evidence.saw import ResolvedFeature
from kb.desk.posterior.examination import Examination
from kb.desk.posterior.maker_model import MakerModel
from kb.desk.posterior.saw import inside
from kb.probability.inference.assembly import Spot
from kb.probability.inference.posterior import MakerPosterior
from kb.words.applicability import Applicability, Condition

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Mode = Literal["fitted", "as-built"]
LIVE = 1e-12  # numeric: cells less probable than this beside the best are left out


class UnitContext:
    """One examined unit as rules see it. mode: the castings fitted now, or as built."""

    def __init__(self, found: Examination, mode: Mode, maker: str) -> None:
        """maker: whose units are asked about; "" where the unit may be of none."""
        self.found, self.mode, self.maker = found, mode, maker
        self.book = found.book
        self.components = {component: row.places for component, row in self.model.components.items()} if maker else {}

    @cached_property
    def model(self) -> MakerModel:
        """The model of the maker's units."""
        return self.found.weighing.frames[self.maker]

    @cached_property
    def posterior(self) -> MakerPosterior:
        """What the maker's units may be and carry; times `scale` it is probabilities."""
        return self.found.posterior.makers[self.maker]

    @cached_property
    def scale(self) -> float:
        """The factor that makes the masses of `posterior` probabilities."""
        return self.scale_of(self.maker)

    @cached_property
    def mass(self) -> Floats:
        """(cells of the maker,) the probability of each."""
        return self.mass_of(self.maker)

    def scale_of(self, maker: str) -> float:
        """`scale` for the units of any maker."""
        return self.found.posterior.scale[maker]

    def mass_of(self, maker: str) -> Floats:
        """`mass` for the units of any maker."""
        return self.found.posterior.mass[maker]

    @cached_property
    def live(self) -> Ints:
        """The cells that count."""
        return np.flatnonzero(self.mass > self.mass.max(initial=0.0) * LIVE)

    def has(self, component_id: str) -> bool:
        """The maker's units have this component."""
        return component_id in self.components

    def first_place(self, component_id: str | None) -> Spot | None:
        """The first place of a component (None: of any): what is asked of the whole unit is asked there. None if the unit has no such component."""
        component = component_id or next(iter(self.components), "")
        return (component, self.components[component][0]) if component in self.components else None

    # What was seen

    @cached_property
    def features(self) -> list[tuple[Spot, ResolvedFeature]]:
        """What was looked at and measured, with its place."""
        return [(piece.spots[self.maker], piece) for piece in self.found.weighing.question.of(ResolvedFeature) if self.maker in piece.spots]

    @cached_property
    def seen(self) -> set[Spot]:
        """Places where something was seen that tells: a feature, a measure, or a mark that may be one of those recorded there."""
        marks = [mark for mark in self.found.weighing.question.of(PlacedMark) if self.maker in mark.spots]
        told = {mark.spots[self.maker] for mark in marks if any(token not in "?*" for token in mark.now.tokens) and self.recorded(mark)}
        return told | {spot for spot, _ in self.features}

    def recorded(self, mark: PlacedMark) -> bool:
        """The reading agrees, character by character, with a mark recorded for the component it was read on."""
        return mark.now.could_be_any(self.book.marks_index(mark.spots[self.maker][0]).texts)

    def measured(self, applies: Applicability, measure_first: str, spot: Spot) -> bool:
        """What a rule wants measured first was measured: a measure that it sets a condition on, or whose question speaks of the same thing."""
        wanted = {c.feature_id for c in applies.conditions if c.feature_id}
        asked = _words(measure_first)
        measures = [seen.feature for at, seen in self.features if at == spot and seen.feature.kind == "measure"]
        return any(m.feature_id in wanted or asked & _words(m.question) for m in measures)

    def observed(self, condition: Condition, where: Spot) -> bool | None:
        """Whether a feature condition was seen to hold at one place; None if that feature was not looked at there."""
        values = [seen.value for at, seen in self.features if at == where and seen.feature.feature_id == condition.feature_id]
        if not values or condition.feature_id is None:
            return None
        return all(v == condition.value if condition.value is not None else inside(condition.low, condition.high, float(v)) for v in values)

    # Where rules look

    def where(self, condition: Condition, spot: Spot) -> list[Spot]:
        """Where a condition must hold: at its place; without one at the place asked about if its component has it, else everywhere."""
        places = self.book.components[condition.component_id].places
        if condition.place is not None:
            return [(condition.component_id, condition.place)]
        return [(condition.component_id, spot[1])] if spot[1] in places else [(condition.component_id, place) for place in places]

    def axis_spot(self, spot: Spot) -> Spot:
        """The axis of a place: as built, the places of a component share one."""
        return (spot[0], "") if self.mode == "as-built" else spot


def _words(text: str) -> set[str]:
    """The words of a sentence that carry its meaning: those of four letters and more."""
    return {
        word
        for word in re.findall(r"[a-z]{4,}", text.lower())
        if word not in ("measure", "first", "before", "ordering", "what", "wide", "with", "over", "from")
    }
