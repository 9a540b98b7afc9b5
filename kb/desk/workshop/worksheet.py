"""Work on one assembly of one examined unit: the steps that apply to it, with its fitted castings, in order.

A step with a variant, limits or a model is a rule like a fitment row, and holds or not by the same posterior and the same thresholds:
sure enough it is printed, sure enough not it is left out, and in between it is printed with what to look at first. A step for a variant is done at
every place where that variant sits; left and right may differ. A step without a variant is done once, whatever is fitted.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.desk.advice.checks import rank_checks
from kb.desk.evidence.names import suggestion
from kb.desk.fitment.fits import UnitFitments
from kb.desk.sentences import explain
from kb.desk.sentences import fitment as fitwords
from kb.probability.catalogue.fitments import Condition, Limit, Rule
from kb.probability.catalogue.hazards import CLOSING, CRITICAL, HAZARDS
from kb.probability.inference.assembly import Spot
from kb.probability.inference.costs import thresholds
from kb.probability.inference.posterior import MakerPosterior
from kb.store.book import Row, split_list
from kb.words.answers.fitment import SourceRef
from kb.words.answers.identification import Check, Identification
from kb.words.answers.workshop import HazardNote, MeasureEntry, ProcedureEntry, Sheet, StepBuyable, StepEntry, StepPartEntry
from kb.words.errors import QuestionError
from kb.words.lengths import limits_words

Floats = NDArray[np.float64]
ALL_PLACES = "all"


@dataclass(frozen=True)
class StepAtPlace:
    """One step at one place ("all": done once for the unit). yes, no: that it applies, that it does not; the rest is a unit that is not known."""

    row: Row
    rule: Rule
    place: str
    yes: float
    no: float
    state: str  # "do", "undecided", "not"


class WorkSheet:
    """Answers about procedures for one examined unit. The counter carries the unit and the parts."""

    def __init__(self, counter: UnitFitments) -> None:
        self.counter, self.setting, self.book = counter, counter.side.setting, counter.book
        self.assumptions = counter.assumptions

    def sheet(self, assembly: str, unit: Identification) -> Sheet:
        """The work sheet for an assembly.

        Raises:
            QuestionError: no procedure is recorded for it, or the unit is not known at all.
        """
        if self.counter.found.maker is None:
            raise QuestionError("Nothing is known about the unit.", "Give what can be read of its serial or its castings.")
        rows = self._procedures(assembly)
        critical = [c.name for c in self.book.components.values() if c.assembly == assembly and c.maker_id == self.counter.found.maker]
        critical = [name for name in critical if name in self._critical]
        return Sheet(
            assembly=assembly,
            unit=unit,
            procedures=[self._procedure(row) for row in rows],
            critical=CRITICAL.format(names=", ".join(critical)) if critical else "",
            closing=CLOSING,
        )

    @cached_property
    def _critical(self) -> set[str]:
        return {c.name for c in self.book.components.values() if c.safety_critical}

    def _procedures(self, assembly: str) -> list[Row]:
        known = self.book.rows("select * from procedures order by rowid")
        mine = [row for row in known if row.maker_id in (None, self.counter.found.maker)]
        found = [row for row in mine if row.assembly.lower() == assembly.lower()]
        if not found:
            remedy = suggestion(assembly, [row.assembly for row in mine]) if mine else "Add one to procedures.csv and steps.csv."
            raise QuestionError(f'No procedure is recorded for the assembly "{assembly}" of this unit.', remedy)
        return found

    def _procedure(self, row: Row) -> ProcedureEntry:
        steps = self.book.rows("select * from steps where procedure_id = ? order by position, rowid", row.procedure_id)
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
        row = self.book.one("select * from steps where step_id = ?", step_id)
        judged = self.judge(row) if row is not None and self.setting.components else []
        return explain.step_applies([(each.state, "" if each.place == ALL_PLACES else each.place, each.yes) for each in judged])

    # Which steps apply

    def judge(self, step: Row) -> list[StepAtPlace]:
        """A step at every place it may apply to."""
        component = step.component_id or next(iter(self.setting.components))
        limited = step.series_id or step.serial_from or step.serial_to
        rule = Rule(
            fitment_id=step.step_id,
            part_number="",
            component_id=component,
            role="",
            fits=True,
            quantity=1.0,
            per="place",
            place=None,
            limits=(Limit(step.series_id, step.serial_from, step.serial_to),) if limited else (),
            models=(step.model_id,) if step.model_id else (),
            conditions=(Condition(component, None, step.variant_id),) if step.variant_id else (),
            measure_first="",
            source_id=step.source_id,
            page=step.page or "",
        )
        if not self.setting.has(component):
            return []
        if not (rule.conditions or rule.limits or rule.models):
            return [StepAtPlace(step, rule, ALL_PLACES, 1.0, 0.0, "do")]
        places = self.book.components[component].places if rule.conditions else (ALL_PLACES,)
        return [self._judge(step, rule, place) for place in places]

    def _judge(self, step: Row, rule: Rule, place: str) -> StepAtPlace:
        spot = self._spot(rule, place)
        ground = self.setting.ground(spot, [rule.claim])
        holds = ground.truth(rule.claim, spot, any_casting=not rule.conditions).holds
        yes, no = ground.mass(holds), ground.mass(ground.everything & ~holds)
        critical = bool(self.book.components[rule.component_id].safety_critical and rule.conditions)
        at = thresholds(self.assumptions, critical).fits
        looked = spot in self.setting.seen or not critical
        state = "do" if yes >= at and looked else "not" if no >= at and looked else "undecided"
        return StepAtPlace(step, rule, place, yes, no, state)

    def _spot(self, rule: Rule, place: str) -> Spot:
        places = self.book.components[rule.component_id].places
        return (rule.component_id, places[0] if place == ALL_PLACES else place)

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
                    spot = self._spot(other.rule, other.place)
                    if spot not in explained:
                        explained.add(spot)
                        known = {check.check for check in decide}
                        here = [j for j in judged if self._spot(j.rule, j.place) == spot and j.state == "undecided"]
                        decide += [check for check in self._decide(spot, here) if check.check not in known]
            yield self._entry(together, decide)

    def _entry(self, together: Sequence[StepAtPlace], decide: list[Check]) -> StepEntry:
        each, row = together[0], together[0].row
        component = self.book.components[row.component_id] if row.component_id else None
        places = [j.place for j in together if j.place not in (ALL_PLACES, "")]
        times = max(1, len(places))
        caution = row.caution or ""
        notes = _notes(row.hazards)
        if component is not None and component.safety_critical and not (caution or notes):
            caution = explain.component_caution(component)
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
        words = [explain.variant_name(self.book, judged.row.variant_id)] if judged.row.variant_id else []
        words += [self.book.models[model].name for model in judged.rule.models]
        return ", ".join(words + [fitwords.limit_words(self.book, limit) for limit in judged.rule.limits])

    def _parts(self, step_id: str) -> list[Row]:
        return self.book.rows("select * from step_parts where step_id = ? order by rowid", step_id)

    def _part(self, needed: Row, step: Row, together: Sequence[StepAtPlace], times: int) -> StepPartEntry:
        quantity = float(needed.quantity) * times
        part = self.counter.parts.part(needed.part_number)
        current = [
            StepBuyable(
                part_number=number,
                description=row.description if (row := self.counter.parts.part(number)) is not None else "",
                quantity=many * quantity,
                verdict=self._verdict(number, step, together),
            )
            for number, many in self.counter.side.current(needed.part_number).current
        ]
        description = part.description if part is not None else ""
        return StepPartEntry(part_number=needed.part_number, description=description, quantity=quantity, current=current)

    def _verdict(self, number: str, step: Row, together: Sequence[StepAtPlace]) -> str:
        """The worst verdict for what ships at the places of the step; "" if nothing is recorded about it at that component."""
        part = self.counter.parts.part(number)
        if part is None or not step.component_id:
            return ""
        places = {j.place for j in together} - {ALL_PLACES}
        fits = [f for f in self.counter.fits(part) if f.component == step.component_id and (not places or f.place in places)]
        order = ["does not fit", "check first", "not recorded", "fits"]
        return min((f.verdict for f in fits), key=order.index, default="")

    def _decide(self, spot: Spot, undecided: Sequence[StepAtPlace]) -> list[Check]:
        found = self.counter.found
        return rank_checks(found.weighing, found.posterior, _WhichStep(self, spot, undecided), most=2, only=spot[0])

    def _gaps(self, judged: Sequence[StepAtPlace]) -> list[str]:
        """Castings that are probably none of those that the steps are for."""
        spots = dict.fromkeys(self._spot(j.rule, j.place) for j in judged if j.row.variant_id)
        posterior = self.counter.found.posterior.makers[self.setting.maker]
        return [explain.no_step(self.book, *spot) for spot in spots if (table := posterior.totals(spot).fitted[0])[-1] > table.sum() / 2]

    def _left_out(self, judged: Sequence[StepAtPlace]) -> list[str]:
        found: dict[str, list[StepAtPlace]] = {}
        for each in judged:
            found.setdefault(each.row.step_id, []).append(each)
        gone = [entries[0] for entries in found.values() if all(each.state == "not" for each in entries)]
        return [f"{each.row.step_id}: only for {self._only_if(each)}" for each in gone]


class _WhichStep:
    """The question "which of these steps applies here", for the check that decides."""

    places = (None,)

    def __init__(self, work: WorkSheet, spot: Spot, undecided: Sequence[StepAtPlace]) -> None:
        self.work, self.spot, self.undecided = work, spot, undecided
        self._labels = [f"the step for {work._only_if(each)}" for each in undecided] + ["none of them"]

    def labels(self, spot: Spot | None) -> list[str]:
        """See `Asked`."""
        return self._labels

    def by_spot(self, maker: str, spot: Spot) -> Floats:
        """See `Asked`."""
        ground = self.work.setting.ground(self.spot, [each.rule.claim for each in self.undecided], spot)
        return ground.by_variant(self._sets(ground), spot)

    def by_fitted(self, maker: str, spot: Spot, posterior: MakerPosterior, of: Spot) -> Floats:
        """See `Asked`."""
        also = spot if maker == self.work.setting.maker else None
        ground = self.work.setting.ground(self.spot, [each.rule.claim for each in self.undecided], also)
        return ground.by_fitted(self._sets(ground), maker, spot, posterior)

    def by_cells(self, maker: str, of: Spot | None = None) -> Floats:
        """See `Asked`."""
        ground = self.work.setting.ground(self.spot, [each.rule.claim for each in self.undecided])
        return ground.by_cells(self._sets(ground), maker)

    def by_own_number(self, maker: str, assembly: str, parts: Floats) -> Floats | None:
        """See `Asked`."""
        ground = self.work.setting.ground(self.spot, [each.rule.claim for each in self.undecided])
        table = ground.by_own_number(assembly, parts)
        return None if table is None else np.array([table[part].sum(0) for part in self._sets(ground)])

    def _sets(self, ground: object) -> list[NDArray[np.bool_]]:
        from kb.desk.fitment.joint_table import JointTable

        assert isinstance(ground, JointTable)
        left, sets = ground.everything, []
        for each in self.undecided:
            holds = ground.truth(each.rule.claim, self.spot, any_casting=not each.rule.conditions).holds & left
            left &= ~holds
            sets.append(ground.members(holds).reshape(ground.table.shape))
        return [*sets, ground.members(left).reshape(ground.table.shape)]


def _notes(hazards: str | None) -> list[HazardNote]:
    return [HazardNote(hazard=name, name=HAZARDS[name].name, text=HAZARDS[name].text, source=HAZARDS[name].source) for name in split_list(hazards)]


def _measure(row: Row) -> MeasureEntry | None:
    if not row.measure:
        return None
    unit = row.unit or "mm"
    return MeasureEntry(what=row.measure, low=row.low, high=row.high, unit=unit, limits=limits_words(row.low, row.high, unit))
