"""Does a part fit (docs/model.md, section 9), by walking every unit and everything that may be fitted to it."""

from collections import defaultdict
from dataclasses import dataclass, field

from kb.assumptions import Assumptions

from .built import within
from .fitted import Slot, Table, combine
from .places import Castings, Observation, inside
from .readings import normalise
from .serials import Unit
from .tables import Row, Tables, cell, rows
from .unit import Evidence, Question, Spot, World

Entry = tuple[str, str, str]  # component, place, role


@dataclass
class Statement:
    """A fitment row of a part, with the conditions of the supersessions through which it came."""

    row: Row
    component: str
    role: str
    fits: bool
    limits: list[Row]  # rows with series, serial range and model
    variants: list[str]  # each must be fitted at the same place, or one of the same function
    further: list[Row]  # rows of further conditions

    def of(self, component: str, role: str) -> bool:
        """Whether it speaks of this role at this component."""
        return (self.component, self.role) == (component, role)


@dataclass
class Case:
    """One world with everything fitted in it, as far as it matters."""

    unit: Unit
    place: str  # of the component that is asked about
    facts: dict[Slot, str | Unit]
    seen: dict[Spot, list[Observation]] = field(default_factory=dict)


class Fitments:
    """All statements of all parts."""

    def __init__(self, tables: Tables, question: Question) -> None:
        self.question, self.castings = question, question.castings
        self.fitments, self.supersessions = rows(tables, "fitments"), rows(tables, "supersessions")
        self.conditions: dict[str, list[Row]] = defaultdict(list)
        for row in rows(tables, "fitment_conditions"):
            self.conditions[cell(row, "fitment_id")].append(row)

    def of_part(self, part: str, trail: tuple[str, ...] = ()) -> list[Statement]:
        """Its own rows, and those of the numbers it replaces; never those of a number that replaces it."""
        found = [self._own(row) for row in self.fitments if normalise(cell(row, "part_number")) == part]
        for link in self.supersessions:
            old, new = normalise(cell(link, "old_part")), normalise(cell(link, "new_part"))
            ways = [(old, new), (new, old)] if cell(link, "direction") == "both-ways" else [(old, new)]
            for replaced, by in ways:
                if by == part and cell(link, "carries_fitment") != "no" and replaced not in (*trail, part):
                    found += [self._through(link, each) for each in self.of_part(replaced, (*trail, part))]
        return found

    def of_others(self, part: str) -> list[Statement]:
        """The rows of all other parts."""
        return [self._own(row) for row in self.fitments if normalise(cell(row, "part_number")) != part]

    def _own(self, row: Row) -> Statement:
        variants = [cell(row, "variant_id")] if cell(row, "variant_id") else []
        further = list(self.conditions[cell(row, "fitment_id")])
        return Statement(row, cell(row, "component_id"), cell(row, "role"), cell(row, "fits") != "no", [row], variants, further)

    def _through(self, link: Row, old: Statement) -> Statement:
        variants, further = list(old.variants), list(old.further)
        if variant := cell(link, "variant_id"):
            component = cell(self.castings.variant_rows[variant], "component_id")
            if component == old.component:
                variants.append(variant)
            else:
                further.append({"component_id": component, "variant_id": variant})
        return Statement(old.row, old.component, old.role, old.fits, [*old.limits, link], variants, further)

    def wanted(self, statement: Statement, place: str) -> set[Slot]:
        """The facts that decide whether a statement holds at a place."""
        slots = {("fitted", statement.component, place)}
        for condition in statement.further:
            slots |= {("fitted", *spot) for spot in self._spots(condition, place)}
        for limit in statement.limits:
            if numbered := self.question.component_of.get(cell(limit, "series_id")):
                slots.add(("own", numbered, ""))
        return slots

    def holds(self, statement: Statement, case: Case) -> bool:
        """All its conditions hold, and what is fitted is recorded."""
        fitted = case.facts["fitted", statement.component, case.place]
        if not self.within_limits(statement, case) or (fitted == "" and self.castings.variants[statement.component]):
            return False
        if not all(fitted in same_function(self.castings, variant) for variant in statement.variants):
            return False
        return all(self._condition(row, spot, case) for row in statement.further for spot in self._spots(row, case.place))

    def within_limits(self, statement: Statement, case: Case) -> bool:
        """Series, serial range, model and place."""
        if cell(statement.row, "place") not in ("", case.place):
            return False
        for limit in statement.limits:
            numbered = self.question.component_of.get(cell(limit, "series_id"), "")
            subject = case.facts.get(("own", numbered, "")) if numbered else case.unit
            if not isinstance(subject, Unit) or not within({**limit, "model_id": ""}, subject, self.question.works):
                return False
            if cell(limit, "model_id") not in ("", case.unit.model):
                return False
        return True

    def _spots(self, condition: Row, place: str) -> list[Spot]:
        """The places that a further condition is about."""
        component = cell(condition, "component_id")
        if cell(condition, "place"):
            return [(component, cell(condition, "place"))]
        places = self.castings.places(component)
        return [(component, place)] if place in places else [(component, each) for each in places]

    def _condition(self, row: Row, spot: Spot, case: Case) -> bool:
        fitted = case.facts.get(("fitted", *spot))
        if cell(row, "variant_id"):
            return fitted in same_function(self.castings, cell(row, "variant_id"))
        feature = cell(row, "feature_id")
        measure = cell(self.castings.features[feature], "kind") == "measure"
        looked_at = [value for kind, what, value in case.seen.get(spot, []) if kind == "saw" and what == feature]
        if looked_at:
            return all(inside(row, value) if measure else str(value).strip() == cell(row, "value") for value in looked_at)
        recorded = self.castings.recorded.get((str(fitted), feature))
        if recorded is None:
            return False
        if not measure:
            return cell(recorded, "value") == cell(row, "value")
        return all(not cell(row, end) or (cell(recorded, end) and inside(row, cell(recorded, end))) for end in ("low", "high"))


def same_function(castings: Castings, variant: str) -> set[str]:
    """A variant and all that do the same job, in both directions."""
    pairs = [{v, cell(row, "same_function_as")} for v, row in castings.variant_rows.items() if cell(row, "same_function_as")]
    group = {variant}
    while more := {v for pair in pairs if pair & group for v in pair} - group:
        group |= more
    return group


def fits(tables: Tables, evidence: Evidence, part_number: str, assumptions: Assumptions) -> dict[Entry, dict[str, float]]:
    """(component, place, role) -> probabilities of "yes", "no" and "silence"; together they are P(in the knowledge base)."""
    question = Question(tables, evidence, assumptions)
    fitments = Fitments(tables, question)
    part = normalise(part_number)
    own, others = fitments.of_part(part), fitments.of_others(part)
    worlds = [(world, world.total()) for world in question.worlds()]
    everything = sum(weight for _, weight in worlds) + question.not_in_knowledge_base()
    answer: dict[Entry, dict[str, float]] = {}
    for component, role in dict.fromkeys((s.component, s.role) for s in own):
        mine = [s for s in own if s.of(component, role)]
        rival = [s for s in others if s.of(component, role) and s.fits]
        maker = cell(question.castings.components[component], "maker_id")
        for place in question.castings.places(component):
            mass = {"yes": 0.0, "no": 0.0, "silence": 0.0}
            wanted = set().union(*(fitments.wanted(s, place) for s in [*mine, *rival]))
            for world, weight in worlds:
                if question.works.blocks[world.unit.block_id].maker != maker:
                    mass["silence"] += weight
                    continue
                for facts, p in _joint(question, world, wanted).items():
                    mass[_state(fitments, mine, rival, Case(world.unit, place, dict(facts), world.seen))] += p
            answer[component, place, role] = {state: p / everything for state, p in mass.items()}
    return answer


def _joint(question: Question, world: World, wanted: set[Slot]) -> Table:
    """The joint table of one world over all wanted facts of its maker's components, with its weight."""
    by_assembly: dict[str, set[Slot]] = defaultdict(set)
    for slot in wanted:
        assembly = cell(question.castings.components[slot[1]], "assembly")
        if slot[1] in world.assemblies.components.get(assembly, []):
            by_assembly[assembly].add(slot)
    table: Table = {(): world.total(frozenset(by_assembly))}
    for assembly, slots in by_assembly.items():
        table = combine(table, world.assemblies.table(world.unit, assembly, frozenset(slots)))
    return table


def _state(fitments: Fitments, mine: list[Statement], rival: list[Statement], case: Case) -> str:
    refused = any(fitments.holds(s, case) for s in mine if not s.fits)
    if not refused and any(fitments.holds(s, case) for s in mine if s.fits):
        return "yes"
    beyond = not any(fitments.within_limits(s, case) for s in mine)
    if refused or beyond or any(fitments.holds(s, case) for s in rival):
        return "no"
    return "silence"
