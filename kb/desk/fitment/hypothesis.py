"""The units of one maker as parts see them: what its castings ask for, and what can be bought today for one of them."""

from kb.assumptions import Assumptions
from kb.desk.fitment.joint_table import Mode, UnitContext
from kb.desk.fitment.rulebook import PartBook
from kb.desk.fitment.rulesets import PartInRole, Role
from kb.desk.fitment.verdicts import FitmentVerdict, PlaceVerdicts, VerdictCache
from kb.desk.posterior.examination import Examination
from kb.probability.catalogue.fitments import Condition, Limit, Rule
from kb.probability.catalogue.supersession import Arrow
from kb.probability.catalogue.trace import Trace
from kb.probability.inference.assembly import Spot


class MakerHypothesis:
    """What is said of parts, should the examined unit be one of this maker.

    Attributes:
        maker: the maker; "" where the unit may be of none. probability: that it is one of theirs. others: that it is another known maker's.
    """

    def __init__(self, found: Examination, parts: PartBook, mode: Mode, assumptions: Assumptions, maker: str) -> None:
        self.maker, self.parts, self.assumptions = maker, parts, assumptions
        self.probability = float(found.posterior.mass[maker].sum()) if maker else 0.0
        self.others = max(0.0, found.known - self.probability)
        self.setting = UnitContext(found, parts, mode, maker)
        self.court = VerdictCache(self.setting, assumptions, self.others)
        self._traces: dict[str, Trace] = {}

    def alone(self, spot: Spot, role: str, number: str) -> FitmentVerdict | None:
        """What is said of one part in a role at a place, None if nothing."""
        entry = self.parts.entry(number, spot[0], role)
        return self.judged(entry, spot) if entry is not None else None

    def judged(self, entry: PartInRole, spot: Spot) -> FitmentVerdict:
        """What an entry comes to at a place."""
        return self.court.at(spot, self.setting.ground(spot, entry.case.claims)).judge(entry.case)

    def hearing(self, role: Role, spot: Spot) -> PlaceVerdicts:
        """All parts in a role at a place, heard together."""
        return self.court.at(spot, self.setting.ground(spot, role.further, cuts=self.parts.cuts(self.maker)))

    def current(self, part_number: str) -> Trace:
        """What can be bought today instead of a number, the conditions judged for this unit."""
        if part_number not in self._traces:
            self._traces[part_number] = self.parts.trace(part_number, self._holds)
        return self._traces[part_number]

    def _holds(self, arrow: Arrow) -> bool | None:
        """Whether the conditions of a supersession hold for this unit; None where that is open."""
        if not (arrow.series_id or arrow.serial_from or arrow.serial_to or arrow.model_id or arrow.variant_id):
            return None if arrow.condition else True
        book = self.setting.book
        component = book.variants[arrow.variant_id].component_id if arrow.variant_id else next(iter(self.setting.components), "")
        if not component or not self.setting.has(component):
            return False
        limits = (Limit(arrow.series_id, arrow.serial_from, arrow.serial_to),) if arrow.series_id or arrow.serial_from or arrow.serial_to else ()
        wanted = (Condition(component, None, arrow.variant_id),) if arrow.variant_id else ()
        models = (arrow.model_id,) if arrow.model_id else ()
        rule = Rule(arrow.supersession_id, arrow.new, component, "", True, 1.0, "place", None, limits, models, wanted, "", arrow.source_id, "")
        spot = (component, book.components[component].places[0])
        ground = self.setting.ground(spot, [rule.claim])
        chance = ground.mass(ground.truth(rule.claim, spot, any_casting=not wanted).holds)
        return True if chance >= self.assumptions.verdict_at else False if chance <= 1 - self.assumptions.verdict_at else None
