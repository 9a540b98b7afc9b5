"""Does this part fit this unit, which parts fit it, and what to look at where that is open (docs/model.md, section 9)."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.catalogue.fitments import Condition, Limit, Rule
from kb.catalogue.supersession import Arrow
from kb.catalogue.trace import Trace, trace
from kb.desk import explain
from kb.desk.advise import advise
from kb.desk.identify import Found
from kb.desk.partbook import PartBook
from kb.desk.placed import Mode, PlacedGround, Setting
from kb.desk.shop import outcomes
from kb.desk.stated import costs
from kb.file.book import Book, Row
from kb.inference.advice import normalised
from kb.inference.assembly import Spot
from kb.inference.verdict import Standing, States, VerdictText, states, verdict
from kb.words.answers import Check, Fit, Ships, SourceRef

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
MOST_CHECKS = 3
WORTH_LISTING = 0.01  # parts less likely to fit are not listed for a unit


@dataclass(frozen=True)
class _Judged:
    """What one part's rules come to at one place in one role."""

    states: States
    yes: float
    no: float
    verdict: VerdictText
    holding: tuple[Rule, ...]  # the rules that make the yes, the weightiest first
    rules: tuple[Rule, ...]
    quantities: dict[float, int]  # quantity -> where it is the one needed, the most probable first

    @property
    def answers(self) -> list[tuple[str, int]]:
        """The answers to "does it fit", and where each is right; the quantities are told apart where they differ."""
        if len(self.quantities) < 2:
            return [("it fits", self.states.yes), ("it does not fit", self.states.no)]
        return [*((f"it fits, {quantity:g} needed", entries) for quantity, entries in self.quantities.items()), ("it does not fit", self.states.no)]


class Counter:
    """Answers about parts for one examined unit."""

    def __init__(
        self, found: Found, parts: PartBook, mode: Mode = "fitted", assumptions: Assumptions | None = None, checks: int = MOST_CHECKS
    ) -> None:
        """assumptions: for the verdicts, instead of those that the unit was weighed with. checks: how many each verdict names at most."""
        self.checks = checks
        self.found, self.parts = found, parts
        self.book: Book = found.weighing.book
        self.assumptions = assumptions or found.weighing.assumptions
        self.setting = Setting(found, parts, mode)
        self._traces: dict[str, Trace] = {}

    def fits(self, part: Row) -> list[Fit]:
        """One entry for each component place and role of the part at the most probable unit's maker."""
        rules = [r for r in self.parts.rules(part.part_number) if self.setting.has(r.component_id)]
        groups = dict.fromkeys((r.component_id, r.role) for r in rules)
        entries = []
        for component_id, role in groups:
            mine = [r for r in rules if (r.component_id, r.role) == (component_id, role)]
            others = [r for r in self.parts.in_role(component_id, role) if r.part_number != part.part_number and r.fits]
            for place in self.book.components[component_id].places:
                entries.append(self._entry(part, (component_id, place), role, mine, others))
        return sorted(entries, key=_order) or [self._not_recorded(part)]

    def fitting(self, assembly: str | None = None, everything: bool = False) -> list[Fit]:
        """The parts that fit, or may fit, the unit; everything: also those that do not."""
        if self.found.maker is None:
            return []
        by_role: dict[tuple[str, str], dict[str, list[Rule]]] = {}
        for number, rules in self.parts.of_maker(self.found.maker).items():
            for rule in rules:
                if assembly is None or self.book.components[rule.component_id].assembly == assembly:
                    by_role.setdefault((rule.component_id, rule.role), {}).setdefault(number, []).append(rule)
        entries = []
        for (component_id, role), by_part in by_role.items():
            own = [r for rules in by_part.values() for r in rules if r.fits and not r.inherited_from]
            for place in self.book.components[component_id].places:
                spot = (component_id, place)
                ground = self.setting.ground(spot, [r for rules in by_part.values() for r in rules])
                for number, rules in by_part.items():
                    judged = self.judge(number, spot, rules, [r for r in own if r.part_number != number], ground)
                    if everything or (judged.yes >= WORTH_LISTING and judged.verdict != "does not fit"):
                        part = self.parts.part(number)
                        if part is not None:
                            entries.append(self._fit(part, spot, role, judged, []))
        return sorted(entries, key=_order)

    # One entry

    def _entry(self, part: Row, spot: Spot, role: str, rules: list[Rule], others: list[Rule]) -> Fit:
        ground = self.setting.ground(spot, [*rules, *others])
        judged = self.judge(part.part_number, spot, rules, others, ground)
        checks = self._checks(spot, judged, [*rules, *others]) if judged.verdict in ("check first", "not recorded") else []
        return self._fit(part, spot, role, judged, checks)

    def _fit(self, part: Row, spot: Spot, role: str, judged: _Judged, checks: list[Check]) -> Fit:
        component = self.book.components[spot[0]]
        told_by = judged.holding or judged.rules
        best = told_by[0]
        critical = component.safety_critical or part.safety_critical
        return Fit(
            part_number=part.part_number,
            description=part.description,
            name=explain.spot_name(self.book, *spot),
            component=spot[0],
            place=spot[1],
            role=role,
            quantity=best.quantity,
            per=best.per,
            verdict=judged.verdict,
            probability=judged.yes,
            against=judged.no,
            current=self._ships(part, spot, role, judged),
            because=explain.fit_reasons(self.book, part, spot, judged.holding, judged.rules, judged.yes, judged.no, list(judged.quantities)),
            check_next=checks,
            cautions=[explain.component_caution(component)] if critical else [],
            sources=self._sources(told_by),
            measure_first=next((r.measure_first for r in judged.holding if r.measure_first), ""),
            notes=[*self.current(part.part_number).notes, *self._together(part.part_number)],
            outcomes=outcomes(self.book, [part.part_number]),
            assumed=costs(self.assumptions),
        )

    def _not_recorded(self, part: Row) -> Fit:
        return Fit(
            part_number=part.part_number,
            description=part.description,
            name="",
            component="",
            place="",
            role="",
            quantity=0,
            per="place",
            verdict="not recorded",
            probability=0.0,
            against=0.0,
            current=[],
            because=[explain.no_fitment(self.book, part, self.found.maker)],
            check_next=[],
            cautions=[explain.safety([part.description])] if part.safety_critical else [],
            sources=[],
            outcomes=outcomes(self.book, [part.part_number]),
            assumed=costs(self.assumptions),
        )

    def judge(self, number: str, spot: Spot, rules: Sequence[Rule], others: Iterable[Rule], ground: PlacedGround) -> _Judged:
        """What the rules of one part come to at one place, against the rules of others in the same role."""
        truths = {id(r): ground.truth(r, spot) for r in rules}
        against = 0
        for rule in others:
            against |= ground.truth(rule, spot).holds
        fitting, refusing = [r for r in rules if r.fits], [r for r in rules if not r.fits]
        state = states(ground.everything, [truths[id(r)] for r in fitting], [truths[id(r)] for r in refusing], against)
        yes, no = ground.mass(state.yes), ground.mass(state.no)
        firm = [truths[id(r)] for r in fitting if self._grade(r) != "D" and not r.proviso]
        sound = states(ground.everything, firm, [truths[id(r)] for r in refusing], 0).yes
        weight = {id(r): ground.mass(truths[id(r)].holds & state.yes) for r in fitting}
        holding = tuple(sorted((r for r in fitting if weight[id(r)] > 0), key=lambda r: -weight[id(r)]))
        quantities: dict[float, int] = {}
        left = state.yes
        for rule in holding:
            quantities[rule.quantity] = quantities.get(rule.quantity, 0) | (truths[id(rule)].holds & left)
            left &= ~truths[id(rule)].holds
        quantities = dict(sorted(((q, entries) for q, entries in quantities.items() if entries), key=lambda entry: -ground.mass(entry[1])))
        part, component = self.parts.part(number), self.book.components[spot[0]]
        standing = Standing(
            safety_critical=bool(component.safety_critical or (part is not None and part.safety_critical)),
            component_seen=spot in self.setting.seen,
            to_be_measured=any(r.measure_first and not self.setting.measured(r, spot) for r in holding),
            sound=ground.mass(sound),
            one_quantity=max(map(ground.mass, quantities.values()), default=0.0),
        )
        return _Judged(state, yes, no, verdict(yes, no, standing, self.assumptions), holding, tuple(rules), quantities)

    def _ships(self, part: Row, spot: Spot, role: str, judged: _Judged) -> list[Ships]:
        found = []
        for number, quantity in self.current(part.part_number).current:
            if number == part.part_number:
                found.append(Ships(part_number=number, quantity=quantity, verdict=judged.verdict, probability=judged.yes))
                continue
            rules = [r for r in self.parts.rules(number) if (r.component_id, r.role) == (spot[0], role)]
            others = [r for r in self.parts.in_role(spot[0], role) if r.part_number != number and r.fits]
            if rules:
                shipped = self.judge(number, spot, rules, others, self.setting.ground(spot, [*rules, *others]))
                found.append(Ships(part_number=number, quantity=quantity, verdict=shipped.verdict, probability=shipped.yes))
            else:
                found.append(Ships(part_number=number, quantity=quantity, verdict="not recorded", probability=0.0))
        return found

    def _together(self, part_number: str) -> list[str]:
        """What a part needs with it where it takes the place of an older one."""
        notes = []
        for arrow in (a for a in self.parts.arrows(part_number) if a.new == part_number):
            others = [
                a.new for a in self.parts.arrows(part_number) if arrow.group and (a.old, a.group) == (arrow.old, arrow.group) and a is not arrow
            ]
            needed = [*others, *([arrow.with_part] if arrow.with_part else [])]
            notes += [explain.needed_together(arrow.old, part_number, needed)] if needed else []
        return list(dict.fromkeys(notes))

    def current(self, part_number: str) -> Trace:
        """What can be bought today instead of a number, the conditions judged for this unit."""
        if part_number not in self._traces:
            self._traces[part_number] = self._traced(part_number)
        return self._traces[part_number]

    def _traced(self, part_number: str) -> Trace:
        arrows = self.parts.arrows(part_number)
        numbers = {part_number, *(a.old for a in arrows), *(a.new for a in arrows)}
        rows = {number: self.parts.part(number) for number in numbers}
        available = {number: row.available if row is not None and row.available else "unknown" for number, row in rows.items()}
        return trace(arrows, part_number, available, self._holds)

    def _holds(self, arrow: Arrow) -> bool | None:
        """Whether the conditions of a supersession hold for this unit; None where that is open."""
        if not (arrow.series_id or arrow.serial_from or arrow.serial_to or arrow.model_id or arrow.variant_id):
            return None if arrow.condition else True
        component = self.book.variants[arrow.variant_id].component_id if arrow.variant_id else next(iter(self.setting.components), "")
        if not component or not self.setting.has(component):
            return False
        limits = (Limit(arrow.series_id, arrow.serial_from, arrow.serial_to),) if arrow.series_id or arrow.serial_from or arrow.serial_to else ()
        wanted = (Condition(component, None, arrow.variant_id),) if arrow.variant_id else ()
        models = (arrow.model_id,) if arrow.model_id else ()
        rule = Rule(arrow.supersession_id, arrow.new, component, "", True, 1.0, "place", None, limits, models, wanted, "", arrow.source_id, "")
        spot = (component, self.book.components[component].places[0])
        ground = self.setting.ground(spot, [rule])
        chance = ground.mass(ground.truth(rule, spot, any_casting=not wanted).holds)
        return True if chance >= self.assumptions.verdict_at else False if chance <= 1 - self.assumptions.verdict_at else None

    def _sources(self, rules: Iterable[Rule]) -> list[SourceRef]:
        refs = dict.fromkeys((r.source_id, r.page, self._grade(r)) for r in rules)
        return [SourceRef(source=source, page=page, grade=grade) for source, page, grade in refs]

    def _grade(self, rule: Rule) -> str:
        source = self.book.sources.get(rule.source_id)
        return source.grade if source is not None else "D"

    def _checks(self, spot: Spot, judged: _Judged, rules: list[Rule]) -> list[Check]:
        asked_about = {spot[0], *(condition.component_id for rule in rules for condition in rule.conditions)}
        by_own_number = {assembly for rule in rules for limit in rule.limits if (assembly := self.setting.own_assembly(limit))}
        near = frozenset({self.book.components[component].assembly for component in asked_about} | by_own_number)
        asked = _DoesItFit(self, spot, judged, rules)
        return advise(self.found.weighing, self.found.posterior, asked, most=self.checks, near=near)


class _DoesItFit:
    """The question "does this part fit here": yes, and how many are needed where that differs; no; not recorded."""

    def __init__(self, counter: Counter, spot: Spot, judged: _Judged, rules: list[Rule]) -> None:
        self.counter, self.spot, self.rules, self.judged = counter, spot, rules, judged
        self.setting = counter.setting
        self._labels = [*(label for label, _ in judged.answers), "nothing recorded says so"]

    def labels(self, spot: Spot | None) -> list[str]:
        """See `Asked`."""
        return self._labels

    def by_spot(self, maker: str, spot: Spot) -> Floats:
        """See `Asked`."""
        ground = self.setting.ground(self.spot, self.rules, spot)
        axis = ground.axis(spot)
        others = tuple(a for a in range(ground.table.ndim) if a != axis)
        joint = np.array([np.where(part, ground.table, 0.0).sum(axis=others) for part in self._states(ground)])
        joint = np.hstack([joint, np.zeros((len(joint), 1))])
        joint[-1, -1] = max(0.0, 1 - joint.sum())
        return normalised(joint)

    def by_cells(self, maker: str) -> Floats:
        """See `Asked`."""
        ground = self.setting.ground(self.spot, self.rules)
        joint = np.zeros((len(self._labels), self.setting.cells))
        for state, part in enumerate(self._states(ground)):
            joint[state, self.setting.live] = np.where(part, ground.table, 0.0).reshape(len(self.setting.live), -1).sum(1)
        return normalised(joint)

    def _states(self, ground: PlacedGround) -> list[Bools]:
        number = self.judged.rules[0].part_number
        mine = [r for r in self.rules if r.part_number == number]
        others = [r for r in self.rules if r.part_number != number]
        answers = dict(self.counter.judge(number, self.spot, mine, others, ground).answers)
        told = [ground.members(answers.get(label, 0)).reshape(ground.table.shape) for label in self._labels[:-1]]
        return [*told, ~np.logical_or.reduce(told)]


def _order(fit: Fit) -> tuple[float, str, str, str, str]:
    return (-fit.probability, fit.part_number, fit.component, fit.place, fit.role)
