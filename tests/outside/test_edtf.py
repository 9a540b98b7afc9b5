"""Dates as they are known, against the published notation and another reader of it.

Source: Extended Date/Time Format, Library of Congress, 4 February 2019, https://www.loc.gov/standards/datetime/ (ISO 8601-2:2019).
Oracle: `edtf` 5 (MIT), bounds by `lower_strict` and `upper_strict`.
"""

from datetime import date, timedelta
from time import struct_time

import pytest
from edtf import EDTFParseException, parse_edtf
from hypothesis import example, given
from hypothesis import strategies as st

from kb.words.edtf import Span, parse
from kb.words.errors import DataError


def by_the_oracle(text: str) -> Span:
    found = parse_edtf(text)
    return Span(_day(found.lower_strict()), _day(found.upper_strict()))


def _day(time: struct_time) -> date:
    return date(time.tm_year, time.tm_mon, time.tm_mday)


@pytest.mark.parametrize(("text", "first", "last", "source"), [
    ("1948", "1948-01-01", "1948-12-31", "level 0, date"),
    ("1948-05", "1948-05-01", "1948-05-31", "level 0, date"),
    ("1948-05-03", "1948-05-03", "1948-05-03", "level 0, date"),
    ("1947/1949", "1947-01-01", "1949-12-31", "level 0, time interval"),
    ("1948-05/1949-02", "1948-05-01", "1949-02-28", "level 0, time interval"),
    ("1948-05-03/1948-05", "1948-05-03", "1948-05-31", "level 0, time interval"),
    ("1948~", "1948-01-01", "1948-12-31", "level 1, approximate"),
    ("1948?", "1948-01-01", "1948-12-31", "level 1, uncertain"),
    ("1948%", "1948-01-01", "1948-12-31", "level 1, both"),
    ("1948~/1949?", "1948-01-01", "1949-12-31", "level 1, interval of qualified dates"),
    ("194X", "1940-01-01", "1949-12-31", "level 1, unspecified digit"),
    ("19XX", "1900-01-01", "1999-12-31", "level 1, unspecified digits"),
    ("1948-XX", "1948-01-01", "1948-12-31", "level 1, month unspecified"),
    ("1948-05-XX", "1948-05-01", "1948-05-31", "level 1, day unspecified"),
    ("1948-XX-XX", "1948-01-01", "1948-12-31", "level 1, month and day unspecified"),
    ("1948-21", "1948-03-01", "1948-05-31", "level 1, seasons: spring"),
    ("1948-22", "1948-06-01", "1948-08-31", "level 1, seasons: summer"),
    ("1948-23", "1948-09-01", "1948-11-30", "level 1, seasons: autumn"),
    ("1948-21/1949-22", "1948-03-01", "1949-08-31", "level 1, seasons"),
    ("1900-02", "1900-02-01", "1900-02-28", "no leap year"),
    ("2000-02", "2000-02-01", "2000-02-29", "a leap year"),
])
def test_a_date_spans_the_days_the_standard_gives_it(text: str, first: str, last: str, source: str) -> None:
    expected = Span(date.fromisoformat(first), date.fromisoformat(last))
    assert parse(text) == expected, source
    assert by_the_oracle(text) == expected, f"table and oracle disagree: {source}"


def test_winter_runs_on_into_the_next_year() -> None:
    """The standard says only which season; the oracle cuts winter at New Year. We let it run its three months."""
    assert by_the_oracle("1948-24") == Span(date(1948, 12, 1), date(1948, 12, 31))
    assert parse("1948-24") == Span(date(1948, 12, 1), date(1949, 2, 28))


@pytest.mark.parametrize("text", ["1948-W05", "1948-02-30", "1948-13", "1948-00", "48", "1948-5", "circa 1948", "1948-05-32", "", "/"])
def test_what_the_standard_does_not_know_is_refused_by_both(text: str) -> None:
    with pytest.raises(DataError):
        parse(text)
    with pytest.raises(EDTFParseException):
        by_the_oracle(text)


@pytest.mark.parametrize(("text", "why"), [
    ("1948/..", "level 1, open end: no span of days, and what is built has an end"),
    ("../1948", "level 1, open start"),
    ("/1948", "level 1, unknown start"),
    ("1949/1947", "the end before the start: a slip of the pen; the oracle takes it"),
    ("[1947,1948]", "level 2"),
    ("1X48", "level 2"),
    ("~1948", "level 2: qualifier to the left"),
    ("1948-XX-03", "level 2"),
    ("Y19480", "level 1: years beyond 9999"),
    ("-0048", "level 1: negative years"),
    ("0000", "no such year in our calendar"),
    ("1947-02-29", "no leap year; the oracle does not look"),
])
def test_what_we_leave_out_on_purpose_is_refused(text: str, why: str) -> None:
    with pytest.raises(DataError):
        parse(text)


LAST = date(9998, 12, 31)


@given(st.dates(date(1, 1, 1), LAST), st.integers(0, 40000), st.sampled_from((4, 7, 10)), st.sampled_from(("", "~", "?", "%")))
def test_any_date_and_interval_spans_the_same_days_as_the_oracle_says(start: date, days: int, cut: int, qualifier: str) -> None:
    end = start + timedelta(days=min(days, (LAST - start).days))
    single, other = start.isoformat()[:cut] + qualifier, end.isoformat()[:cut]
    assert parse(single) == by_the_oracle(single)
    assert parse(f"{single}/{other}") == by_the_oracle(f"{single}/{other}")


@given(st.text(max_size=30) | st.from_regex(r"[0-9X]{2,5}(-[0-9X]{1,3}){0,3}[~?%]?(/[0-9X.-]{0,10})?", fullmatch=True))
@example("9999-24")  # the winter of the last year has no end in our calendar
@example("0000/0001")
@example("١٩٤٨")  # digits, but not ours
def test_any_text_is_a_span_or_a_data_error(text: str) -> None:
    try:
        span = parse(text)
    except DataError as error:
        assert error.problem
        assert error.remedy
    else:
        assert span.first <= span.last
