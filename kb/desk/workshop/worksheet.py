"""Work on one assembly of one examined unit: the steps that apply to it, with its fitted castings, in order.

A step with a variant, limits or a model applies or not by the same posterior and the same thresholds as a fitment row:
sure enough it is printed, sure enough not it is left out, and in between it is printed with what to look at first. A step for a variant is done at
every place where that variant sits; left and right may differ. A step without a variant is done once, whatever is fitted.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from kb.desk.advice.checks import rank_checks
from kb.desk.evidence.names import suggestion
from kb.desk.fitment.fits import UnitFitments
from kb.desk.fitment.joint_table import JointTable
from kb.desk.fitment.target import RuleTarget
from kb.desk.sentences.cautions import CLOSING, component_caution, critical
from kb.desk.sentences.fitment import applies_words
from kb.desk.sentences.workshop import no_step, step_applies
from kb.probability.catalogue.hazards import HAZARDS
from kb.probability.inference.assembly import Spot
from kb.probability.inference.costs import thresholds
from kb.store import procedures as stored
from kb.store.rows import ProcedureRow, StepPartRow, StepRow
from kb.words.answers.fitment import SourceRef
from kb.words.answers.identification import Check, Identification
from kb.words.answers.workshop import HazardNote, MeasureEntry, ProcedureEntry, Sheet, StepBuyable, StepEntry, StepPartEntry
from kb.words.applicability import Applicability
from kb.words.errors import QuestionError
from kb.words.lengths import limits_words

ALL_PLACES = "all"


@dataclass(frozen=True)
class StepAtPlace:
    """One step at one place ("all": done once for the unit). yes, no: that it applies, that it does not; the rest is a unit that is not known.

    spot: where it is judged; a step that is done once, at any place of its component.
    """

    row: StepRow
    applies: Applicability
    spot: Spot
    place: str
    yes: float
    no: float
    state: str  # "do", "undecided", "not"


class WorkSheet:
    """Answers about procedures for one examined unit. The counter carries the unit and the parts."""

    def __init__(self, counter: UnitFitments) -> None:
        self.counter, self.book = counter, counter.book
        self.context, self.tables = counter.hypothesis.context, counter.hypothesis.tables
        self.assumptions = counter.assumptions

    def sheet(self, assembly: str, unit: Identification) -> Sheet:
        """The work sheet for an assembly.

        Raises:
            QuestionError: no procedure is recorded for it, or the unit is not known at all.
        """
        if self.counter.found.maker is None:
            raise QuestionError("Nothing is known about the unit.", "Give what can be read of its serial or its castings.")
        rows = self._procedures(assembly)
        named = [c.name for c in self.book.components.values() if c.assembly == assembly and c.maker_id == self.counter.found.maker]
        named = [name for name in named if name in self._critical]
        return Sheet(
            assembly=assembly,
            unit=unit,
            procedures=[self._procedure(row) for row in rows],
            critical=critical(named),
            closing=CLOSING,
        )

    @cached_property
    def _critical(self) -> set[str]:
        return {c.name for c in self.book.components.values() if c.safety_critical}

    def _procedures(self, assembly: str) -> list[ProcedureRow]:
        known = stored.procedures(self.book)
        mine = [row for row in known if row.maker_id in (None, self.counter.found.maker)]
        found = [row for row in mine if row.assembly.lower() == assembly.lower()]
        if not found:
            remedy = suggestion(assembly, [row.assembly for row in mine]) if mine else "Add one to procedures.csv and steps.csv."
            raise QuestionError(f'No procedure is recorded for the assembly "{assembly}" of this unit.', remedy)
        return found

    def _procedure(self, row: ProcedureRow) -> ProcedureEntry:
        steps = stored.steps_of(self.book, row.procedure_id)
        judged = [each for step in steps for each in self.judge(step)]
        entries = list(self._entries(judged))
        return ProcedureEntry(
            procedure=row.procedure_id,
            title=row.title,
            note=row.note or "",
            hazards=_notes(row.hazards),
            steps=[entry.model_copy(update={"number": str(number)}) for number, entry in enumerate(entries, 1)],
            gaps=self._gaps(judged),
            left_out=self._left_out(judged),
        )

    def applies(self, step_id: str) -> str:
        """Whether a step is one for this unit, in words."""
        row = stored.step(self.book, step_id)
        judged = self.judge(row) if row is not None and self.context.components else []
        return step_applies([(each.state, "" if each.place == ALL_PLACES else each.place, each.yes) for each in judged])

    # Which steps apply

    def judge(self, step: StepRow) -> list[StepAtPlace]:
        """A step at every place it may apply to."""
        spot = self.context.first_place(step.component_id)
        if spot is None:
            return []
        component = spot[0]
        applies = Applicability.of_row(step, component)
        if applies.everywhere:
            return [StepAtPlace(step, applies, spot, ALL_PLACES, 1.0, 0.0, "do")]
        if not applies.conditions:
            return [self._judge(step, applies, spot, ALL_PLACES)]
        return [self._judge(step, applies, (component, place), place) for place in self.book.components[component].places]

    def _judge(self, step: StepRow, applies: Applicability, spot: Spot, place: str) -> StepAtPlace:
        yes, no = self.tables.chances(applies, spot)
        critical = bool(self.book.components[spot[0]].safety_critical and applies.conditions)
        at = thresholds(self.assumptions, critical).fits
        looked = spot in self.context.seen or not critical
        state = "do" if yes >= at and looked else "not" if no >= at and looked else "undecided"
        return StepAtPlace(step, applies, spot, place, yes, no, state)

    # Entries

    def _entries(self, judged: Sequence[StepAtPlace]) -> Iterator[StepEntry]:
        """The steps to print: what is the same at several places is printed once; undecided ones of a casting stand together."""
        explained: set[Spot] = set()
        done: set[tuple[str, str]] = set()
        for each in judged:
            if each.state == "not" or (each.row.step_id, each.state) in done:
                continue
            done.add((each.row.step_id, each.state))
            together = [other for other in judged if other.row.step_id == each.row.step_id and other.state == each.state]
            decide: list[Check] = []
            if each.state == "undecided":
                for other in together:
                    if other.spot not in explained:
                        explained.add(other.spot)
                        known = {check.check for check in decide}
                        here = [j for j in judged if j.spot == other.spot and j.state == "undecided"]
                        decide += [check for check in self._decide(other.spot, here) if check.check not in known]
            yield self._entry(together, decide)

    def _entry(self, together: Sequence[StepAtPlace], decide: list[Check]) -> StepEntry:
        each, row = together[0], together[0].row
        component = self.book.components[row.component_id] if row.component_id else None
        places = [j.place for j in together if j.place not in (ALL_PLACES, "")]
        times = max(1, len(places))
        caution = row.caution or ""
        notes = _notes(row.hazards)
        if component is not None and component.safety_critical and not (caution or notes):
            caution = component_caution(component)
        source = self.book.sources.get(row.source_id)
        return StepEntry(
            step=row.step_id,
            number="",
            text=row.text,
            state="do" if each.state == "do" else "undecided",
            only_if=self._only_if(each),
            places=places,
            probability=min(j.yes for j in together),
            caution=caution,
            hazards=notes,
            parts=[self._part(part, row, together, times) for part in self._parts(row.step_id)],
            measure=_measure(row),
            decide=decide,
            source=SourceRef(source=source.title if source is not None else row.source_id, page=row.page or "", grade=source.grade if source else ""),
        )

    def _only_if(self, judged: StepAtPlace) -> str:
        return ", ".join(applies_words(self.book, judged.applies, judged.spot[0]))

    def _parts(self, step_id: str) -> list[StepPartRow]:
        return stored.parts_of_step(self.book, step_id)

    def _part(self, needed: StepPartRow, step: StepRow, together: Sequence[StepAtPlace], times: int) -> StepPartEntry:
        quantity = float(needed.quantity) * times
        part = self.counter.parts.part(needed.part_number)
        current = [
            StepBuyable(
                part_number=number,
                description=row.description if (row := self.counter.parts.part(number)) is not None else "",
                quantity=many * quantity,
                verdict=self._verdict(number, step, together),
            )
            for number, many in self.counter.hypothesis.current(needed.part_number).current
        ]
        description = part.description if part is not None else ""
        return StepPartEntry(part_number=needed.part_number, description=description, quantity=quantity, current=current)

    def _verdict(self, number: str, step: StepRow, together: Sequence[StepAtPlace]) -> str:
        """The worst verdict for what ships at the places of the step; "" if nothing is recorded about it at that component."""
        part = self.counter.parts.part(number)
        if part is None or not step.component_id:
            return ""
        places = {j.place for j in together} - {ALL_PLACES}
        fits = [f for f in self.counter.fits(part) if f.component == step.component_id and (not places or f.place in places)]
        order = ["does not fit", "check first", "not recorded", "fits"]
        return min((f.verdict for f in fits), key=order.index, default="")

    def _decide(self, spot: Spot, undecided: Sequence[StepAtPlace]) -> list[Check]:
        found, rules = self.counter.found, [each.applies for each in undecided]
        labels = [f"the step for {self._only_if(each)}" for each in undecided]

        def events(table: JointTable) -> list[int]:
            left, found = table.everything, []
            for applies in rules:
                found.append(table.holds(applies, spot) & left)
                left &= ~found[-1]
            return found

        target = RuleTarget(self.tables, spot, rules, [*labels, "none of them"], events)
        return rank_checks(found.weighing, found.posterior, target, most=2, only=spot[0])

    def _gaps(self, judged: Sequence[StepAtPlace]) -> list[str]:
        """Castings that are probably none of those that the steps are for."""
        spots = dict.fromkeys(j.spot for j in judged if j.row.variant_id)
        fitted = {spot: self.context.posterior.totals(spot).fitted[0] for spot in spots}
        return [no_step(self.book, *spot) for spot, by_variant in fitted.items() if by_variant[-1] > by_variant.sum() / 2]

    def _left_out(self, judged: Sequence[StepAtPlace]) -> list[str]:
        found: dict[str, list[StepAtPlace]] = {}
        for each in judged:
            found.setdefault(each.row.step_id, []).append(each)
        gone = [entries[0] for entries in found.values() if all(each.state == "not" for each in entries)]
        return [f"{each.row.step_id}: only for {self._only_if(each)}" for each in gone]


def _notes(hazards: Iterable[str]) -> list[HazardNote]:
    return [HazardNote(hazard=name, name=HAZARDS[name].name, text=HAZARDS[name].text, source=HAZARDS[name].source) for name in hazards]


def _measure(row: StepRow) -> MeasureEntry | None:
    if not row.measure:
        return None
    unit = row.unit or "mm"
    return MeasureEntry(what=row.measure, low=row.low, high=row.high, unit=unit, limits=limits_words(row.low, row.high, unit))
