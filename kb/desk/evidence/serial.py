"""A serial, as far as it can be read: of the unit, or a number of its own that a component carries."""

from dataclasses import dataclass

from kb.desk.evidence.names import named
from kb.desk.evidence.resolved import ResolvedReading, Scope, resolves
from kb.probability.channel.reading import Reading
from kb.words.errors import QuestionError
from kb.words.evidence import SerialReading


@dataclass(frozen=True)
class ResolvedSerial(ResolvedReading):
    """A reading of a serial. series_id: "" means any series that numbers whole units; component: which the series numbers, "" for units."""

    series_id: str
    component: str = ""

    @property
    def limits_to(self) -> str:
        """The series of units that was named with it."""
        return "" if self.component else self.series_id


@resolves("serial")
def resolve(scope: Scope, piece: SerialReading) -> ResolvedSerial:
    """Which series it is of.

    Raises:
        QuestionError: there is no such series, or it is by another maker.
        DataError: the reading is not in the notation.
    """
    series, component = "", ""
    if piece.series:
        found = named(scope.book.series, piece.series, "series")
        if found.maker_id not in scope.makers:
            problem = f'The series "{found.name}" is by another maker than the one named.'
            raise QuestionError(problem, f"It is by {scope.book.makers[found.maker_id].name}.")
        series, component = found.series_id, found.component_id or ""
    return ResolvedSerial(str(piece), Reading.parse(piece.reading), piece.wear or scope.wear, series, component)
