"""Which unit it is and what is fitted to it (docs/model.md, sections 7 and 8)."""

from collections import defaultdict
from collections.abc import Callable, Iterator
from itertools import product
from math import prod
from typing import Any, NamedTuple

from kb.assumptions import Assumptions

from .built import Built, OwnNumbers
from .dates import CastDates
from .fitted import Assemblies, Slot
from .places import Castings, Observation
from .readings import Seen, see
from .readings import weight as reading_weight
from .serials import Unit, Works, lay_out
from .tables import Tables, cell, index
from .unknown import learn, unknown_weight

Evidence = dict[str, Any]
Spot = tuple[str, str]  # component, place


class World(NamedTuple):
    """One way things may be: a unit, with the pieces of evidence put on places, and its weight without what is seen of the castings."""

    unit: Unit
    weight: float
    assemblies: Assemblies
    seen: dict[Spot, list[Observation]]

    def total(self, without: frozenset[str] = frozenset()) -> float:
        """The weight with what is seen of all assemblies but some."""
        every = [assembly for assembly in self.assemblies.components if assembly not in without]
        return self.weight * prod(sum(self.assemblies.table(self.unit, a, frozenset()).values()) for a in every)


class Question:
    """Evidence put to a dataset."""

    def __init__(self, tables: Tables, evidence: Evidence, assumptions: Assumptions) -> None:
        self.assumptions = assumptions
        self.maker, self.model = evidence.get("maker") or "", evidence.get("model") or ""
        self.works: Works = lay_out(tables, assumptions)
        self.between: tuple[str, str] | None = evidence.get("between")  # whole serials of a loose casting's unit
        self.castings = Castings(tables, assumptions)
        self.built = Built(tables, self.works, self.castings, assumptions)
        self.own = OwnNumbers(self.works, self.castings, assumptions)
        self.component_of = {key: cell(row, "component_id") for key, row in index(tables, "series", "series_id").items()}
        texts = self.works.learned_texts()
        self.unknown_texts = learn(texts, assumptions)
        self.pieces: list[tuple[str, str | None, Observation]] = []  # component or "", place or None, what is seen
        for component, place, reading, wear in evidence.get("marks", []):
            self.pieces.append((component or "", place or None, ("mark", reading, wear)))
        for component, place, feature, value in evidence.get("features", []):
            self.pieces.append((component, place or None, ("saw", feature, value)))
        self.dates = CastDates(tables, self.works, assumptions)
        self.cast: list[tuple[str, str, str]] = list(evidence.get("dates", []))
        self.readings: dict[str, list[tuple[str, Seen]]] = {}  # component with own numbers, or "" for the unit's -> (series or "", reading)
        for component, readings in self._by_number(evidence.get("serials", [])).items():
            self.readings[component] = [(series, see(text, wear, assumptions, len(readings))) for series, text, wear in readings]

    def _by_number(self, serials: list[tuple[str | None, str, str | None]]) -> dict[str, list[tuple[str, str, str | None]]]:
        numbers: dict[str, list[tuple[str, str, str | None]]] = defaultdict(list)
        for series, text, wear in serials:
            if series and series not in self.component_of:
                raise ValueError(f"there is no series {series}")
            numbers[self.component_of[series] if series else ""].append((series or "", text, wear))
        return numbers

    def not_in_knowledge_base(self) -> float:
        """Prior times likelihood of a unit that nobody recorded."""
        numbers = prod(self._unknown_number(component) for component in self.readings)
        numbers *= self.dates.unknown([(component, code) for component, _, code in self.cast])
        return self.assumptions.not_in_knowledge_base * numbers * self.castings.unknown([seen for _, _, seen in self.pieces])

    def _unknown_number(self, component: str) -> float:
        return prod(unknown_weight(seen, self.unknown_texts, self.assumptions) for _, seen in self.readings[component])

    def number_weight(self, component: str, unit: Unit) -> float:
        """P(readings | serial); none if a reading names another series."""
        readings = self.readings.get(component, [])
        if any(series and series != unit.line[0] for series, _ in readings):
            return 0.0
        return self.works.weight([seen for _, seen in readings], unit, self.assumptions) if readings else 1.0

    def worlds(self) -> Iterator[World]:
        """Every unit with every way to put the evidence on places; prior times P(serial readings) as weight."""
        named = {series for series, _ in self.readings.get("", []) if series}
        left = [
            u for line, blocks in self.works.lines.items()
            if blocks and not blocks[0].component and self.maker in ("", blocks[0].maker) and named <= {line[0]}
            for u in self.works.units(line) if self.model in ("", u.model) and self._between(u)
        ]  # fmt: skip
        everything = sum(u.units for u in left)
        makers = {u.block_id: self.works.blocks[u.block_id].maker for u in left}
        for maker in dict.fromkeys(makers.values()):
            ways = list(self._placings(maker))
            its_units = [(u, self.number_weight("", u)) for u in left if makers[u.block_id] == maker]
            own = {e: [self.number_weight(e, x) for x in self.own.units[e]] for e in self.readings if e and self._has(maker, e)}
            dates = {(c, p): self._dated(c, p) for c, p, _ in self.cast if self._has(maker, c)}
            for seen, foreign in ways:
                likelihoods = {spot: self.castings.likelihoods(spot[0], observations) for spot, observations in seen.items()}
                assemblies = Assemblies(maker, self.works, self.castings, self.built, self.own, self.assumptions, likelihoods, own, dates)
                for u, weight in its_units:
                    prior = (1 - self.assumptions.not_in_knowledge_base) * u.units / everything
                    yield World(u, prior * weight * foreign / len(ways), assemblies, seen)

    def _between(self, unit: Unit) -> bool:
        first, last = (self.works.find(unit.line[0], text) if text else None for text in self.between or ("", ""))
        after = first is not None and first[0] == unit.line and first[1] <= unit.order
        before = last is not None and last[0] == unit.line and unit.order <= last[1]
        return self.between is None or ((after or not self.between[0]) and (before or not self.between[1]))

    def _has(self, maker: str, component: str) -> bool:
        return cell(self.castings.components[component], "maker_id") == maker

    def _dated(self, component: str, place: str) -> tuple[Callable[[Unit], float], float]:
        """P(the codes at a place | the carrier they were built into), and P(the codes | not built in)."""
        codes = [code for c, p, code in self.cast if (c, p) == (component, place)]

        by_days: dict[tuple[int, int], float] = {}  # serials built on the same days weigh the same

        def in_time(unit: Unit) -> float:
            days = self.dates.days_of(unit)
            if days not in by_days:
                by_days[days] = prod(self.dates.in_time(component, code, unit) for code in codes)
            return by_days[days]

        return in_time, prod(self.dates.later(component, code) for code in codes)

    def _placings(self, maker: str) -> Iterator[tuple[dict[Spot, list[Observation]], float]]:
        """Every way to put the evidence on the places of a maker's components, and the factor of what does not belong there."""
        everywhere = [(c, place) for c in self.castings.components if self._has(maker, c) for place in self.castings.places(c)]
        choices: list[list[Spot | None]] = []
        foreign_spots: set[tuple[str, str | None]] = {(e, None) for e in self.readings if e and not self._has(maker, e)}
        foreign = prod(self._unknown_number(e) for e, _ in foreign_spots)
        for component, place, seen in self.pieces:
            if component and self._has(maker, component):
                choices.append([(component, place)] if place else [(component, p) for p in self.castings.places(component)])
            elif not component and everywhere:
                choices.append(list(everywhere))
            else:
                choices.append([None])
                foreign_spots.add((component, place))
                foreign *= self.castings.unknown([seen])
        for component, place, code in self.cast:
            if not self._has(maker, component):
                foreign_spots.add((component, place or None))
                foreign *= self.dates.misread(component, code)
        foreign *= self.assumptions.unrecorded_variant ** len(foreign_spots)
        for spots in product(*choices):
            placed: dict[Spot, list[Observation]] = defaultdict(list)
            for spot, (_, _, seen) in zip(spots, self.pieces, strict=True):
                if spot is not None:
                    placed[spot].append(seen)
            yield dict(placed), foreign


def identify(tables: Tables, evidence: Evidence, assumptions: Assumptions, maker: str | None = None) -> dict[str, Any]:
    """The posterior of unit, serial and castings.

    Returns "units": (model, block) -> p; "not_in_knowledge_base"; "serials": (serial, model) -> p; and, given a known unit of a maker
    (the most probable unit's if none is named): "fitted" and "as_built": (component, place) -> variant -> p, "swapped": (component, place) ->
    P(fitted differs from as built); "original": (component, place) with a casting date -> P(it left the works there). A model "" is none, a
    variant "" the unrecorded one.
    """
    question = Question(tables, evidence, assumptions)
    worlds = list(question.worlds())
    weights = [world.total() for world in worlds]
    unknown = question.not_in_knowledge_base()
    everything = sum(weights) + unknown
    units: dict[tuple[str, str], float] = defaultdict(float)
    serials: dict[tuple[str, str], float] = defaultdict(float)
    for world, weight in zip(worlds, weights, strict=True):
        block = question.works.blocks[world.unit.block_id]
        units[world.unit.model, block.block_id] += weight / everything
        serials["".join(block.printed(world.unit.number)), world.unit.model] += weight / everything
    if maker is None and units:
        maker = question.works.blocks[max(units, key=lambda unit: units[unit])[1]].maker
    answer: dict[str, Any] = {"units": dict(units), "not_in_knowledge_base": unknown / everything, "serials": dict(serials)}
    answer["fitted"], answer["as_built"], answer["swapped"] = {}, {}, {}
    answer["original"] = {}
    its_worlds = [world for world in worlds if question.works.blocks[world.unit.block_id].maker == maker]
    for component in question.castings.components if sum(world.total() for world in its_worlds) else []:
        if cell(question.castings.components[component], "maker_id") == maker:
            for place in question.castings.places(component):
                fitted, built, differs = _at_place(question, its_worlds, component, place)
                answer["fitted"][component, place], answer["as_built"][component, place] = fitted, built
                answer["swapped"][component, place] = differs
    for component, place, _ in question.cast if its_worlds else []:
        if cell(question.castings.components[component], "maker_id") == maker:
            answer["original"][component, place] = _original(question, its_worlds, component, place)
    return answer


def _at_place(question: Question, worlds: list[World], component: str, place: str) -> tuple[dict[str, float], dict[str, float], float]:
    """Posteriors of the variant fitted and the variant built in at one place, and that they differ."""
    assembly = cell(question.castings.components[component], "assembly")
    fitted_slot: Slot = ("fitted", component, place)
    built_slot: Slot = ("built", component, "")
    fitted: dict[str, float] = defaultdict(float)
    built: dict[str, float] = defaultdict(float)
    differs = everything = 0.0
    for world in worlds:
        rest = world.total(frozenset([assembly]))
        for facts, p in world.assemblies.table(world.unit, assembly, frozenset([fitted_slot, built_slot])).items():
            fact = dict(facts)
            v, o = str(fact[fitted_slot]), str(fact[built_slot])
            fitted[v] += rest * p
            built[o] += rest * p
            differs += rest * p * (v != o)
            everything += rest * p
    return {v: p / everything for v, p in fitted.items()}, {o: p / everything for o, p in built.items()}, differs / everything


def _original(question: Question, worlds: list[World], component: str, place: str) -> float:
    """P(the casting at a place left the works there), given a known unit of the maker."""
    assembly = cell(question.castings.components[component], "assembly")
    slot: Slot = ("original", component, place)
    yes = everything = 0.0
    for world in worlds:
        rest = world.total(frozenset([assembly]))
        for facts, p in world.assemblies.table(world.unit, assembly, frozenset([slot])).items():
            yes += rest * p * (dict(facts)[slot] == "yes")
            everything += rest * p
    return yes / everything


def casting(
    tables: Tables, reading: str, wear: str | None, assumptions: Assumptions, maker: str | None = None, component: str | None = None,
    model: str | None = None, between: tuple[str, str] | None = None,
) -> dict[str | None, float]:  # fmt: skip
    """A loose casting (section 11): mark text -> p, and None -> that it is none of these."""
    castings = Castings(tables, assumptions)
    left = {c for c, row in castings.components.items() if maker in (None, cell(row, "maker_id")) and component in (None, c)}
    drawn: dict[str, float] = defaultdict(float)  # mark text -> how likely it is drawn
    units = {"maker": maker, "model": model, "between": between}
    for variant, its_texts in castings.marks.items():
        its_component = cell(castings.variant_rows[variant], "component_id")
        for text in its_texts if its_component in left else ():
            if model or between:
                drawn[text] += _carried(tables, units, assumptions, castings, left, its_component)[variant] / len(its_texts)
            else:
                drawn[text] = 1.0
    drawn |= dict.fromkeys(castings.foundry if (maker, component, model, between) == (None,) * 4 else (), 1.0)
    seen = see(reading, wear, assumptions)
    joint: dict[str | None, float] = {None: assumptions.not_in_knowledge_base * unknown_weight(seen, castings.unknown_texts, assumptions)}
    for text, share in drawn.items():
        known = (1 - assumptions.not_in_knowledge_base) * share / sum(drawn.values())
        joint[text] = known * reading_weight(seen, text, assumptions)
    return {text: p / sum(joint.values()) for text, p in joint.items()}


def _carried(
    tables: Tables, units: Evidence, assumptions: Assumptions, castings: Castings, left: set[str], component: str
) -> dict[str, float]:  # fmt: skip
    """variant -> P(a place drawn among those of the components left, on a unit drawn from those left, is of this component and carries it)."""
    maker = cell(castings.components[component], "maker_id")
    places = {c: castings.places(c) for c in left if cell(castings.components[c], "maker_id") == maker}
    found = identify(tables, units, assumptions, maker)
    made = {block_id: block.maker for block_id, block in lay_out(tables, assumptions).blocks.items()}
    share = sum(p for (_, block_id), p in found["units"].items() if made[block_id] == maker)
    drawn: dict[str, float] = defaultdict(float)
    for place in places[component]:
        for variant, p in found["fitted"].get((component, place), {}).items():
            drawn[variant] += share * p / sum(map(len, places.values()))
    return drawn
