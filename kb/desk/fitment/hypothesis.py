"""The units of one maker as parts see them: what its castings ask for, and what can be bought today for one of them."""

from kb.assumptions import Assumptions
from kb.desk.fitment.context import Mode, UnitContext
from kb.desk.fitment.joint_table import JointTables
from kb.desk.fitment.rulebook import Rulebook
from kb.desk.fitment.rulesets import PartInRole, Role
from kb.desk.fitment.verdicts import FitmentVerdict, PlaceVerdicts, VerdictCache
from kb.desk.posterior.examination import Examination
from kb.probability.catalogue.supersession import Arrow
from kb.probability.catalogue.trace import Trace
from kb.probability.inference.assembly import Spot


class MakerHypothesis:
    """What is said of parts, should the examined unit be one of this maker.

    Attributes:
        maker: the maker; "" where the unit may be of none. probability: that it is one of theirs. others: that it is another known maker's.
    """

    def __init__(self, found: Examination, parts: Rulebook, mode: Mode, assumptions: Assumptions, maker: str) -> None:
        self.maker, self.parts, self.assumptions = maker, parts, assumptions
        self.probability = float(found.posterior.mass[maker].sum()) if maker else 0.0
        self.others = max(0.0, found.known - self.probability)
        self.context = UnitContext(found, mode, maker)
        self.tables = JointTables(self.context, parts)
        self.verdicts = VerdictCache(self.context, assumptions, self.others)
        self._traces: dict[str, Trace] = {}

    def alone(self, spot: Spot, role: str, number: str) -> FitmentVerdict | None:
        """What is said of one part in a role at a place, None if nothing."""
        entry = self.parts.entry(number, spot[0], role)
        return self.judged(entry, spot) if entry is not None else None

    def judged(self, entry: PartInRole, spot: Spot) -> FitmentVerdict:
        """What an entry comes to at a place."""
        return self.verdicts.at(spot, self.tables.of(spot, entry.rule_set.applicabilities)).judge(entry.rule_set)

    def together(self, role: Role, spot: Spot) -> PlaceVerdicts:
        """All parts in a role at a place, judged together."""
        return self.verdicts.at(spot, self.tables.of(spot, role.further, cuts=self.parts.cuts(self.maker)))

    def current(self, part_number: str) -> Trace:
        """What can be bought today instead of a number, the conditions judged for this unit."""
        if part_number not in self._traces:
            self._traces[part_number] = self.parts.trace(part_number, self._holds)
        return self._traces[part_number]

    def _holds(self, arrow: Arrow) -> bool | None:
        """Whether the conditions of a supersession hold for this unit; None where that is open."""
        if arrow.applies.everywhere:
            return None if arrow.condition else True
        spot = self.context.first_place(arrow.component)
        if spot is None:
            return False
        chance, _ = self.tables.chances(arrow.applies, spot)
        return True if chance >= self.assumptions.verdict_at else False if chance <= 1 - self.assumptions.verdict_at else None
