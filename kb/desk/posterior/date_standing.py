"""How a casting date stands to the unit and to the variant that carries it, as a word and in words."""

from datetime import date, timedelta
from typing import Literal

from kb.assumptions import Assumptions
from kb.desk.sentences.dating import cast_or, cast_outside, cast_undated
from kb.desk.sentences.unit import NO_DATE
from kb.probability.dating.order import relation
from kb.words.answers.identification import UnitEntry
from kb.words.dates import cast_beside, spell, when
from kb.words.edtf import Span

MOST_NAMED = 4
Standing = Literal["in time", "early", "later", "before its variant", "after its variant", "no dates known"]
STANDINGS: dict[str, Standing] = {"before": "in time", "long before": "early", "later": "later"}


def standing_of(
    meanings: dict[Span, float], unit: UnitEntry, assumptions: Assumptions, made: Span | None = None, variant: str = ""
) -> tuple[Standing, str]:
    """How the likeliest meaning stands to a unit and to its variant.

    meanings: with their probabilities. made: the days between which units left the works with that variant, None if that is not known.
    """
    if not meanings:
        return "no dates known", NO_DATE
    best = max(meanings, key=lambda span: (meanings[span], span))
    others = [spell(span) for span in sorted(meanings) if span != best and meanings[span] >= assumptions.date_meaning_at]
    standing, says = _stands(best, _window(unit), unit.dates_are, made, variant, assumptions)
    return standing, cast_or(says, others[:MOST_NAMED], len(others) > MOST_NAMED)


def _stands(best: Span, window: Span | None, dates_are: str, made: Span | None, variant: str, assumptions: Assumptions) -> tuple[Standing, str]:
    if window is None:
        return "no dates known", cast_undated(when(best))
    found = relation(best, window, assumptions)
    if made is not None and best.last < made.first - timedelta(days=assumptions.longest_lead_days):
        return "before its variant", cast_outside(when(best), variant, spell(made), after=False)
    if made is not None and best.first > made.last:
        return "after its variant", cast_outside(when(best), variant, spell(made), after=True)
    return STANDINGS[found.order], cast_beside(found.order, found.cast, window, dates_are)


def _window(unit: UnitEntry) -> Span | None:
    return Span(date.fromisoformat(unit.likely_from), date.fromisoformat(unit.likely_to)) if unit.likely_from else None
