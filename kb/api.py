"""The Python interface: one line a question.

from kb import KnowledgeBase, Evidence
book = KnowledgeBase.open("kb.db")
found = book.identify(Evidence(serial="2?5[38]61", marks={"crankcase": "H41?0B"}))
found.units[0].model, found.check_next
book.fits("1407-A", found)

What a question needs is imported when it is first asked, so that each starts as light as it is.
"""

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from datetime import date
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Literal, Self

from kb.assumptions import Assumptions
from kb.desk.evidence.names import named, suggestion
from kb.desk.evidence.resolve import resolve
from kb.desk.identify.identification import identify
from kb.desk.posterior.examination import Examination
from kb.desk.posterior.maker_model import MakerModel
from kb.desk.posterior.unit_posterior import UnitEvidence
from kb.probability.channel.reading import Reading
from kb.probability.inference.costs import Costs
from kb.store.book import Book
from kb.words.answers.identification import CastingAnswer, Identification
from kb.words.errors import QuestionError
from kb.words.evidence import Evidence

if TYPE_CHECKING:
    from kb.desk.fitment.fit_templates import FitTemplates
    from kb.desk.fitment.fits import UnitFitments
    from kb.desk.fitment.rulebook import Rulebook
    from kb.desk.sentences.names import Names
    from kb.store.rows import PartRow
    from kb.words.answers.catalogue import Comparison, Meanings, PartAnswer
    from kb.words.answers.fitment import Fit, TraceAnswer, UnitsAnswer
    from kb.words.answers.review import ReadingsReview, ReviewAnswer
    from kb.words.answers.trade import Listed, PartSearch, Sale, Stocked
    from kb.words.answers.workshop import Guide, MeasureAnswer, NewSighting, RemainingBlock, Sheet

KEPT = 8  # examined units kept, so that "which parts fit" after "what is it" costs nothing twice


class KnowledgeBase:
    """An opened knowledge base. Every method raises QuestionError or DataError, with a remedy, for a question it cannot answer."""

    def __init__(self, book: Book, assumptions: Assumptions | None = None) -> None:
        self._book = book
        self._assumptions = book.taught(assumptions or Assumptions())
        self._frames: dict[str, MakerModel] = {}
        self._found: OrderedDict[object, Examination] = OrderedDict()

    @classmethod
    def open(cls, path: str | Path, assumptions: Assumptions | None = None) -> Self:
        """Open a file built by `kb build`.

        Raises:
            FileError: no such file, or not a knowledge base.
        """
        return cls(Book(Path(path)), assumptions)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    @property
    def digest(self) -> str:
        """Of the dataset in the file, and the version of the program that built it: the same digest, the same answers."""
        return f"{self._book.info['dataset_digest']}/{self._book.info['program_version']}"

    @cached_property
    def names(self) -> "Names":
        """What a person calls the things that answers name by their ids."""
        from kb.desk.sentences.names import Names

        return Names(self._book)

    def close(self) -> None:
        """Close the file."""
        self._book.close()

    def identify(self, evidence: Evidence | dict[str, Any], replaced_rate: float | None = None) -> Identification:
        """What a unit is, which castings it carries, and what to look at next."""
        return identify(self._examine(evidence, replaced_rate))

    def fits(
        self,
        part_number: str,
        found: Identification | Evidence | dict[str, Any],
        for_: Literal["fitted", "as-built"] = "fitted",
        replaced_rate: float | None = None,
        costs: Costs | None = None,
    ) -> "list[Fit]":
        """Whether a part fits a unit: an entry for each component place, of every part that has this number.

        costs: what a return costs and what a sale brings; they move the verdicts (kb.probability.inference.costs).
        """
        counter = self._counter(found, for_, replaced_rate, costs)
        return [fit for part in self._named(part_number) for fit in counter.fits(part)]

    def parts(
        self,
        found: Identification | Evidence | dict[str, Any],
        assembly: str | None = None,
        for_: Literal["fitted", "as-built"] = "fitted",
        everything: bool = False,
        replaced_rate: float | None = None,
        costs: Costs | None = None,
    ) -> "list[Fit]":
        """Which parts fit a unit, or may; everything: also those that do not."""
        if assembly is not None:
            known = list(dict.fromkeys(c.assembly for c in self._book.components.values()))
            if assembly not in known:
                raise QuestionError(f'There is no assembly "{assembly}" in this knowledge base.', suggestion(assembly, known))
        return self._counter(found, for_, replaced_rate, costs).fitting(assembly, everything)

    def sheet(self, found: Identification | Evidence | dict[str, Any], assembly: str, replaced_rate: float | None = None) -> "Sheet":
        """The work sheet for an assembly of a unit: the steps that apply to it with its fitted castings, parts, measures and cautions."""
        from kb.desk.workshop.worksheet import WorkSheet

        return WorkSheet(self._counter(found, "fitted", replaced_rate)).sheet(assembly, identify(self._examine(found, replaced_rate)))

    def measure(
        self, step: str, value: str, at_hand: Mapping[str, int] | None = None, found: Identification | Evidence | dict[str, Any] | None = None
    ) -> "MeasureAnswer":
        """Whether a measure is within the limits of a step, and which shims would bring it there.

        at_hand: part number -> how many. found: the unit, to be told whether the step is one for it.
        """
        from kb.desk.workshop.measure import judge_measure
        from kb.desk.workshop.worksheet import WorkSheet

        answer = judge_measure(self._book, step, value, at_hand)
        if found is None:
            return answer
        return answer.model_copy(update={"applies": WorkSheet(self._counter(found, "fitted", None)).applies(step)})

    def sightings(self, found: Identification | Evidence | dict[str, Any]) -> "list[NewSighting]":
        """A finished examination as rows for the archivist: what was seen, not what was inferred."""
        from kb.desk.workshop.sighting import sightings

        return sightings(self._examine(found, None))

    def guide(self, model: str) -> "Guide":
        """The field guide of a model."""
        from kb.desk.workshop.field_guide import guide

        row = named(self._book.models, model, "model")
        return guide(self._book, self._frame(row.maker_id), row, self._examine(Evidence(maker=row.maker_id), None))

    def remaining(self, reading: str, maker: str) -> "list[RemainingBlock]":
        """The blocks of a maker with serials that can be read exactly so, and their castings as built; see kb/desk/workshop/number_lookup.py."""
        from kb.desk.workshop.number_lookup import remaining, series_of

        return remaining(series_of(self._frame(named(self._book.makers, maker, "maker").maker_id)), Reading.parse(reading))

    def units(self, part_number: str) -> "UnitsAnswer":
        """Which units a part fits."""
        from kb.desk.fitment.units_of_part import units

        return units(self._book, {maker: self._frame(maker) for maker in self._book.makers}, self._parts, self._the_one(part_number))

    def current(self, part_number: str) -> "TraceAnswer":
        """What can be bought today instead of a part number."""
        return self._traced(self._the_one(part_number).part_number)

    def _traced(self, part_number: str) -> "TraceAnswer":
        from kb.probability.catalogue.trace import trace
        from kb.words.answers.fitment import Buyable, TraceAnswer, TraceStep

        arrows = self._parts.arrows(part_number)
        numbers = {part_number, *(a.old for a in arrows), *(a.new for a in arrows)}
        available = {number: row.available or "unknown" for number in numbers if (row := self._parts.part(number)) is not None}
        found = trace(arrows, part_number, available)
        return TraceAnswer(
            asked=part_number,
            steps=[
                TraceStep(old=s.old, new=s.new, quantity=s.quantity, direction=s.direction, condition=s.condition, source=s.source_id)
                for s in found.steps
            ],
            current=[Buyable(part_number=number, quantity=quantity) for number, quantity in found.current],
            dead_end=found.dead_end,
            notes=list(found.notes),
        )

    def sell(
        self,
        part_number: str,
        found: Identification | Evidence | dict[str, Any],
        for_: Literal["fitted", "as-built"] = "fitted",
        replaced_rate: float | None = None,
        costs: Costs | None = None,
        companions: bool = True,
        today: date | None = None,
    ) -> "Sale":
        """A part for a unit as said to a customer: the verdict, the one question to ask, what to order for the whole unit, what goes with it."""

        from kb.desk.trade.sale import sale

        counter = self._counter(found, for_, replaced_rate, costs, checks=1)
        part = self._the_one(part_number)
        return sale(counter, part, counter.fits(part), companions, today)

    def inquire(self, row: Mapping[str, Any], costs: Costs | None = None) -> list[dict[str, Any]]:
        """One row of a list of inquiries, answered as columns (see kb.desk.trade.inquiry): one row, or one for each part if it names none.

        costs: where the row states none.
        """
        from kb.desk.sentences.trade import NO_PART_FOR_UNIT
        from kb.desk.trade import inquiry

        asked = inquiry.parse(row, {column: found for column in row if (found := inquiry.heading(column)) is not None})
        counter = self._counter(asked.evidence, "fitted", None, asked.costs or costs, checks=1)
        if asked.part:
            part = self._the_one(asked.part)
            return [inquiry.answer(counter, part.part_number, counter.fits(part))]
        fitting = inquiry.by_part(self.parts(asked.evidence, asked.assembly or None, costs=asked.costs or costs))
        rows = []
        for number, fits in fitting.items():
            open_one = self._parts.part(number) if any(fit.verdict == "check first" for fit in fits) else None
            rows.append(inquiry.answer(counter, number, counter.fits(open_one) if open_one is not None else fits))  # with what to look at
        return rows or [inquiry.refused(NO_PART_FOR_UNIT)]

    def listing(self, part_number: str, language: str = "en", length: int | None = None) -> "Listed":
        """A part's sentence for a listing in a language (LANGUAGES there), at most `length` characters, and the units behind it."""
        from kb.desk.fitment.units_of_part import fitted_units
        from kb.desk.sentences.languages import translator
        from kb.desk.sentences.listing import sentence
        from kb.words.answers.trade import Listed

        part = self._the_one(part_number)
        frames = {maker: self._frame(maker) for maker in self._book.makers}
        found, promises = fitted_units(self._book, frames, self._parts, part, translator(language))
        said = sentence(part.part_number, promises, language, length)
        return Listed(part_number=part.part_number, description=part.description, sentence=said, units=found)

    def stock(self, numbers: Sequence[str]) -> "list[Stocked]":
        """What the numbers of a stock list are today: superseded, unknown, the same thing under two numbers, and which units they fit."""
        from kb.desk.trade.stock import stock

        return stock(self._book, self._parts, self._traced, lambda number: self.units(number).sentence, numbers)

    def find(self, text: str = "", tolerance: float | None = None, figure: str = "", item: str = "", today: date | None = None) -> "PartSearch":
        """Parts for a number as somebody wrote it, for measures ("seal 35 x 52 x 7", tolerance in mm), for words, or for a place in a book.

        today: the day from which the age of offers counts; without it no age is said.
        """
        from kb.desk.trade.search import find

        within = self._assumptions.measure_tolerance if tolerance is None else tolerance
        return find(self._book, self._parts, self._traced, text, within, figure, item, today)

    def look(self, text: str) -> "Meanings":
        """What a text may mean here: a part, a unit's serial, a casting number, a model, a component, or words of a description."""
        from kb.desk.trade.meanings import meanings

        return meanings(self._book, text, self.identify, self.casting, self.find)

    def compare(self, component: str, variants: Sequence[str] = ()) -> "Comparison":
        """The variants of a component side by side: all of them, or those named."""
        from kb.desk.workshop.comparison import compare

        return compare(self._book, component, variants)

    def part(self, part_number: str) -> "PartAnswer":
        """What a part is, what it has become, and which units it fits."""
        from kb.words.answers.catalogue import PartAnswer

        part = self._the_one(part_number)
        return PartAnswer(
            part_number=part.part_number,
            description=part.description,
            kind=part.kind,
            unit=part.unit,
            available=part.available,
            trace=self.current(part.part_number),
            units=self.units(part.part_number),
        )

    def casting(
        self,
        reading: str,
        wear: str | None = None,
        maker: str | None = None,
        again: Mapping[int, str] | None = None,
        component: str | None = None,
        model: str | None = None,
        serial_from: str | None = None,
        serial_to: str | None = None,
    ) -> CastingAnswer:
        """What a loose casting is off, by its worn number.

        again: what a second look at some characters showed, by their place from 1: {3: "8"}. The rest is what is known of where it came from: what
        it is, and the units that it may be off, by model and the serials between which they lie.
        """
        from kb.desk.identify.loose_casting import casting
        from kb.desk.identify.provenance import Provenance, Told

        told = Told(maker or "", component or "", model or "", serial_from or "", serial_to or "")
        origin = Provenance(self._book, self._frame, lambda units: self._examine(units, None), told)
        return casting(self._book, origin, reading, wear, again or {}, self._assumptions)

    def review(self, series: str | None = None, component: str | None = None) -> "ReviewAnswer":
        """What the evidence makes of the change-overs, and where it does not agree."""
        from kb.desk.review.changeovers import review

        return review(self._book, series, component)

    def review_readings(self) -> "ReadingsReview":
        """What was learned from confirmed readings, from how many, and how far stated probabilities came true."""
        from kb.desk.review.learned_readings import review_readings

        return review_readings(self._book)

    def _counter(
        self,
        found: Identification | Evidence | dict[str, Any],
        for_: Literal["fitted", "as-built"],
        replaced_rate: float | None,
        costs: Costs | None = None,
        checks: int | None = None,
    ) -> "UnitFitments":
        from kb.desk.fitment.fits import MOST_CHECKS, UnitFitments

        stated = self._assumptions.override(**costs._asdict()) if costs else None
        return UnitFitments(self._examine(found, replaced_rate), self._templates, for_, stated, MOST_CHECKS if checks is None else checks)

    def _examine(self, found: Identification | Evidence | dict[str, Any], replaced_rate: float | None) -> Examination:
        if isinstance(found, Identification):
            replaced_rate = found.assumptions.get("replaced_rate", replaced_rate) if replaced_rate is None else replaced_rate
        evidence = found.evidence if isinstance(found, Identification) else Evidence.read(found)
        key = (evidence, replaced_rate)
        if key not in self._found:
            question = resolve(self._book, evidence)
            self._found[key] = Examination(UnitEvidence(self._book, self._frame, question, self._assumptions, replaced_rate))
            if len(self._found) > KEPT:
                self._found.popitem(last=False)
        self._found.move_to_end(key)
        return self._found[key]

    @cached_property
    def _parts(self) -> "Rulebook":
        from kb.desk.fitment.rulebook import Rulebook

        return Rulebook(self._book)

    @cached_property
    def _templates(self) -> "FitTemplates":
        from kb.desk.fitment.fit_templates import FitTemplates

        return FitTemplates(self._parts)

    def _frame(self, maker_id: str) -> MakerModel:
        if maker_id not in self._frames:
            self._frames[maker_id] = MakerModel(self._book, maker_id, self._assumptions)
        return self._frames[maker_id]

    def _the_one(self, part_number: str) -> "PartRow":
        found = self._named(part_number)
        if len(found) > 1:
            written = " or ".join(f"{part.part_number} ({part.made_by or part.description})" for part in found)
            raise QuestionError(f'Several parts have the number "{part_number}".', f"Write it exactly as one of them: {written}.")
        return found[0]

    def _named(self, part_number: str) -> "list[PartRow]":
        found = self._parts.asked_for(part_number)
        if not found:
            from kb.desk.trade.search import otherwise
            from kb.probability.catalogue.partnumbers import not_known

            raise not_known(part_number, self._parts.numbers.near(part_number), otherwise(self._book, self._parts, part_number))
        return found
