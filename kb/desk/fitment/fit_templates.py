"""What an answer about a part says whatever the unit: it is put together once, for as long as the knowledge base is open."""

from collections.abc import Iterable

from kb.desk.fitment.rulebook import Rulebook
from kb.desk.fitment.rulesets import PartInRole
from kb.desk.fitment.verdicts import FitmentVerdict
from kb.desk.sentences.cautions import component_caution
from kb.desk.sentences.fitment import needed_together, rule_reasons
from kb.desk.sentences.names import spot_name
from kb.desk.sentences.trade import outcomes
from kb.probability.catalogue.fitments import Rule
from kb.probability.inference.assembly import Spot
from kb.store.rows import PartRow
from kb.words.answers.fitment import Fit, SourceRef


class FitTemplates:
    """Answers begun: of the unit they know only which rules hold, and how many of the part those ask for."""

    def __init__(self, parts: Rulebook) -> None:
        self.parts, self.book = parts, parts.book
        self._begun: dict[tuple[PartInRole, str, tuple[int, ...], tuple[float, ...]], Fit] = {}

    def of(self, part: PartRow, entry: PartInRole, spot: Spot, role: str, judged: FitmentVerdict) -> Fit:
        """The answer as far as it goes; verdict and probabilities are those of the first unit, for the caller to replace."""
        key = (entry, spot[1], judged.holding, judged.many)
        if key not in self._begun:
            self._begun[key] = self._begin(part, entry, spot, role, judged)
        return self._begun[key]

    def _begin(self, part: PartRow, entry: PartInRole, spot: Spot, role: str, judged: FitmentVerdict) -> Fit:
        component = self.book.components[spot[0]]
        told_by = [entry.rules[i] for i in judged.holding] or list(entry.rules)
        best = told_by[0]
        return Fit(
            part_number=part.part_number,
            description=part.description,
            name=spot_name(self.book, *spot),
            component=spot[0],
            place=spot[1],
            role=role,
            quantity=best.quantity,
            per=best.per,
            verdict=judged.verdict,
            probability=judged.yes,
            against=judged.no,
            current=[],
            because=rule_reasons(self.book, told_by, judged.many),
            check_next=[],
            cautions=[component_caution(component)] if component.safety_critical or part.safety_critical else [],
            sources=self._sources(told_by),
            measure_first=next((rule.measure_first for rule in told_by if judged.holding and rule.measure_first), ""),
            notes=self._together(part.part_number),
            outcomes=outcomes(self.book, [part.part_number]),
        )

    def _together(self, part_number: str) -> list[str]:
        """What a part needs with it where it takes the place of an older one."""
        notes = []
        for arrow in (a for a in self.parts.arrows(part_number) if a.new == part_number):
            others = [
                a.new for a in self.parts.arrows(part_number) if arrow.group and (a.old, a.group) == (arrow.old, arrow.group) and a is not arrow
            ]
            needed = [*others, *([arrow.with_part] if arrow.with_part else [])]
            notes += [needed_together(arrow.old, part_number, needed)] if needed else []
        return list(dict.fromkeys(notes))

    def _sources(self, rules: Iterable[Rule]) -> list[SourceRef]:
        refs = dict.fromkeys((r.source_id, r.page, self.parts.grade(r)) for r in rules)
        return [SourceRef(source=source, page=page, grade=grade) for source, page, grade in refs]
