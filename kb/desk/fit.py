"""Does this part fit this unit, which parts fit it, and what to look at where that is open (docs/model.md, section 9)."""

from collections.abc import Callable, Iterable
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.catalogue.fitments import Condition, Limit, Rule
from kb.catalogue.supersession import Arrow
from kb.catalogue.trace import Trace
from kb.desk import explain
from kb.desk.advise import advise
from kb.desk.cases import Entry, Role
from kb.desk.court import Court, Hearing, Judged
from kb.desk.identify import Found
from kb.desk.partbook import PartBook
from kb.desk.placed import Mode, PlacedGround, Setting
from kb.desk.shop import outcomes
from kb.desk.stated import costs
from kb.file.book import Book, Row
from kb.inference.advice import normalised
from kb.inference.assembly import Spot
from kb.words.answers import Check, Fit, Ships, SourceRef

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
MOST_CHECKS = 3
WORTH_LISTING = 0.01  # parts less likely to fit are not listed for a unit


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
        self.court = Court(self.setting, self.assumptions)
        self._traces: dict[str, Trace] = {}

    def fits(self, part: Row) -> list[Fit]:
        """One entry for each component place and role of the part at the most probable unit's maker."""
        number = part.part_number
        groups = dict.fromkeys((r.component_id, r.role) for r in self.parts.rules(number) if self.setting.has(r.component_id))
        found = []
        for component_id, role in groups:
            entry = self.parts.entry(number, component_id, role)
            assert entry is not None  # it has rules there
            for place in self.book.components[component_id].places:
                spot = (component_id, place)
                judged = self._judged(entry, spot)
                checks = self._checks(spot, judged) if judged.verdict in ("check first", "not recorded") else []
                found.append(self._fit(part, entry, spot, role, judged, checks, partial(self._alone, spot, role)))
        return sorted(found, key=_order) or [self._not_recorded(part)]

    def fitting(self, assembly: str | None = None, everything: bool = False) -> list[Fit]:
        """The parts that fit, or may fit, the unit; everything: also those that do not."""
        if self.found.maker is None:
            return []
        roles = self.parts.roles(self.found.maker)
        cuts = self.parts.cuts(self.found.maker)
        found = []
        for role in roles:
            component = self.book.components[role.component_id]
            if assembly is not None and component.assembly != assembly:
                continue
            for place in component.places:
                spot = (role.component_id, place)
                hearing = self.court.at(spot, self.setting.ground(spot, role.further, cuts=cuts))
                of = partial(self._beside, role, hearing)
                for entry in role.entries:
                    judged = hearing.judge(entry.case)
                    if everything or (judged.yes >= WORTH_LISTING and judged.verdict != "does not fit"):
                        part = self.parts.part(entry.part_number)
                        if part is not None:
                            found.append(self._fit(part, entry, spot, role.role, judged, [], of))
        return sorted(found, key=_order)

    # One entry

    def _judged(self, entry: Entry, spot: Spot) -> Judged:
        return self.court.at(spot, self.setting.ground(spot, entry.case.claims)).judge(entry.case)

    def _alone(self, spot: Spot, role: str, number: str) -> Judged | None:
        entry = self.parts.entry(number, spot[0], role)
        return self._judged(entry, spot) if entry is not None else None

    def _beside(self, role: Role, hearing: Hearing, number: str) -> Judged | None:
        entry = role.by_number.get(number)
        return hearing.judge(entry.case) if entry is not None else None

    def _fit(
        self, part: Row, entry: Entry, spot: Spot, role: str, judged: Judged, checks: list[Check], of: Callable[[str], Judged | None]
    ) -> Fit:
        """of: what another number in the same role comes to at the same place, None if nothing is said of it."""
        key = (spot[1], judged.holding, judged.many)
        begun = entry.begun.get(key)
        if begun is None:
            begun = entry.begun[key] = self._begun(part, entry, spot, role, judged)
        said, number = begun.because, part.part_number
        traced = self.current(number)
        return begun.varied(
            {
                "verdict": judged.verdict,
                "probability": judged.yes,
                "against": judged.no,
                "current": [_ships(each, quantity, judged if each == number else of(each)) for each, quantity in traced.current],
                "because": [judged.said + said[0], *said[1:]] if judged.holding else [explain.not_holding(self.book, part, spot, judged.no, said)],
                "check_next": checks,
                "cautions": [*begun.cautions],
                "sources": [*begun.sources],
                "notes": [*traced.notes, *begun.notes],
                "assumed": self._costs,
            }
        )

    def _begun(self, part: Row, entry: Entry, spot: Spot, role: str, judged: Judged) -> Fit:
        """What an answer says that does not depend on the unit but through the rules that hold, and how many they ask for."""
        component = self.book.components[spot[0]]
        told_by = [entry.rules[i] for i in judged.holding] or list(entry.rules)
        best = told_by[0]
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
            current=[],
            because=explain.rule_reasons(self.book, told_by, judged.many),
            check_next=[],
            cautions=[explain.component_caution(component)] if component.safety_critical or part.safety_critical else [],
            sources=self._sources(told_by),
            measure_first=next((rule.measure_first for rule in told_by if judged.holding and rule.measure_first), ""),
            notes=self._together(part.part_number),
            outcomes=outcomes(self.book, [part.part_number]),
        )

    @cached_property
    def _costs(self) -> str:
        return costs(self.assumptions)

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
            assumed=self._costs,
        )

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
            self._traces[part_number] = self.parts.trace(part_number, self._holds)
        return self._traces[part_number]

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
        ground = self.setting.ground(spot, [rule.claim])
        chance = ground.mass(ground.truth(rule.claim, spot, any_casting=not wanted).holds)
        return True if chance >= self.assumptions.verdict_at else False if chance <= 1 - self.assumptions.verdict_at else None

    def _sources(self, rules: Iterable[Rule]) -> list[SourceRef]:
        refs = dict.fromkeys((r.source_id, r.page, self.parts.grade(r)) for r in rules)
        return [SourceRef(source=source, page=page, grade=grade) for source, page, grade in refs]

    def _checks(self, spot: Spot, judged: Judged) -> list[Check]:
        claims = judged.case.claims
        asked_about = {spot[0], *(condition.component_id for claim in claims for condition in claim.conditions)}
        by_own_number = {assembly for claim in claims for limit in claim.limits if (assembly := self.parts.own_assembly(limit))}
        near = frozenset({self.book.components[component].assembly for component in asked_about} | by_own_number)
        return advise(self.found.weighing, self.found.posterior, _DoesItFit(self.court, spot, judged), most=self.checks, near=near)


class _DoesItFit:
    """The question "does this part fit here": yes, and how many are needed where that differs; no; not recorded."""

    def __init__(self, court: Court, spot: Spot, judged: Judged) -> None:
        self.court, self.spot, self.case = court, spot, judged.case
        self.setting = court.setting
        self._labels = [*(label for label, _ in judged.answers), "nothing recorded says so"]

    def labels(self, spot: Spot | None) -> list[str]:
        """See `Asked`."""
        return self._labels

    def by_spot(self, maker: str, spot: Spot) -> Floats:
        """See `Asked`."""
        ground = self.setting.ground(self.spot, self.case.claims, spot)
        axis = ground.axis(spot)
        others = tuple(a for a in range(ground.table.ndim) if a != axis)
        joint = np.array([np.where(part, ground.table, 0.0).sum(axis=others) for part in self._states(ground)])
        joint = np.hstack([joint, np.zeros((len(joint), 1))])
        joint[-1, -1] = max(0.0, 1 - joint.sum())
        return normalised(joint)

    def by_cells(self, maker: str) -> Floats:
        """See `Asked`."""
        ground = self.setting.ground(self.spot, self.case.claims)
        return normalised(np.array([ground.by_cell(part) for part in self._states(ground)]))

    def by_own_number(self, maker: str, assembly: str, parts: Floats) -> Floats | None:
        """See `Asked`."""
        ground = self.setting.ground(self.spot, self.case.claims)
        table = ground.by_own_number(assembly, parts)
        return None if table is None else np.array([table[part].sum(0) for part in self._states(ground)])

    def _states(self, ground: PlacedGround) -> list[Bools]:
        answers = dict(self.court.at(self.spot, ground).judge(self.case).answers)
        told = [ground.members(answers.get(label, 0)).reshape(ground.table.shape) for label in self._labels[:-1]]
        return [*told, ~np.logical_or.reduce(told)]


def _ships(number: str, quantity: float, judged: Judged | None) -> Ships:
    if judged is None:
        return Ships(part_number=number, quantity=quantity, verdict="not recorded", probability=0.0)
    return Ships(part_number=number, quantity=quantity, verdict=judged.verdict, probability=judged.yes)


def _order(fit: Fit) -> tuple[float, str, str, str, str]:
    return (-round(fit.probability, 9), fit.part_number, fit.component, fit.place, fit.role)
