"""Does this part fit this unit, which parts fit it, and what to look at where that is open (docs/model.md, section 9)."""

from collections.abc import Callable, Iterable
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.desk.advice.checks import rank_checks
from kb.desk.fitment.hypothesis import MakerHypothesis
from kb.desk.fitment.joint_table import JointTable, Mode
from kb.desk.fitment.rulebook import PartBook
from kb.desk.fitment.rulesets import PartInRole, Role
from kb.desk.fitment.several_makers import of_several_makers
from kb.desk.fitment.verdicts import FitmentVerdict, PlaceVerdicts, VerdictCache
from kb.desk.posterior.examination import Examination
from kb.desk.sentences import explain
from kb.desk.sentences import fitment as fitwords
from kb.desk.sentences.stated import costs
from kb.desk.trade.shop import outcomes
from kb.probability.catalogue.fitments import Rule
from kb.probability.inference.assembly import Spot
from kb.probability.inference.posterior import MakerPosterior
from kb.store.book import Book, Row
from kb.words.answers.fitment import Fit, Ships, SourceRef
from kb.words.answers.identification import Check

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
MOST_CHECKS = 3
WORTH_LISTING = 0.01  # parts less likely to fit are not listed for a unit


class UnitFitments:
    """Answers about parts for one examined unit."""

    def __init__(
        self, found: Examination, parts: PartBook, mode: Mode = "fitted", assumptions: Assumptions | None = None, checks: int = MOST_CHECKS
    ) -> None:
        """assumptions: for the verdicts, instead of those that the unit was weighed with. checks: how many each verdict names at most."""
        self.checks = checks
        self.found, self.parts, self.mode = found, parts, mode
        self.book: Book = found.weighing.book
        self.assumptions = assumptions or found.weighing.assumptions

    @cached_property
    def side(self) -> MakerHypothesis:
        """The most probable unit's maker."""
        return self.sides[0]

    @cached_property
    def sides(self) -> list[MakerHypothesis]:
        """The makers that the unit may well be of, the most probable first; there is always one."""
        best = self.found.maker or ""
        masses = {maker: float(mass.sum()) for maker, mass in self.found.posterior.mass.items()}
        others = sorted((m for m, mass in masses.items() if m != best and mass >= self.assumptions.maker_asked), key=lambda m: (-masses[m], m))
        return [MakerHypothesis(self.found, self.parts, self.mode, self.assumptions, maker) for maker in (best, *others)]

    def fits(self, part: Row) -> list[Fit]:
        """One entry for each component place and role of the part at the makers that the unit may well be of."""
        number = part.part_number
        found = []
        for side in self.sides:
            for component_id, role in dict.fromkeys((r.component_id, r.role) for r in self.parts.rules(number) if side.setting.has(r.component_id)):
                entry = self.parts.entry(number, component_id, role)
                assert entry is not None  # it has rules there
                for place in self.book.components[component_id].places:
                    spot = (component_id, place)
                    judged = side.judged(entry, spot)
                    checks = self._checks(side, spot, judged) if judged.verdict in ("check first", "not recorded") else []
                    found.append(self._fit(side, part, entry, spot, role, judged, checks, partial(side.alone, spot, role)))
        if found and len(self.sides) > 1:
            found = of_several_makers(self.book, self.sides, found, self.checks)
        return sorted(found, key=_order) or [self._not_recorded(part)]

    def fitting(self, assembly: str | None = None, everything: bool = False) -> list[Fit]:
        """The parts that fit, or may fit, the unit; everything: also those that do not. Of several makers that it may be of, the most probable's."""
        side = self.side
        if not side.maker:
            return []
        found = []
        for role in self.parts.roles(side.maker):
            component = self.book.components[role.component_id]
            if assembly is not None and component.assembly != assembly:
                continue
            for place in component.places:
                spot = (role.component_id, place)
                hearing = side.hearing(role, spot)
                of = partial(_beside, role, hearing)
                for entry in role.entries:
                    judged = hearing.judge(entry.case)
                    if everything or (judged.yes >= WORTH_LISTING and judged.verdict != "does not fit"):
                        part = self.parts.part(entry.part_number)
                        if part is not None:
                            found.append(self._fit(side, part, entry, spot, role.role, judged, [], of))
        if len(self.sides) > 1:
            found = of_several_makers(self.book, self.sides, found, 0)
        return sorted(found, key=_order)

    # One entry

    def _fit(
        self, side: MakerHypothesis, part: Row, entry: PartInRole, spot: Spot, role: str, judged: FitmentVerdict, checks: list[Check],
        of: Callable[[str], FitmentVerdict | None],
    ) -> Fit:  # fmt: skip
        """of: what another number in the same role comes to at the same place, None if nothing is said of it."""
        key = (spot[1], judged.holding, judged.many)
        begun = entry.begun.get(key)
        if begun is None:
            begun = entry.begun[key] = self._begun(part, entry, spot, role, judged)
        said, number = begun.because, part.part_number
        traced = side.current(number)
        return begun.varied(
            {
                "verdict": judged.verdict,
                "probability": judged.yes,
                "against": judged.no,
                "current": [_ships(each, quantity, judged if each == number else of(each)) for each, quantity in traced.current],
                "because": [judged.said + said[0], *said[1:]] if judged.holding else [fitwords.not_holding(self.book, part, spot, judged.no, said)],
                "check_next": checks,
                "cautions": [*begun.cautions],
                "sources": [*begun.sources],
                "notes": [*traced.notes, *begun.notes],
                "assumed": self._costs,
            }
        )

    def _begun(self, part: Row, entry: PartInRole, spot: Spot, role: str, judged: FitmentVerdict) -> Fit:
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
            because=fitwords.rule_reasons(self.book, told_by, judged.many),
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
            because=self._why_not_recorded(part),
            check_next=[],
            cautions=[explain.safety([part.description])] if part.safety_critical else [],
            sources=[],
            outcomes=outcomes(self.book, [part.part_number]),
            assumed=self._costs,
        )

    def _why_not_recorded(self, part: Row) -> list[str]:
        if self.found.unknown:
            return [explain.not_here(self.found.probability_unknown)]
        elsewhere = dict.fromkeys(rule.component_id for rule in self.parts.rules(part.part_number) if rule.fits)
        places = list(dict.fromkeys(explain.of_maker(self.book, component) for component in elsewhere))
        return [fitwords.no_fitment(self.book, part, self.found.maker), *([fitwords.recorded_elsewhere(places)] if places else [])]

    def _together(self, part_number: str) -> list[str]:
        """What a part needs with it where it takes the place of an older one."""
        notes = []
        for arrow in (a for a in self.parts.arrows(part_number) if a.new == part_number):
            others = [
                a.new for a in self.parts.arrows(part_number) if arrow.group and (a.old, a.group) == (arrow.old, arrow.group) and a is not arrow
            ]
            needed = [*others, *([arrow.with_part] if arrow.with_part else [])]
            notes += [fitwords.needed_together(arrow.old, part_number, needed)] if needed else []
        return list(dict.fromkeys(notes))

    def _sources(self, rules: Iterable[Rule]) -> list[SourceRef]:
        refs = dict.fromkeys((r.source_id, r.page, self.parts.grade(r)) for r in rules)
        return [SourceRef(source=source, page=page, grade=grade) for source, page, grade in refs]

    def _checks(self, side: MakerHypothesis, spot: Spot, judged: FitmentVerdict) -> list[Check]:
        if side is not self.side:
            return []  # what to look at is worked out for the most probable maker's castings
        claims = judged.case.claims
        asked_about = {spot[0], *(condition.component_id for claim in claims for condition in claim.conditions)}
        by_own_number = {assembly for claim in claims for limit in claim.limits if (assembly := self.parts.own_assembly(limit))}
        near = frozenset({self.book.components[component].assembly for component in asked_about} | by_own_number)
        return rank_checks(self.found.weighing, self.found.posterior, _DoesItFit(side.court, spot, judged), most=self.checks, near=near)


class _DoesItFit:
    """The question "does this part fit here": yes, and how many are needed where that differs; no; not recorded."""

    places = (None,)

    def __init__(self, court: VerdictCache, spot: Spot, judged: FitmentVerdict) -> None:
        self.court, self.spot, self.case = court, spot, judged.case
        self.setting = court.setting
        self._labels = [*(label for label, _ in judged.answers), "nothing recorded says so"]

    def labels(self, spot: Spot | None) -> list[str]:
        """See `Asked`."""
        return self._labels

    def by_spot(self, maker: str, spot: Spot) -> Floats:
        """See `Asked`."""
        ground = self.setting.ground(self.spot, self.case.claims, spot)
        return ground.by_variant(self._states(ground), spot)

    def by_fitted(self, maker: str, spot: Spot, posterior: MakerPosterior, of: Spot) -> Floats:
        """See `Asked`."""
        also = spot if maker == self.setting.maker else None
        ground = self.setting.ground(self.spot, self.case.claims, also)
        return ground.by_fitted(self._states(ground), maker, spot, posterior)

    def by_cells(self, maker: str, of: Spot | None = None) -> Floats:
        """See `Asked`."""
        ground = self.setting.ground(self.spot, self.case.claims)
        return ground.by_cells(self._states(ground), maker)

    def by_own_number(self, maker: str, assembly: str, parts: Floats) -> Floats | None:
        """See `Asked`."""
        ground = self.setting.ground(self.spot, self.case.claims)
        table = ground.by_own_number(assembly, parts)
        return None if table is None else np.array([table[part].sum(0) for part in self._states(ground)])

    def _states(self, ground: JointTable) -> list[Bools]:
        answers = dict(self.court.at(self.spot, ground).judge(self.case).answers)
        told = [ground.members(answers.get(label, 0)).reshape(ground.table.shape) for label in self._labels[:-1]]
        return [*told, ~np.logical_or.reduce(told)]


def _beside(role: Role, hearing: PlaceVerdicts, number: str) -> FitmentVerdict | None:
    entry = role.by_number.get(number)
    return hearing.judge(entry.case) if entry is not None else None


def _ships(number: str, quantity: float, judged: FitmentVerdict | None) -> Ships:
    if judged is None:
        return Ships(part_number=number, quantity=quantity, verdict="not recorded", probability=0.0)
    return Ships(part_number=number, quantity=quantity, verdict=judged.verdict, probability=judged.yes)


def _order(fit: Fit) -> tuple[float, str, str, str, str]:
    return (-round(fit.probability, 9), fit.part_number, fit.component, fit.place, fit.role)
