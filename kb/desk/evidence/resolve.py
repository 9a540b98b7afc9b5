"""From what somebody typed to what this knowledge base knows: components, places, features, series, readings.

Everything that cannot be understood raises a QuestionError which says what would be.
"""

import re

from kb.desk.evidence.names import listed, locate, maker_of, named, suggestion
from kb.desk.evidence.resolved import ResolvedDate, ResolvedEvidence, ResolvedObservation, ResolvedSerial
from kb.desk.evidence.second_looks import with_looks
from kb.probability.channel.reading import Reading
from kb.store.book import Book, Row
from kb.words.edtf import Span
from kb.words.errors import DataError, QuestionError
from kb.words.evidence import CastDate, Evidence, MarkReading, Seen, SerialReading
from kb.words.notation import simplify

MM_PER_INCH = 25.4  # exact: NIST SP 811, appendix B
_NUMBER = re.compile(r"(?=\d)(\d{1,9}(?:[.,]\d{1,9})?(?![\d/]))?\s*(?:(\d{1,3})/(\d{1,3}))?\s*(mm|cm|in|inch|\"|)\s*")
_IN_MM = {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH, "inch": MM_PER_INCH, '"': MM_PER_INCH}


def resolve(book: Book, evidence: Evidence) -> ResolvedEvidence:
    """Look up everything that the evidence names.

    Raises:
        QuestionError: something is not in this knowledge base, or may mean several things.
        DataError: a reading is not in the notation.
    """
    only, model = maker_of(book, evidence.maker, evidence.model)
    makers = tuple(m for m in book.makers if only in ("", m))
    spots = [_mark(book, makers, mark, evidence.wear) for mark in evidence.marks] + [_seen(book, makers, seen) for seen in evidence.features]
    question = ResolvedEvidence(
        evidence,
        makers,
        frozenset([model]) if model else frozenset(),
        tuple(_serial(book, makers, serial, evidence.wear) for serial in evidence.serial),
        tuple(spots),
        tuple(_date(book, makers, date) for date in evidence.cast_dates),
    )
    if not evidence.again:
        return question
    return with_looks(book, question, evidence.again)


def measure(text: str, unit: str | None) -> float | None:
    """A measured value in the feature's unit (mm where it names none), inches converted; None if it is no measure.

    >>> measure("34.9mm", "mm"), measure("1 in", "mm"), measure("2 1/2 cm", "mm"), measure("wide", "mm"), measure("-5", "mm")
    (34.9, 25.4, 25.0, None, None)
    """
    found = _NUMBER.fullmatch(text.strip().lower())
    if not found:
        return None
    if found[3] and not int(found[3]):
        return None
    value = float((found[1] or "0").replace(",", ".")) + (int(found[2]) / int(found[3]) if found[3] else 0.0)
    given = found[4] or unit or "mm"
    if given == (unit or "mm"):
        return value
    return value * _IN_MM[given] / _IN_MM[unit or "mm"] if given in _IN_MM and (unit or "mm") in _IN_MM else None


def _serial(book: Book, makers: tuple[str, ...], piece: SerialReading, wear: str | None) -> ResolvedSerial:
    series, component = "", ""
    if piece.series:
        found = named(book.series, piece.series, "series")
        if found.maker_id not in makers:
            raise QuestionError(f'The series "{found.name}" is by another maker than the one named.', f"It is by {book.makers[found.maker_id].name}.")
        series, component = found.series_id, found.component_id or ""
    return ResolvedSerial(str(piece), series, Reading.parse(piece.reading), piece.wear or wear, component)


def _mark(book: Book, makers: tuple[str, ...], piece: MarkReading, wear: str | None) -> ResolvedObservation:
    reading = None if piece.reading.lower() == "none" else Reading.parse(piece.reading)
    if not piece.component:
        if reading is None:
            raise QuestionError('"none" does not say where there is no mark.', 'Write it as in "crankcase=none".')
        return ResolvedObservation(str(piece), {}, True, reading, piece.wear or wear)
    return ResolvedObservation(str(piece), locate(book, makers, piece.component, piece.place, str(piece)), False, reading, piece.wear or wear)


def _date(book: Book, makers: tuple[str, ...], piece: CastDate) -> ResolvedDate:
    from kb.probability.dating.layout import meanings  # only who has a casting date needs to know how they are read

    spots = locate(book, makers, piece.component, piece.place, str(piece))
    spans: dict[str, tuple[Span, ...]] = {}
    refused: DataError | None = None
    for maker, (component, _) in spots.items():
        try:
            spans[maker] = meanings(piece.code, book.date_codes, maker, component)
        except DataError as error:
            spans[maker], refused = (), refused or error
    if refused and not any(spans.values()):
        raise refused
    return ResolvedDate(str(piece), piece.code, spots, spans)


def _seen(book: Book, makers: tuple[str, ...], piece: Seen) -> ResolvedObservation:
    spots = locate(book, makers, piece.component, piece.place, str(piece))
    features = {f.feature_id: f for component, _ in spots.values() for f in book.features_of.get(component, ())}
    wanted = piece.feature.lower()
    found = [features[wanted]] if wanted in features else [f for f in features.values() if f.feature_id.endswith("-" + wanted)]
    if not found:
        raise QuestionError(f'The {piece.component} has no feature "{piece.feature}".', suggestion(piece.feature, features))
    if len({f.component_id for f in found}) < len(found):
        raise QuestionError(f'"{piece.feature}" may be several features.', f"Name it by its id: {listed(f.feature_id for f in found)}.")
    feature = found[0]
    spots = {maker: spot for maker, spot in spots.items() if spot[0] == feature.component_id}
    return ResolvedObservation(str(piece), spots, feature=feature, value=_value(book, feature, piece.value))


def _value(book: Book, feature: Row, text: str) -> str | float:
    if feature.kind == "measure":
        measured, unit = measure(text, feature.unit), feature.unit or "mm"
        if measured is None:
            raise QuestionError(f'"{text}" is not a measure for "{feature.question}"', f"Write a number in {unit}, as in 34.9{unit}.")
        return measured
    values = choice_values(book, feature.feature_id)
    for value in [*values, "other"]:
        if simplify(value) == simplify(text):
            return value
    raise QuestionError(f'"{text}" is no answer to "{feature.question}"', f"Answer {listed([*values, 'other'])}.")


def choice_values(book: Book, feature_id: str) -> list[str]:
    """The distinct values recorded for a choice feature, in file order."""
    return list(dict.fromkeys(row.value for row in book.feature_values.get(feature_id, {}).values() if row.value is not None))
