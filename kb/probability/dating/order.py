"""How a casting date relates to the unit it is on: in time, long before, or later than the unit.

A casting normally precedes assembly by days to months. A younger one is usually a service replacement; the answer asks about it
and accuses nobody.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from kb.assumptions import Assumptions
from kb.words.edtf import Span


@dataclass(frozen=True)
class Relation:
    """How a casting date relates to the date of the unit. order: "before", "long before" or "later"."""

    order: str
    cast: Span


def relation(cast: Span | Sequence[Span], built: Span, assumptions: Assumptions | None = None) -> Relation:
    """How a casting date relates to the unit it is on.

    Of several meanings the one that suits best is taken: the latest that is not later than the unit, else the earliest.

    Args:
        cast: the meaning, or all meanings, of the code.
        built: the days within which the unit was built, shipped ...
    """
    meanings = [cast] if isinstance(cast, Span) else sorted(cast)
    in_time = [meaning for meaning in meanings if meaning.first <= built.last]
    best = in_time[-1] if in_time else meanings[0]
    longest = timedelta(days=(assumptions or Assumptions()).longest_lead_days)
    order = "later" if not in_time else "long before" if built.first - best.last > longest else "before"
    return Relation(order, best)
