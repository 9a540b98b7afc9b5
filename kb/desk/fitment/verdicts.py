"""Cases judged for one examined unit: probabilities and a verdict for a part at one place (docs/model.md, section 9)."""

from dataclasses import dataclass
from functools import cached_property

from kb.assumptions import Assumptions
from kb.desk.fitment.joint_table import JointTable, UnitContext
from kb.desk.fitment.rulesets import RuleSet, RuleSummary
from kb.desk.sentences import fitment as fitwords
from kb.probability.catalogue.fitments import Applicability
from kb.probability.inference.assembly import Spot
from kb.probability.inference.verdict import States, Truth, VerdictContext, VerdictText, VerdictThresholds, states, verdict


@dataclass(eq=False)
class FitmentVerdict:
    """What a case comes to at one place.

    Attributes:
        holding: which of its statements make the yes, the weightiest first.
        quantities: quantity -> where it is the one needed, the most probable first.
        many: the quantities, if there are several.
    """

    case: RuleSet
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
        return fitwords.holds_here(self.yes)


class VerdictCache:
    """Where cases are judged for one unit."""

    def __init__(self, setting: UnitContext, assumptions: Assumptions, others: float) -> None:
        """others: the probability that the unit is another known maker's."""
        self.setting, self.bench = setting, VerdictThresholds.of(assumptions, others)
        self._hearings: dict[tuple[Spot, JointTable], PlaceVerdicts] = {}

    def at(self, spot: Spot, ground: JointTable) -> "PlaceVerdicts":
        """The cases at one place, on a ground for their claims."""
        key = (spot, ground)
        if key not in self._hearings:
            self._hearings[key] = PlaceVerdicts(self.setting, self.bench, spot, ground)
        return self._hearings[key]


class PlaceVerdicts:
    """Cases judged at one place; what they have in common is looked into once."""

    def __init__(self, setting: UnitContext, bench: VerdictThresholds, spot: Spot, ground: JointTable) -> None:
        self.setting, self.bench, self.spot, self.ground = setting, bench, spot, ground
        self.critical, self.seen = bool(setting.book.components[spot[0]].safety_critical), spot in setting.seen
        self._truths: dict[Applicability, Truth] = {}
        self._against: dict[tuple[Applicability, ...], int] = {}
        self._judged: dict[RuleSet, FitmentVerdict] = {}

    def judge(self, case: RuleSet) -> FitmentVerdict:
        """What a case comes to here."""
        found = self._judged.get(case)
        if found is None:
            found = self._judged[case] = self._judge(case)
        return found

    def _judge(self, case: RuleSet) -> FitmentVerdict:
        mass, each = self.ground.mass, [(statement, self._truth(statement.claim)) for statement in case.statements]
        fitting = [truth for statement, truth in each if statement.fits]
        refusing = [truth for statement, truth in each if not statement.fits]
        state = states(self.ground.everything, fitting, refusing, self._others(case.others))
        yes, no = mass(state.yes), mass(state.no)
        weights = [(mass(truth.holds & state.yes), i) for i, (statement, truth) in enumerate(each) if statement.fits]
        holding = tuple([i for weight, i in sorted(weights, key=_heaviest) if weight > 0])
        quantities: dict[float, int] = {}
        left = state.yes
        for i in holding:
            statement, truth = each[i]
            if here := truth.holds & left:
                quantities[statement.quantity] = quantities.get(statement.quantity, 0) | here
                left &= ~truth.holds
        if len(quantities) > 1:
            quantities = dict(sorted(quantities.items(), key=lambda entry: -mass(entry[1])))
        sound = state.yes
        if not all(statement.firm for statement, _ in each):
            firm = [truth for statement, truth in each if statement.fits and statement.firm]
            sound = states(self.ground.everything, firm, refusing, 0).yes
        standing = VerdictContext(
            self.critical or case.critical,
            self.seen,
            any(case.statements[i].measure_first and self._unmeasured(case.statements[i]) for i in holding),
            mass(sound),
            max(map(mass, quantities.values()), default=0.0),
        )
        many = tuple(quantities) if len(quantities) > 1 else ()
        return FitmentVerdict(case, state, yes, no, verdict(yes, no, standing, self.bench), holding, quantities, many)

    def _truth(self, claim: Applicability) -> Truth:
        found = self._truths.get(claim)
        if found is None:
            found = self._truths[claim] = self.ground.truth(claim, self.spot)
        return found

    def _others(self, claims: tuple[Applicability, ...]) -> int:
        """Where something holds by which another part is the one."""
        found = self._against.get(claims)
        if found is None:
            found = 0
            for claim in claims:
                found |= self._truth(claim).holds
            self._against[claims] = found
        return found

    def _unmeasured(self, statement: RuleSummary) -> bool:
        return not self.setting.measured(statement.claim, statement.measure_first, self.spot)


def _heaviest(weighed: tuple[float, int]) -> tuple[float, int]:
    return (-weighed[0], weighed[1])
