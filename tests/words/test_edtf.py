"""Dates against the published examples of the Extended Date/Time Format.

Source: https://www.loc.gov/standards/datetime/ (levels 0 and 1); spans of days: common practice (a year is its 365 or 366 days).
"""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.words.edtf import Span, parse
from kb.words.errors import DataError


@pytest.mark.parametrize(
    ("text", "first", "last", "source"),
    [
        ("1985", "1985-01-01", "1985-12-31", "level 0, date"),
        ("1985-04", "1985-04-01", "1985-04-30", "level 0, date"),
        ("1985-04-12", "1985-04-12", "1985-04-12", "level 0, date"),
        ("1964/2008", "1964-01-01", "2008-12-31", "level 0, time interval"),
        ("2004-06/2006-08", "2004-06-01", "2006-08-31", "level 0, time interval"),
        ("2004-02-01/2005-02-08", "2004-02-01", "2005-02-08", "level 0, time interval"),
        ("2004-02-01/2005", "2004-02-01", "2005-12-31", "level 0, time interval"),
        ("2001-21", "2001-03-01", "2001-05-31", "level 1, season spring"),
        ("2001-24", "2001-12-01", "2002-02-28", "level 1, season winter; months from memory"),
        ("9999-24", "9999-12-01", "9999-12-31", "the calendar ends there"),
        ("1984?", "1984-01-01", "1984-12-31", "level 1, uncertain"),
        ("2004-06~", "2004-06-01", "2004-06-30", "level 1, approximate"),
        ("2004-06-11%", "2004-06-11", "2004-06-11", "level 1, both"),
        ("201X", "2010-01-01", "2019-12-31", "level 1, unspecified digit"),
        ("20XX", "2000-01-01", "2099-12-31", "level 1, unspecified digits"),
        ("00XX", "0001-01-01", "0099-12-31", "there is no year 0 in the calendar used"),
        ("2004-XX", "2004-01-01", "2004-12-31", "level 1, unspecified month"),
        ("1985-04-XX", "1985-04-01", "1985-04-30", "level 1, unspecified day"),
        ("1985-XX-XX", "1985-01-01", "1985-12-31", "level 1, unspecified month and day"),
        ("1984~/2004-06", "1984-01-01", "2004-06-30", "level 1, extended interval"),
        ("1948-02", "1948-02-01", "1948-02-29", "a leap year"),
    ],
)
def test_date_stands_for_a_span_of_days(text: str, first: str, last: str, source: str) -> None:
    assert parse(text) == Span(date.fromisoformat(first), date.fromisoformat(last)), source


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is not a date"),
        ("48", "is not a date"),
        ("03.05.1948", "is not a date"),
        ("[1947,1948]", "is not a date"),  # level 2
        ("1948-W05", "is not a date"),
        ("May 1948", "is not a date"),
        ("1948-13", "Months run from 01 to 12"),
        ("1948-00", "Months run from 01 to 12"),
        ("1948-02-30", "February 1948 has 29 days"),
        ("1949-02-29", "February 1949 has 28 days"),
        ("1948-04-00", "April 1948 has 30 days"),
        ("0000", "Years run from 0001"),
        ("194X-05", "knows the month but not the year"),
        ("1948-XX-03", "knows the day but not the month"),
        ("1948-21-03", "a day of a season"),
        ("1948/..", "has an open end"),
        ("../1948", "has an open end"),
        ("1948/", "has an open end"),
        ("1949/1947", "Write the earlier date first: 1947/1949"),
        ("\u0661\u0669\u0664\u0668", "is not a date"),  # digits, but not 0-9
    ],
)
def test_what_is_no_date_is_refused_with_a_remedy(text: str, words: str) -> None:
    with pytest.raises(DataError, match=words) as refused:
        parse(text)
    assert refused.value.remedy


@given(st.text(max_size=12))
def test_any_text_is_a_span_or_an_error(text: str) -> None:
    try:
        span = parse(text)
    except DataError as error:
        assert error.problem and error.remedy
    else:
        assert span.first <= span.last


@given(st.dates())
def test_a_calendar_day_is_itself(day: date) -> None:
    assert parse(day.isoformat()) == Span(day, day)
