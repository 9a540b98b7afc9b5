"""What a casting date weighs: at every cell by when its units were built, and on a casting that came later (docs/model.md, section 13)."""

from collections.abc import Iterator, Sequence
from functools import cached_property

import numpy as np

from kb.desk.evidence.cast_date import ResolvedDate
from kb.desk.posterior.date_likelihood import DateLikelihood
from kb.desk.posterior.date_standing import standing_of
from kb.desk.posterior.factor import Factor, Floats, Makers, Said, Weights, log, weighs
from kb.desk.sentences.unit import DATE_ON_NO_SUCH_COMPONENT, NO_DATE
from kb.probability.dating.lead_time import common_days
from kb.probability.inference.posterior import MakerPosterior
from kb.words.answers.identification import UnitEntry
from kb.words.edtf import Span


@weighs("cast_date")
def factors(makers: Makers, pieces: Sequence[ResolvedDate]) -> Iterator["DateFactor"]:
    """One of each date."""
    likelihood = DateLikelihood(makers.book, makers.assumptions)
    return (DateFactor(makers, piece, likelihood) for piece in pieces)


class DateFactor(Factor):
    """One casting date."""

    def __init__(self, makers: Makers, piece: ResolvedDate, likelihood: DateLikelihood) -> None:
        self.makers, self.piece, self.likelihood, self.given, self.said = makers, piece, likelihood, piece.text, piece.said
        self.components = tuple(component for component, _ in piece.spots.values())

    def weights(self, maker: str) -> Weights:
        """See `Factor`."""
        if maker not in self.piece.spots:
            return Weights(log(self.likelihood.misread(self.piece)), absent=tuple(self.piece.spots.values()))
        in_time, later = self.likelihood.in_time(self.piece, maker, self.makers.models[maker]), self.likelihood.later(self.piece, maker)
        top = max(later, float(in_time.max(initial=0.0)))
        return Weights(log(top), dated={self.piece.spots[maker]: (in_time / top, later / top)})

    def where_unknown(self) -> Floats | float:
        """See `Factor`."""
        return self._by_day

    @cached_property
    def _by_day(self) -> Floats | float:
        return self.likelihood.where_unknown(self.piece, self.makers.rate())

    def reason(self, unit: UnitEntry, posterior: MakerPosterior, bits: float) -> Said:
        """See `Factor`."""
        if unit.maker not in self.piece.spots:
            return Said(DATE_ON_NO_SUCH_COMPONENT)
        if not self.piece.spans[unit.maker]:
            return Said(NO_DATE)
        meanings, _ = self.meanings(unit.maker, posterior)
        return Said(standing_of(meanings, unit, self.makers.assumptions)[1].rstrip("."))

    def meanings(self, maker: str, posterior: MakerPosterior) -> tuple[dict[Span, float], float]:
        """P(each meaning of the code), read rightly, and P(the casting did not leave the works with this unit), both given that maker, who has such a
        component. posterior: of its units."""
        model, spot, spans, window = self.makers.models[maker], self.piece.spots[maker], self.piece.spans[maker], self.likelihood.window
        original = posterior.original(spot) * (1 / float(posterior.mass.sum()))
        kept = min(1.0, float(original.sum()))
        if window is None or not spans:
            return dict.fromkeys(spans, 1 / max(1, len(spans))), 1 - kept
        if model.by_own_number(spot[0]):  # the cells of its assembly's number, by what each weighs
            share = posterior.assemblies[posterior.component_assembly[spot[0]]].own_numbers()
            original = kept * share / share.sum()
        start, end = model.built_days(spot[0])
        dated = start > 0
        by_cell = np.array([self.likelihood.lead.cast_within([_days(span)], start[dated], end[dated]) for span in spans])
        on_any_day = np.array([float(common_days([_days(span)], window)) for span in spans])
        of_all = by_cell.sum(0)
        weights = by_cell @ np.divide(original[dated], of_all, out=np.zeros_like(of_all), where=of_all > 0)
        weights += (1 - float(original[dated][of_all > 0].sum())) * (on_any_day / on_any_day.sum() if on_any_day.any() else 1 / len(spans))
        return dict(zip(spans, (weights / weights.sum()).tolist(), strict=True)), 1 - kept


def _days(span: Span) -> tuple[int, int]:
    return span.first.toordinal(), span.last.toordinal()
