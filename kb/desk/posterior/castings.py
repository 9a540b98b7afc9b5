"""What was seen on the castings of one maker's units, brought together by assembly (docs/model.md, sections 6 to 8)."""

from collections.abc import Mapping, Sequence

import numpy as np

from kb.desk.posterior.factor import Factor, Floats, Makers, Weights
from kb.probability.inference.assembly import Assembly, Casting, Dated, OwnNumber, Spot
from kb.words.errors import QuestionError
from kb.words.patience import go_on

EVERYWHERE = 2  # pieces "somewhere on the unit" that are tried at every place
FAR_FROM_BEST = 1e-3  # numeric: with more of them, one is not tried on components that it suits so much less than the best ...
MOST_LOOSE = 5  # ... and so many of them at most may be at several places: the work is threefold with each


class Castings:
    """The castings of one maker's units under any choice of factors; what stays the same is kept."""

    def __init__(self, makers: Makers, maker: str) -> None:
        self.makers, self.model = makers, makers.models[maker]
        self._assemblies: dict[object, Assembly] = {}

    def assemblies(self, factors: Sequence[Factor], weights: Mapping[Factor, Weights], at: Mapping[Factor, Spot]) -> dict[str, Assembly]:
        """The assemblies with what the factors tell of them.

        Args:
            weights: of each factor for this maker.
            at: where some of those are that may be anywhere.

        Raises:
            QuestionError: too many pieces may be at several places.
        """
        anywhere = [factor for factor in factors if weights[factor].loose]
        choices = self._choices(anywhere, weights) | {factor: [spot] for factor, spot in at.items()}
        placed = {factor: spots[0] for factor, spots in choices.items() if len(spots) == 1}
        loose = {factor: frozenset(component for component, _ in spots) for factor, spots in choices.items() if len(spots) > 1}
        ordered = [*(factor for factor in factors if factor not in placed), *placed]
        found = {}
        for name, components in self.model.assemblies.items():
            go_on()
            mine = tuple((f, placed.get(f)) for f in ordered if _touches(weights[f], placed.get(f), components))
            key = (name, mine, tuple(loose.items()))
            if key not in self._assemblies:
                of_loose = [(weights[f].loose, where) for f, where in loose.items()]
                self._assemblies[key] = self._assembly(name, [(weights[f], spot) for f, spot in mine], of_loose)
            found[name] = self._assemblies[key]
        return found

    def _choices(self, anywhere: Sequence[Factor], weights: Mapping[Factor, Weights]) -> dict[Factor, list[Spot]]:
        """For each piece that may be anywhere the places it may be at: all of them, or of many pieces those that each suits by far best."""
        if len(anywhere) <= EVERYWHERE:
            return dict.fromkeys(anywhere, self.model.places)
        choices = {}
        for factor in anywhere:
            best = {component: float(likelihood.max()) for component, likelihood in weights[factor].loose.items()}
            least = FAR_FROM_BEST * max(best.values())
            choices[factor] = [spot for spot in self.model.places if best[spot[0]] >= least]
        if sum(len(some) > 1 for some in choices.values()) > MOST_LOOSE:
            text = max(choices, key=lambda factor: len(choices[factor])).given
            raise QuestionError(f'Too many marks may be in several places; "{text}" in the most.', f'Say where it is read: "COMPONENT={text}".')
        return choices

    def _assembly(
        self, name: str, told: Sequence[tuple[Weights, Spot | None]], loose: Sequence[tuple[Mapping[str, Floats], frozenset[str]]]
    ) -> Assembly:
        """told: what the factors weigh there, with the place of one that could be anywhere; loose: those that still may be at several places, and the
        components on which."""
        castings = tuple(self._casting(component, told, loose) for component in self.model.assemblies[name])
        number = None
        if name in self.model.own:
            own = self.model.own[name]
            reading = np.ones(len(own.x.units))
            for weights, _ in told:
                reading = reading * weights.own_number.get(own.component_id, 1.0)
            number = OwnNumber(own.group, own.transition(self.makers.rate(self.model.components[own.component_id])), reading)
        return Assembly(castings, self.model.u.share, self.makers.assumptions.swapped_assembly, number)

    def _casting(
        self, component: str, told: Sequence[tuple[Weights, Spot | None]], loose: Sequence[tuple[Mapping[str, Floats], frozenset[str]]]
    ) -> Casting:
        row = self.model.components[component]
        rate = self.makers.rate(row)
        nothing = np.ones(len(self.makers.book.variants_of.get(component, ())) + 1)
        seen, dates = {}, {}
        for place in row.places:
            go_on()
            spot, likelihood, dated = (component, place), nothing, None
            for weights, at in told:
                likelihood = likelihood * weights.loose[component] if at == spot else likelihood * weights.seen.get(spot, 1.0)
                if spot in weights.dated:
                    in_time, later = weights.dated[spot]
                    dated = (in_time, later) if dated is None else (dated[0] * in_time, dated[1] * later)
            seen[place] = likelihood
            if dated is not None:
                dates[place] = Dated((1 - self.makers.assumptions.unrecorded_variant) * (1 - rate), *dated)
        marks = tuple(likelihoods[component] if component in where else 0.0 * nothing for likelihoods, where in loose)
        fitted, by_own_number = self.model.fitted(component, rate), self.model.by_own_number(component)
        return Casting(component, lambda: self.model.as_built(component), fitted, seen, by_own_number, dates, marks)


def _touches(weights: Weights, placed: Spot | None, components: Sequence[str]) -> bool:
    """Whether the factor tells something of an assembly of these components."""
    spots = [*weights.seen, *weights.dated, *([placed] if placed else [])]
    return any(component in components for component, _ in spots) or any(numbered in components for numbered in weights.own_number)
