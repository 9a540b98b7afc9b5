"""How a casting date stands to the unit it sits on: in time, long before, or later than the unit.

A casting normally precedes assembly by days to months. A younger one is most often a service replacement, and is asked
about; nobody is accused.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from kb.words.dates import spell, when
from kb.words.edtf import Span

LONGEST_LEAD = timedelta(days=366)  # a casting waits days to months for its machine, rarely a year; common practice


@dataclass(frozen=True)
class Relation:
    """How a casting date stands to the date of the unit. order: "before", "long before" or "later"."""

    order: str
    cast: Span
    text: str


# Worded by what the unit's dates are.
WORDING = {
    "before": "cast {cast}, in time for a unit {event}",
    "long before": "cast {cast}, long before the unit was {event}: from stock, or off an older unit?",
    "later": "cast {cast}, later than the unit, {event}: a service replacement?",
}
EVENTS = {"built": "built", "shipped": "shipped", "registered": "first registered", "model year": "of the model year"}


def relation(cast: Span | Sequence[Span], built: Span, dates_are: str | None = None) -> Relation:
    """How a casting date stands to the unit it sits on.

    Of several meanings the one that suits best is taken: the latest that is not later than the unit, else the earliest.

    Args:
        cast: the meaning, or all meanings, of the code.
        built: the days within which the unit was built, shipped ... ; dates_are says which (default built).
    """
    meanings = [cast] if isinstance(cast, Span) else sorted(cast)
    in_time = [meaning for meaning in meanings if meaning.first <= built.last]
    best = in_time[-1] if in_time else meanings[0]
    order = "later" if not in_time else "long before" if built.first - best.last > LONGEST_LEAD else "before"
    event = f"{EVENTS[dates_are or 'built']} {spell(built) if dates_are == 'model year' else when(built)}"
    return Relation(order, best, WORDING[order].format(cast=when(best), event=event))
