"""A casting mark, as far as it can be read; or that there is none where one was looked for."""

from dataclasses import dataclass

from kb.desk.evidence.names import locate
from kb.desk.evidence.resolved import Resolved, ResolvedObservation, ResolvedReading, Scope, resolves
from kb.probability.channel.reading import Reading
from kb.words.errors import QuestionError
from kb.words.evidence import MarkReading


@dataclass(frozen=True)
class PlacedMark(ResolvedReading, ResolvedObservation):
    """A mark read on a component."""


@dataclass(frozen=True)
class UnplacedMark(ResolvedReading):
    """A mark read somewhere on the unit."""


@dataclass(frozen=True)
class NoMark(ResolvedObservation):
    """A component was looked at, and no mark is on it."""


@resolves("mark")
def resolve(scope: Scope, piece: MarkReading) -> Resolved:
    """Which component it is on.

    Raises:
        QuestionError: there is no such component or place, or it is not said where there is no mark.
        DataError: the reading is not in the notation.
    """
    none, text, wear = piece.reading.lower() == "none", str(piece), piece.wear or scope.wear
    if none and not piece.component:
        raise QuestionError('"none" does not say where there is no mark.', 'Write it as in "crankcase=none".')
    if not piece.component:
        return UnplacedMark(text, Reading.parse(piece.reading), wear)
    reading = None if none else Reading.parse(piece.reading)
    spots = locate(scope.book, scope.makers, piece.component, piece.place, text)
    return NoMark(text, spots) if reading is None else PlacedMark(text=text, spots=spots, reading=reading, wear=wear)
