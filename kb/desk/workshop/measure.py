"""Is a measure of a step within its limits, and if not, which shims at hand would bring it there."""

from collections.abc import Mapping, Sequence
from fractions import Fraction

from kb.desk.evidence.names import suggestion
from kb.desk.sentences.workshop import MEASURE_AGAIN, NO_PACK, NO_SHIMS, WRONG_WAY, measured
from kb.probability.catalogue.shims import Pack, Stock, packs
from kb.store import procedures as stored
from kb.store.book import Book
from kb.store.parts import thickness
from kb.store.rows import StepRow
from kb.words.answers.workshop import MeasureAnswer, PackEntry
from kb.words.errors import QuestionError
from kb.words.lengths import in_mm, is_length, limits_words, measure


def judge_measure(book: Book, step_id: str, value: str, at_hand: Mapping[str, int] | None = None) -> MeasureAnswer:
    """Whether a measure is within the limits of a step.

    Args:
        value: as typed; without a unit it is in the step's.
        at_hand: part number -> how many, instead of what the step's parts and their kits hold.

    Raises:
        QuestionError: there is no such step, it measures nothing, the value is no measure, or a shim's thickness is not recorded.
    """
    step = _step(book, step_id)
    unit = step.unit or "mm"
    found = measure(value, unit)
    if found is None:
        raise QuestionError(f'"{value}" is no measure of {step.measure}.', f"Write a number in {unit}, as in 0.35{unit}.")
    off = found - step.low if step.low is not None and found < step.low else found - step.high if step.high is not None and found > step.high else 0.0
    stock = shims_of(book, step_id, at_hand) if step.shims else []
    proposals = _proposals(step, found, unit, stock) if off and stock else []
    return MeasureAnswer(
        step=step_id,
        what=step.measure,
        value=found,
        unit=unit,
        low=step.low,
        high=step.high,
        within=off == 0,
        off_by=round(off, 9),
        says=_says(step, found, unit, off, bool(stock), proposals),
        packs=proposals,
        at_hand={each.name: each.count for each in stock},
        again=MEASURE_AGAIN,
    )


def _step(book: Book, step_id: str) -> StepRow:
    step = stored.step(book, step_id)
    measured = stored.measured_steps(book)
    if step is None:
        raise QuestionError(f'There is no step "{step_id}".', suggestion(step_id, measured))
    if step.measure is None or (step.low is None and step.high is None):
        raise QuestionError(f'Nothing is measured in step "{step_id}".', f"Steps with limits are {', '.join(measured)}." if measured else "")
    return step


def at_hand(texts: Sequence[str]) -> dict[str, int] | None:
    """Shims at hand as typed, PART=COUNT; None if nothing is said of them.

    Raises:
        QuestionError: not in that form.

    >>> at_hand(["6131-10=3", "6131-05=1"])
    {'6131-10': 3, '6131-05': 1}
    """
    counts = {}
    for text in texts:
        name, _, count = text.rpartition("=")
        if not name or not (count.isascii() and count.isdigit()) or len(count) > 4:
            raise QuestionError(f'"{text[:60]}" does not say how many.', "Write PART=COUNT, as in 6131-10=3.")
        counts[name] = int(count)
    return counts or None


def shims_of(book: Book, step_id: str, at_hand: Mapping[str, int] | None = None) -> list[Stock]:
    """The shims at hand for a step; without anything said the parts of the step, and what is in them where they are kits.

    Raises:
        QuestionError: the thickness of one that was named is not recorded.
    """
    if at_hand is None:
        counts: dict[str, int] = {}
        for shim in stored.shims_of_step(book, step_id):
            counts[shim.part_number] = counts.get(shim.part_number, 0) + int(shim.quantity)
    else:
        counts = dict(at_hand)
    found = []
    for number, count in counts.items():
        row = thickness(book, number)
        if row is not None and is_length(row.unit):
            found.append(Stock(number, in_mm(float(row.value), row.unit), count))
        elif at_hand is not None:
            raise QuestionError(f'The thickness of "{number}" is not recorded.', "Name shims by their part number, as in --at-hand 6131-10=3.")
    return found


def _proposals(step: StepRow, value: float, unit: str, stock: list[Stock]) -> list[PackEntry]:
    """The best and the next best pack. Limits that are open at one end are aimed at from the other."""
    if not is_length(unit):
        return []
    now = in_mm(value, unit)
    low = None if step.low is None else in_mm(step.low, unit)
    high = None if step.high is None else in_mm(step.high, unit)
    whole = sum((each.thickness * each.count for each in stock), Fraction(0))
    if step.shims == "close":
        least, most = (now - high if high is not None else Fraction(0)), (now - low if low is not None else whole)
    else:
        least, most = (low - now if low is not None else Fraction(0)), (high - now if high is not None else whole)
    aim = (least + most) / 2 if low is not None and high is not None else least
    found = packs(stock, max(least, Fraction(0)), most, aim) if most >= 0 else []
    return [_entry(pack, now, step.shims or "", unit) for pack in found if pack.count]


def _entry(pack: Pack, now: Fraction, shims: str, unit: str) -> PackEntry:
    result = now - pack.thickness if shims == "close" else now + pack.thickness
    return PackEntry(pieces=dict(pack.pieces), count=pack.count, thickness=float(pack.thickness), result=float(result / in_mm(1, unit)))


def _says(step: StepRow, value: float, unit: str, off: float, has_shims: bool, proposals: list[PackEntry]) -> str:
    wrong_way = (off < 0) is (step.shims == "close")
    shims = "" if not off or proposals or not step.shims else NO_SHIMS if not has_shims else WRONG_WAY if wrong_way else NO_PACK
    return measured(step.measure or "", value, off, limits_words(step.low, step.high, unit), unit, shims)
