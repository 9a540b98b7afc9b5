"""How likely a casting date is: built in, on a later casting, on a unit nobody recorded (docs/model.md, section 13)."""

from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.desk.evidence.cast_date import ResolvedDate
from kb.desk.posterior.maker_model import MakerModel
from kb.probability.dating.lead_time import Days, LeadTime, common_days, disjoint
from kb.store.book import Book

Floats = NDArray[np.float64]


class DateLikelihood:
    """Likelihoods of casting dates under one knowledge base and one set of assumptions."""

    def __init__(self, book: Book, assumptions: Assumptions) -> None:
        self.book, self.assumptions = book, assumptions
        self.lead = LeadTime(assumptions)

    @cached_property
    def window(self) -> Days | None:
        """First and last day on which castings may have been cast; None where no block has dates, so that a casting date says nothing."""
        first = [date.fromisoformat(b.built_first).toordinal() for b in self.book.blocks.values() if b.built_first]
        last = [date.fromisoformat(b.built_last).toordinal() for b in self.book.blocks.values() if b.built_last]
        return (min(first) - self.lead.longest, max(last) + 365 * self.assumptions.service_years) if first else None

    def misread(self, piece: ResolvedDate) -> float:
        """P(the code | it was misread): as if it were cast on any day; of the meanings that the code has for any of the makers."""
        return self._any_day(disjoint([span for spans in piece.spans.values() for span in spans]), least=1)

    def later(self, piece: ResolvedDate, maker: str) -> float:
        """P(the code | the casting did not leave the works with the unit)."""
        return float(self._or_misread(piece, np.array(self._any_day(disjoint(piece.spans[maker])))))

    def in_time(self, piece: ResolvedDate, maker: str, model: MakerModel) -> Floats:
        """(cells,) P(the code | cell, the casting left the works with it); over own numbers for a component that goes by them.

        model: the maker's, with cells cut by time.
        """
        if self.window is None:
            return np.ones(len(model.built_days(piece.spots[maker][0])[0]))
        start, end = model.built_days(piece.spots[maker][0])
        undated = start == 0
        start, end = np.where(undated, self.window[0], start), np.where(undated, self.window[1], end)
        return self._or_misread(piece, self.lead.cast_within(disjoint(piece.spans[maker]), start, end))

    def where_unknown(self, piece: ResolvedDate, replaced_rate: float) -> Floats | float:
        """(days,) P(the code | a unit that is not in this knowledge base, built on that day); 1 where no block has dates."""
        if self.window is None:
            return 1.0
        days = np.arange(self.window[0], self.window[1] + 1)
        meanings = disjoint([span for spans in piece.spans.values() for span in spans])
        cast = (1 - replaced_rate) * self.lead.on_days(meanings, days) + replaced_rate * self._any_day(meanings)
        return self._or_misread(piece, cast)

    def _any_day(self, meanings: list[Days], least: int = 0) -> float:
        if self.window is None:
            return 1.0
        return max(common_days(meanings, self.window), least) / (self.window[1] - self.window[0] + 1)

    def _or_misread(self, piece: ResolvedDate, read: Floats) -> Floats:
        wrong = self.assumptions.cast_date_misread
        return (1 - wrong) * read + wrong * self.misread(piece)
