"""Does this part fit this unit, which parts fit it, and what to look at where that is open (docs/model.md, section 9)."""

from collections.abc import Callable
from functools import cached_property, partial

from kb.assumptions import Assumptions
from kb.desk.advice.checks import rank_checks
from kb.desk.fitment.context import Mode
from kb.desk.fitment.fit_templates import FitTemplates
from kb.desk.fitment.hypothesis import MakerHypothesis
from kb.desk.fitment.joint_table import JointTable
from kb.desk.fitment.rulesets import PartInRole, Role
from kb.desk.fitment.several_makers import of_several_makers
from kb.desk.fitment.target import RuleTarget
from kb.desk.fitment.verdicts import FitmentVerdict, PlaceVerdicts
from kb.desk.posterior.examination import Examination
from kb.desk.sentences.cautions import safety
from kb.desk.sentences.fitment import no_fitment, not_holding, recorded_elsewhere, stated_costs
from kb.desk.sentences.names import of_maker
from kb.desk.sentences.trade import outcomes
from kb.desk.sentences.unit import not_here
from kb.probability.inference.assembly import Spot
from kb.store.rows import PartRow
from kb.words.answers.fitment import Fit, Ships
from kb.words.answers.identification import Check
from kb.words.patience import go_on

MOST_CHECKS = 3
WORTH_LISTING = 0.01  # display: parts less likely to fit are not listed for a unit


class UnitFitments:
    """Answers about parts for one examined unit."""

    def __init__(
        self, found: Examination, templates: FitTemplates, mode: Mode = "fitted", assumptions: Assumptions | None = None, checks: int = MOST_CHECKS
    ) -> None:
        """assumptions: for the verdicts, instead of those that the unit was weighed with. checks: how many each verdict names at most."""
        self.checks = checks
        self.found, self.templates, self.parts, self.mode = found, templates, templates.parts, mode
        self.book = found.book
        self.assumptions = assumptions or found.weighing.assumptions

    @cached_property
    def hypothesis(self) -> MakerHypothesis:
        """The most probable unit's maker."""
        return self.hypotheses[0]

    @cached_property
    def hypotheses(self) -> list[MakerHypothesis]:
        """The makers that the unit may well be of, the most probable first; there is always one."""
        best = self.found.maker or ""
        masses = {maker: float(mass.sum()) for maker, mass in self.found.posterior.mass.items()}
        others = sorted((m for m, mass in masses.items() if m != best and mass >= self.assumptions.maker_asked), key=lambda m: (-masses[m], m))
        return [MakerHypothesis(self.found, self.parts, self.mode, self.assumptions, maker) for maker in (best, *others)]

    def fits(self, part: PartRow) -> list[Fit]:
        """One entry for each component place and role of the part at the makers that the unit may well be of."""
        number = part.part_number
        found = []
        for hypothesis in self.hypotheses:
            rules = [rule for rule in self.parts.rules(number) if hypothesis.context.has(rule.component_id)]
            for component_id, role in dict.fromkeys((rule.component_id, rule.role) for rule in rules):
                go_on()
                entry = self.parts.entry(number, component_id, role)
                assert entry is not None  # it has rules there
                for place in self.book.components[component_id].places:
                    spot = (component_id, place)
                    judged = hypothesis.judged(entry, spot)
                    checks = self._checks(hypothesis, spot, judged) if judged.verdict in ("check first", "not recorded") else []
                    found.append(self._fit(hypothesis, part, entry, spot, role, judged, checks, partial(hypothesis.alone, spot, role)))
        if found and len(self.hypotheses) > 1:
            found = of_several_makers(self.book, self.hypotheses, found, self.checks)
        return sorted(found, key=_order) or [self._not_recorded(part)]

    def fitting(self, assembly: str | None = None, everything: bool = False) -> list[Fit]:
        """The parts that fit, or may fit, the unit; everything: also those that do not. Of several makers that it may be of, the most probable's."""
        hypothesis = self.hypothesis
        if not hypothesis.maker:
            return []
        found = []
        for role in self.parts.roles(hypothesis.maker):
            go_on()
            component = self.book.components[role.component_id]
            if assembly is not None and component.assembly != assembly:
                continue
            for place in component.places:
                spot = (role.component_id, place)
                verdicts = hypothesis.together(role, spot)
                of = partial(_beside, role, verdicts)
                for entry in role.entries:
                    go_on()
                    judged = verdicts.judge(entry.rule_set)
                    if everything or (judged.yes >= WORTH_LISTING and judged.verdict != "does not fit"):
                        part = self.parts.part(entry.part_number)
                        if part is not None:
                            found.append(self._fit(hypothesis, part, entry, spot, role.role, judged, [], of))
        if len(self.hypotheses) > 1:
            found = of_several_makers(self.book, self.hypotheses, found, 0)
        return sorted(found, key=_order)

    # One entry

    def _fit(
        self, hypothesis: MakerHypothesis, part: PartRow, entry: PartInRole, spot: Spot, role: str, judged: FitmentVerdict, checks: list[Check],
        of: Callable[[str], FitmentVerdict | None],
    ) -> Fit:  # fmt: skip
        """of: what another number in the same role comes to at the same place, None if nothing is said of it."""
        begun = self.templates.of(part, entry, spot, role, judged)
        said, number = begun.because, part.part_number
        traced = hypothesis.current(number)
        return begun.varied(
            {
                "verdict": judged.verdict,
                "probability": judged.yes,
                "against": judged.no,
                "current": [_ships(each, quantity, judged if each == number else of(each)) for each, quantity in traced.current],
                "because": [judged.said + said[0], *said[1:]] if judged.holding else [not_holding(self.book, part, spot, judged.no, said)],
                "check_next": checks,
                "cautions": [*begun.cautions],
                "sources": [*begun.sources],
                "notes": [*traced.notes, *begun.notes],
                "assumed": self._costs,
            }
        )

    @cached_property
    def _costs(self) -> str:
        return stated_costs(self.assumptions)

    def _not_recorded(self, part: PartRow) -> Fit:
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
            cautions=[safety([part.description])] if part.safety_critical else [],
            sources=[],
            outcomes=outcomes(self.book, [part.part_number]),
            assumed=self._costs,
        )

    def _why_not_recorded(self, part: PartRow) -> list[str]:
        if self.found.unknown:
            return [not_here(self.found.probability_unknown)]
        elsewhere = dict.fromkeys(rule.component_id for rule in self.parts.rules(part.part_number) if rule.fits)
        places = list(dict.fromkeys(of_maker(self.book, component) for component in elsewhere))
        return [no_fitment(self.book, part, self.found.maker), *([recorded_elsewhere(places)] if places else [])]

    def _checks(self, hypothesis: MakerHypothesis, spot: Spot, judged: FitmentVerdict) -> list[Check]:
        if hypothesis is not self.hypothesis:
            return []  # what to look at is worked out for the most probable maker's castings
        rules = judged.rule_set.applicabilities
        asked_about = {spot[0], *(condition.component_id for applies in rules for condition in applies.conditions)}
        by_own_number = {assembly for applies in rules for limit in applies.limits if (assembly := self.parts.own_assembly(limit))}
        near = frozenset({self.book.components[component].assembly for component in asked_about} | by_own_number)
        labels = [label for label, _ in judged.answers]

        def events(table: JointTable) -> list[int]:
            answers = dict(hypothesis.verdicts.at(spot, table).judge(judged.rule_set).answers)
            return [answers.get(label, 0) for label in labels]

        target = RuleTarget(hypothesis.tables, spot, rules, [*labels, "nothing recorded says so"], events)
        return rank_checks(self.found.weighing, self.found.posterior, target, most=self.checks, near=near)


def _beside(role: Role, verdicts: PlaceVerdicts, number: str) -> FitmentVerdict | None:
    entry = role.by_number.get(number)
    return verdicts.judge(entry.rule_set) if entry is not None else None


def _ships(number: str, quantity: float, judged: FitmentVerdict | None) -> Ships:
    if judged is None:
        return Ships(part_number=number, quantity=quantity, verdict="not recorded", probability=0.0)
    return Ships(part_number=number, quantity=quantity, verdict=judged.verdict, probability=judged.yes)


def _order(fit: Fit) -> tuple[float, str, str, str, str]:
    return (-round(fit.probability, 9), fit.part_number, fit.component, fit.place, fit.role)
