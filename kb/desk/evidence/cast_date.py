"""A casting date as it is cast into a component, and the days that it may mean."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from kb.desk.evidence.names import locate
from kb.desk.evidence.resolved import ResolvedAtPlace, Scope, resolves
from kb.words.edtf import Span
from kb.words.errors import DataError
from kb.words.evidence import CastDate


@dataclass(frozen=True)
class ResolvedDate(ResolvedAtPlace):
    """A casting date. spans: maker_id -> what the code may mean there, () if nothing."""

    code: str
    spans: Mapping[str, tuple[Span, ...]]

    @property
    def by_time(self) -> Collection[str]:
        """See `Resolved`."""
        return self.spots


@resolves("cast_date")
def resolve(scope: Scope, piece: CastDate) -> ResolvedDate:
    """Which component it is on, and what it may mean by the layouts of its makers.

    Raises:
        QuestionError: there is no such component or place.
        DataError: no maker's layout has such a code.
    """
    from kb.probability.dating.layout import meanings  # only who has a casting date needs to know how they are read

    spots = locate(scope.book, scope.makers, piece.component, piece.place, str(piece))
    spans: dict[str, tuple[Span, ...]] = {}
    refused: DataError | None = None
    for maker, (component, _) in spots.items():
        try:
            spans[maker] = meanings(piece.code, scope.book.date_codes, maker, component)
        except DataError as error:
            spans[maker], refused = (), refused or error
    if refused and not any(spans.values()):
        raise refused
    return ResolvedDate(str(piece), spots, piece.code, spans)
