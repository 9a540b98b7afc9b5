"""Rule sets judged for one examined unit: probabilities and a verdict for a part at one place (docs/model.md, section 9)."""

from dataclasses import dataclass
from functools import cached_property

from kb.assumptions import Assumptions
from kb.desk.fitment.context import UnitContext
from kb.desk.fitment.joint_table import JointTable
from kb.desk.fitment.rulesets import RuleSet, RuleSummary
from kb.desk.sentences.fitment import holds_here
from kb.probability.inference.assembly import Spot
from kb.probability.inference.verdict import States, Truth, VerdictContext, VerdictText, VerdictThresholds, states, verdict
from kb.words.applicability import Applicability


@dataclass(eq=False)
class FitmentVerdict:
    """What a rule set comes to at one place.

    Attributes:
        holding: which of its rules make the yes, the weightiest first.
        quantities: quantity -> where it is the one needed, the most probable first.
        many: the quantities, if there are several.
    """

    rule_set: RuleSet
    states: States
    yes: float
    no: float
    verdict: VerdictText
    holding: tuple[int, ...]
    quantities: dict[float, int]
    many: tuple[float, ...]

    @property
    def answers(self) -> list[tuple[str, int]]:
        """The answers to "does it fit", and where each is right; the quantities are told apart where they differ."""
        if not self.many:
            return [("it fits", self.states.yes), ("it does not fit", self.states.no)]
        return [*((f"it fits, {quantity:g} needed", entries) for quantity, entries in self.quantities.items()), ("it does not fit", self.states.no)]

    @cached_property
    def said(self) -> str:
        """How the reasons begin where it holds."""
        return holds_here(self.yes)


class VerdictCache:
    """Where rule sets are judged for one unit."""

    def __init__(self, context: UnitContext, assumptions: Assumptions, others: float) -> None:
        """others: the probability that the unit is another known maker's."""
        self.context, self.thresholds = context, VerdictThresholds.of(assumptions, others)
        self._places: dict[tuple[Spot, JointTable], PlaceVerdicts] = {}

    def at(self, spot: Spot, table: JointTable) -> "PlaceVerdicts":
        """The rule sets at one place, by a table for what they depend on."""
        key = (spot, table)
        if key not in self._places:
            self._places[key] = PlaceVerdicts(self.context, self.thresholds, spot, table)
        return self._places[key]


class PlaceVerdicts:
    """Rule sets judged at one place; what they have in common is looked into once."""

    def __init__(self, context: UnitContext, thresholds: VerdictThresholds, spot: Spot, table: JointTable) -> None:
        self.context, self.thresholds, self.spot, self.table = context, thresholds, spot, table
        self.critical, self.seen = bool(context.book.components[spot[0]].safety_critical), spot in context.seen
        self._truths: dict[Applicability, Truth] = {}
        self._against: dict[tuple[Applicability, ...], int] = {}
        self._judged: dict[RuleSet, FitmentVerdict] = {}

    def judge(self, rule_set: RuleSet) -> FitmentVerdict:
        """What a rule set comes to here."""
        found = self._judged.get(rule_set)
        if found is None:
            found = self._judged[rule_set] = self._judge(rule_set)
        return found

    def _judge(self, rule_set: RuleSet) -> FitmentVerdict:
        mass, each = self.table.mass, [(summary, self._truth(summary.applies)) for summary in rule_set.summaries]
        fitting = [truth for summary, truth in each if summary.fits]
        refusing = [truth for summary, truth in each if not summary.fits]
        state = states(self.table.everything, fitting, refusing, self._others(rule_set.others))
        yes, no = mass(state.yes), mass(state.no)
        weights = [(mass(truth.holds & state.yes), i) for i, (summary, truth) in enumerate(each) if summary.fits]
        holding = tuple([i for weight, i in sorted(weights, key=_heaviest) if weight > 0])
        quantities: dict[float, int] = {}
        left = state.yes
        for i in holding:
            summary, truth = each[i]
            if here := truth.holds & left:
                quantities[summary.quantity] = quantities.get(summary.quantity, 0) | here
                left &= ~truth.holds
        if len(quantities) > 1:
            quantities = dict(sorted(quantities.items(), key=lambda entry: -mass(entry[1])))
        sound = state.yes
        if not all(summary.firm for summary, _ in each):
            firm = [truth for summary, truth in each if summary.fits and summary.firm]
            sound = states(self.table.everything, firm, refusing, 0).yes
        beside = VerdictContext(
            self.critical or rule_set.critical,
            self.seen,
            any(rule_set.summaries[i].measure_first and self._unmeasured(rule_set.summaries[i]) for i in holding),
            mass(sound),
            max(map(mass, quantities.values()), default=0.0),
        )
        many = tuple(quantities) if len(quantities) > 1 else ()
        return FitmentVerdict(rule_set, state, yes, no, verdict(yes, no, beside, self.thresholds), holding, quantities, many)

    def _truth(self, applies: Applicability) -> Truth:
        found = self._truths.get(applies)
        if found is None:
            found = self._truths[applies] = self.table.truth(applies, self.spot)
        return found

    def _others(self, others: tuple[Applicability, ...]) -> int:
        """Where a rule applies by which another part is the one."""
        found = self._against.get(others)
        if found is None:
            found = 0
            for applies in others:
                found |= self._truth(applies).holds
            self._against[others] = found
        return found

    def _unmeasured(self, summary: RuleSummary) -> bool:
        return not self.context.measured(summary.applies, summary.measure_first, self.spot)


def _heaviest(weighed: tuple[float, int]) -> tuple[float, int]:
    return (-weighed[0], weighed[1])
