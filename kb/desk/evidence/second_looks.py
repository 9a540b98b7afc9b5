"""Second looks: of which reading, and what they make of it (docs/model.md, section 10).

A second look is one more reading of a character that has been read already, by the same person at the same place. It names that reading by what
it is of: "serial", "pw-engine-no", "cover@left", "mark" for one that is somewhere on the unit, or as it was given, where several are of the same.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TypeVar

from kb.assumptions import Assumptions
from kb.desk.evidence.names import locate, named, suggestion
from kb.desk.evidence.resolved import ResolvedEvidence, ResolvedObservation, ResolvedSerial
from kb.probability.channel.automaton import ReadingAutomata, compile_readings, looked_again
from kb.probability.channel.reading import two_looks
from kb.store.book import Book
from kb.words.errors import QuestionError
from kb.words.evidence import SecondLook
from kb.words.notation import simplify

Piece = TypeVar("Piece", ResolvedSerial, ResolvedObservation)
SERIAL, MARK = "serial", "mark"


def compile_pieces(pieces: Sequence[ResolvedSerial | ResolvedObservation], assumptions: Assumptions) -> ReadingAutomata:
    """The readings of one number, ready for computing, with what second looks at them showed."""
    found = compile_readings([piece.reading for piece in pieces if piece.reading], [piece.wear for piece in pieces], assumptions)
    for which, piece in enumerate(pieces):
        if piece.again:
            found = looked_again(found, which, piece.again, assumptions)
    return found


def with_looks(book: Book, question: ResolvedEvidence, looks: Iterable[SecondLook]) -> ResolvedEvidence:
    """The question with second looks at its readings.

    Raises:
        QuestionError: a look is at no reading that was given, or may be at several; or two looks at one character differ.
        DataError: the reading has no such character.
    """
    serials, spots = list(question.serials), list(question.spots)
    for look in looks:
        at = _meant(book, question, look)
        if at < len(serials):
            serials[at] = _looked(serials[at], look)
        else:
            spots[at - len(serials)] = _looked(spots[at - len(serials)], look)
    return replace(question, serials=tuple(serials), spots=tuple(spots))


def name_of(question: ResolvedEvidence, piece: ResolvedSerial | ResolvedObservation, maker: str) -> str:
    """What a second look names the reading by, if the unit is of that maker."""
    same: Sequence[ResolvedSerial | ResolvedObservation]
    if isinstance(piece, ResolvedSerial):
        name = piece.series_id if piece.component else SERIAL
        same = [s for s in question.serials if s.component == piece.component and (s.series_id == piece.series_id or not piece.component)]
    elif piece.anywhere:
        name, same = MARK, [s for s in question.spots if s.anywhere]
    else:
        component, place = piece.spots[maker]
        name = f"{component}@{place}" if place else component
        same = [s for s in question.spots if s.reading is not None and s.spots.get(maker) == piece.spots[maker]]
    return name if len(same) == 1 else piece.text


def _meant(book: Book, question: ResolvedEvidence, look: SecondLook) -> int:
    """Which of all serials and spots the look is at."""
    what, pieces = look.what, _pieces(question)
    readings = {i: piece.reading for i, piece in enumerate(pieces) if piece.reading is not None}
    found = [i for i, reading in readings.items() if simplify(what) in (simplify(pieces[i].text), simplify(reading.text))]
    found = found or [i for i in readings if _goes_by(book, question, pieces[i], what)]
    if not found:
        names = [name_of(question, pieces[i], next(iter(getattr(pieces[i], "spots", ())), "")) for i in readings]
        remedy = suggestion(what, names) or "Give the reading first, then what a second look at it showed."
        raise QuestionError(f'"{what}" is no reading that was given.', remedy)
    if any(pieces[i] != pieces[found[0]] for i in found):
        texts = " or ".join(f'"{pieces[i].text}:{look.at}={look.seen}"' for i in found)
        raise QuestionError(f'"{what}" may be several readings.', f"Say which, as it was given: {texts}.")
    return found[0]


def _pieces(question: ResolvedEvidence) -> list[ResolvedSerial | ResolvedObservation]:
    return [*question.serials, *question.spots]


def _goes_by(book: Book, question: ResolvedEvidence, piece: ResolvedSerial | ResolvedObservation, what: str) -> bool:
    """Whether somebody may name the reading so."""
    try:
        if isinstance(piece, ResolvedSerial):
            its_own = what.lower() == SERIAL and not piece.component
            return its_own or (piece.series_id != "" and named(book.series, what, "series").series_id == piece.series_id)
        if piece.anywhere:
            return what.lower() == MARK
        component, _, place = what.partition("@")
        return bool(locate(book, question.makers, component.strip(), place.strip(), what).items() & piece.spots.items())
    except QuestionError:  # it names something else, or nothing
        return False


def _looked(piece: Piece, look: SecondLook) -> Piece:
    assert piece.reading is not None
    piece.reading.token_at(look.at - 1)
    if piece.again.get(look.at - 1, look.seen) != look.seen:
        raise two_looks(look.at, piece.again[look.at - 1], look.seen)
    return replace(piece, again={**piece.again, look.at - 1: look.seen})
