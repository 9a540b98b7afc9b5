"""Dates as they are known: a year, a month, a decade, "about 1948".

Notation: Extended Date/Time Format, levels 0 and 1, ISO 8601-2:2019, https://www.loc.gov/standards/datetime/.

    1948   1948-05   1948-05-03      a year, a month, a day
    1947/1949                        from the start of the first to the end of the second
    1948~  1948?  1948%              about, uncertain, both: kept in the text; the days are the same
    194X   19XX   1948-XX            unknown digits
    1948-21 .. 1948-24               spring, summer, autumn, winter (northern; winter runs on to February)

Left out: open ends (1948/..), which give no span of days; level 2; years before 0001 or after 9999.
"""

import calendar
import re
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from kb.words.errors import DataError

_REMEDY = 'Write 1948, 1948-05, 1948-05-03, 1947/1949, 194X, or 1948~ for "about 1948".'
_DATE = re.compile(r"([0-9]{4}|[0-9]{3}X|[0-9]{2}XX)(?:-([0-9]{2}|XX)(?:-([0-9]{2}|XX))?)?[~?%]?")
_SEASONS = {21: (3, 5), 22: (6, 8), 23: (9, 11), 24: (12, 14)}  # months; 14 is February of the next year


@dataclass(frozen=True, order=True)
class Span:
    """The days a date may be, both ends included."""

    first: date
    last: date


@lru_cache(maxsize=65536)
def parse(text: str) -> Span:
    """The span of days that a date stands for.

    Raises:
        DataError: not one of the notations above, no such day, an open end, or the end before the start.

    >>> parse("1948-02~")
    Span(first=datetime.date(1948, 2, 1), last=datetime.date(1948, 2, 29))
    >>> parse("1948-02-30")
    Traceback (most recent call last):
    kb.words.errors.DataError: "1948-02-30" is an impossible date. February 1948 has 29 days.
    """
    first, slash, last = text.partition("/")
    if not slash:
        return _single(text, text)
    if first in ("", "..") or last in ("", ".."):
        raise DataError(f'"{text}" has an open end.', "Write both ends, as in 1947/1949.")
    span = Span(_single(first, text).first, _single(last, text).last)
    if span.last < span.first:
        raise DataError(f'"{text}" ends before it begins.', f"Write the earlier date first: {last}/{first}.")
    return span


def _single(text: str, whole: str) -> Span:
    found = _DATE.fullmatch(text)
    if found is None:
        raise DataError(f'"{whole}" is not a date.', _REMEDY)
    year, month, day = found.groups()
    if "X" in year:
        if month is not None:
            raise DataError(f'"{whole}" knows the month but not the year.', _REMEDY)
        return _months(whole, int(year.replace("X", "0")), 1, int(year.replace("X", "9")), 12)
    number = int(year)
    if month is None or month == "XX":
        if day not in (None, "XX"):
            raise DataError(f'"{whole}" knows the day but not the month.', _REMEDY)
        return _months(whole, number, 1, number, 12)
    if int(month) in _SEASONS:
        if day is not None:
            raise DataError(f'"{whole}" has a day of a season.', _REMEDY)
        start, end = _SEASONS[int(month)]
        return _months(whole, number, start, number, end)
    if not 1 <= int(month) <= 12:
        raise DataError(f'"{whole}" is an impossible date.', "Months run from 01 to 12, seasons from 21 (spring) to 24 (winter).")
    if day is None or day == "XX":
        return _months(whole, number, int(month), number, int(month))
    return Span(exact := _day(whole, number, int(month), int(day)), exact)


def _months(whole: str, first_year: int, first_month: int, last_year: int, last_month: int) -> Span:
    """From the first day of the one month to the last day of the other; months beyond 12 run into the next year."""
    last_year, last_month = last_year + (last_month - 1) // 12, (last_month - 1) % 12 + 1
    if last_year > date.max.year:  # the winter of 9999
        last_year, last_month = date.max.year, 12
    first = _day(whole, max(first_year, 1) if last_year > first_year else first_year, first_month, 1)
    return Span(first, date(last_year, last_month, calendar.monthrange(last_year, last_month)[1]))


def _day(whole: str, year: int, month: int, day: int) -> date:
    if year < 1:
        raise DataError(f'"{whole}" is an impossible date.', "Years run from 0001 to 9999.")
    days = calendar.monthrange(year, month)[1]
    if not 1 <= day <= days:
        raise DataError(f'"{whole}" is an impossible date.', f"{calendar.month_name[month]} {year} has {days} days.")
    return date(year, month, day)
