"""What is said of dates: when a unit was built, and how a casting date stands to it."""

from collections.abc import Sequence
from datetime import date

from kb.desk.sentences.numbers import likely
from kb.words.dates import EVENTS, spell
from kb.words.edtf import Span


def cast_outside(cast: str, variant: str, made: str, after: bool) -> str:
    """A casting date outside the time in which units left the works with that variant."""
    how = "after the last unit that left the works with" if after else "before the first unit that left the works with"
    return f"cast {cast}, {how} {variant} ({made}): {'a service replacement?' if after else 'read the date and the number again'}"


def cast_or(says: str, others: Sequence[str], more: bool) -> str:
    """What a casting date says, with the other times that the code may well mean."""
    return f"{says} (the code may also mean {', '.join(others)}{' and more' if more else ''})" if others else says


def cast_undated(cast: str) -> str:
    """A casting date on a unit whose block has no dates."""
    return f"cast {cast}; no dates are recorded for the unit"


def dated_conflict(name: str, says: str, not_original: float) -> str:
    """A casting that by its date does not belong to the unit."""
    anyway = "Original all the same, with the code misread or the dates recorded wrong"
    return f"{name[:1].upper()}{name[1:]}: {says} {anyway}: {likely(1 - not_original)}."


def likely_built(first: str, last: str, dates_are: str) -> str:
    """When a unit was probably built, by where its number stands in the block.

    >>> likely_built("1931-03-07", "1931-11-20", "built")
    'by its number probably built between 7 March 1931 and 20 November 1931'
    """
    days = [spell(Span(day, day)) for day in (date.fromisoformat(first), date.fromisoformat(last))]
    return f"by its number probably {EVENTS[dates_are or 'built']} between {days[0]} and {days[1]}"
