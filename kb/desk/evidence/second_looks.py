"""Second looks: of which reading, and what they make of it (docs/model.md, section 10).

A second look is one more reading of a character that has been read already, by the same person at the same place. It names that reading by what
it is of: "serial", "pw-engine-no", "cover@left", "mark" for one that is somewhere on the unit, or as it was given, where several are of the same.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from kb.assumptions import Assumptions
from kb.desk.evidence.mark import PlacedMark, UnplacedMark
from kb.desk.evidence.names import locate, named, suggestion
from kb.desk.evidence.resolved import Resolved, ResolvedAtPlace, ResolvedEvidence, ResolvedReading
from kb.desk.evidence.serial import ResolvedSerial
from kb.probability.channel.automaton import ReadingAutomata, compile_readings, looked_again
from kb.probability.channel.reading import two_looks
from kb.store.book import Book
from kb.words.errors import QuestionError
from kb.words.evidence import SecondLook
from kb.words.notation import simplify

SERIAL, MARK = "serial", "mark"


def compile_pieces(pieces: Sequence[ResolvedReading], assumptions: Assumptions) -> ReadingAutomata:
    """The readings of one number, ready for computing, with what second looks at them showed."""
    found = compile_readings([piece.reading for piece in pieces], [piece.wear for piece in pieces], assumptions)
    for which, piece in enumerate(pieces):
        if piece.again:
            found = looked_again(found, which, piece.again, assumptions)
    return found


def with_looks(
    book: Book, makers: tuple[str, ...], pieces: Mapping[str, tuple[Resolved, ...]], looks: Iterable[SecondLook]
) -> dict[str, tuple[Resolved, ...]]:
    """The pieces, by kind, with second looks at the readings among them.

    Raises:
        QuestionError: a look is at no reading that was given, or may be at several; or two looks at one character differ.
        DataError: the reading has no such character.
    """
    found = {kind: list(mine) for kind, mine in pieces.items()}
    given = [(kind, i, piece) for kind, mine in pieces.items() for i, piece in enumerate(mine) if isinstance(piece, ResolvedReading)]
    for look in looks:
        kind, i, _ = given[_meant(book, makers, [piece for _, _, piece in given], look)]
        seen = found[kind][i]
        assert isinstance(seen, ResolvedReading)
        found[kind][i] = _looked(seen, look)
    return {kind: tuple(mine) for kind, mine in found.items()}


def name_of(question: ResolvedEvidence, piece: ResolvedReading, maker: str) -> str:
    """What a second look names the reading by, if the unit is of that maker."""
    return _name_among(question.of(ResolvedReading), piece, maker)


def _name_among(given: Sequence[ResolvedReading], piece: ResolvedReading, maker: str) -> str:
    name = _called(piece, maker)
    return name if sum(_called(each, maker) == name for each in given) == 1 else piece.text


def _called(piece: ResolvedReading, maker: str) -> str:
    if isinstance(piece, ResolvedSerial):
        return piece.series_id if piece.component else SERIAL
    if not isinstance(piece, ResolvedAtPlace):
        return MARK
    component, place = piece.spots.get(maker, ("", ""))
    return f"{component}@{place}" if place else component


def _meant(book: Book, makers: tuple[str, ...], given: Sequence[ResolvedReading], look: SecondLook) -> int:
    """Which of all readings the look is at."""
    what = look.what
    found = [i for i, piece in enumerate(given) if simplify(what) in (simplify(piece.text), simplify(piece.reading.text))]
    found = found or [i for i, piece in enumerate(given) if _goes_by(book, makers, piece, what)]
    if not found:
        names = [_name_among(given, piece, next(iter(getattr(piece, "spots", ())), "")) for piece in given]
        remedy = suggestion(what, names) or "Give the reading first, then what a second look at it showed."
        raise QuestionError(f'"{what}" is no reading that was given.', remedy)
    if any(given[i] != given[found[0]] for i in found):
        texts = " or ".join(f'"{given[i].text}:{look.at}={look.seen}"' for i in found)
        raise QuestionError(f'"{what}" may be several readings.', f"Say which, as it was given: {texts}.")
    return found[0]


def _goes_by(book: Book, makers: tuple[str, ...], piece: ResolvedReading, what: str) -> bool:
    """Whether somebody may name the reading so."""
    try:
        if isinstance(piece, ResolvedSerial):
            its_own = what.lower() == SERIAL and not piece.component
            return its_own or (piece.series_id != "" and named(book.series, what, "series").series_id == piece.series_id)
        if isinstance(piece, UnplacedMark):
            return what.lower() == MARK
        component, _, place = what.partition("@")
        return isinstance(piece, PlacedMark) and bool(locate(book, makers, component.strip(), place.strip(), what).items() & piece.spots.items())
    except QuestionError:  # it names something else, or nothing
        return False


def _looked(piece: ResolvedReading, look: SecondLook) -> ResolvedReading:
    piece.reading.token_at(look.at - 1)
    if piece.again.get(look.at - 1, look.seen) != look.seen:
        raise two_looks(look.at, piece.again[look.at - 1], look.seen)
    return replace(piece, again={**piece.again, look.at - 1: look.seen})
