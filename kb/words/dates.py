"""Spans of days in words: "in March 1948", "on 14 March 1948", "from 1947 to 1949"."""

from calendar import monthrange
from datetime import date

from kb.words.edtf import Span


def spell(span: Span) -> str:
    """A span of days in words.

    >>> from kb.words.edtf import parse
    >>> spell(parse("1948-03")), spell(parse("1948/1949")), spell(parse("1948-03/1948-05"))
    ('March 1948', '1948 to 1949', 'March 1948 to May 1948')
    """
    first, last = span.first, span.last
    if first == last:
        return _day(first)
    starts_year, ends_year = (first.month, first.day) == (1, 1), (last.month, last.day) == (12, 31)
    if starts_year and ends_year:
        return str(first.year) if first.year == last.year else f"{first.year} to {last.year}"
    if first.day == 1 and last.day == monthrange(last.year, last.month)[1]:
        start, end = f"{first:%B} {first.year}", f"{last:%B} {last.year}"
        return start if start == end else f"{start} to {end}"
    return f"{_day(first)} to {_day(last)}"


def when(span: Span) -> str:
    """A span of days with its preposition.

    >>> from kb.words.edtf import parse
    >>> when(parse("1948-03-14")), when(parse("1948"))
    ('on 14 March 1948', 'in 1948')
    """
    text = spell(span)
    return f"on {text}" if span.first == span.last else f"from {text}" if " to " in text else f"in {text}"


# What happened to a unit on the dates of its block, by `dates_are`.
EVENTS = {"built": "built", "shipped": "shipped", "registered": "first registered", "model year": "of the model year"}


def cast_beside(order: str, cast: Span, built: Span, dates_are: str = "") -> str:
    """How a casting date relates to the unit that the casting is on. order: before, long before or later; see kb/probability/dating/order.py.

    >>> from kb.words.edtf import parse
    >>> cast_beside("later", parse("1948-06"), parse("1948-05"))
    'cast in June 1948, later than the unit, built in May 1948: a service replacement?'
    """
    event = f"{EVENTS[dates_are or 'built']} {spell(built) if dates_are == 'model year' else when(built)}"
    if order == "before":
        return f"cast {when(cast)}, in time for a unit {event}"
    if order == "later":
        return f"cast {when(cast)}, later than the unit, {event}: a service replacement?"
    return f"cast {when(cast)}, long before the unit was {event}: from stock, or off an older unit?"


def _day(day: date) -> str:
    return f"{day.day} {day:%B} {day.year}"
