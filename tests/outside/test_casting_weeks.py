"""Week and day codes of castings against Python's calendar: ISO 8601 weeks, leap years, the turn of the year."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.probability.dating.layout import Layout, decode
from kb.words.errors import DataError

WEEKS = Layout.parse("WW YY", century_from=1920)
DAYS = Layout.parse("M D Y", "ABCDEFGHJKLM", 1920)


@given(st.dates(date(1920, 1, 5), date(2019, 12, 20)))
def test_a_week_holds_the_days_that_python_puts_in_it(day: date) -> None:
    iso = day.isocalendar()
    (span,) = decode(f"{iso.week:02} {iso.year % 100:02}", WEEKS)
    assert span.first <= day <= span.last
    assert span.first == date.fromisocalendar(iso.year, iso.week, 1) and span.last - span.first == timedelta(days=6)
    assert WEEKS.format(day) == f"{iso.week:02} {iso.year % 100:02}"


@pytest.mark.parametrize("year", range(1920, 2020))
def test_only_years_with_53_weeks_have_a_week_53(year: int) -> None:
    has = date(year, 12, 31).isocalendar().week == 53
    try:
        (span,) = decode(f"53 {year % 100:02}", WEEKS)
    except DataError:
        assert not has
    else:
        assert has and span.first.isocalendar()[:2] == (year, 53)


def test_the_29th_of_february_is_only_in_leap_years() -> None:
    found = {span.first.year for span in decode("B 29 4", DAYS)}
    assert found == {year for year in range(1924, 2020, 10) if (date(year, 3, 1) - date(year, 2, 28)).days == 2}


@given(st.dates(date(1920, 1, 1), date(2019, 12, 31)))
def test_a_day_code_means_that_day_in_every_decade_that_has_it(day: date) -> None:
    spans = decode(DAYS.format(day), DAYS)
    assert day in [span.first for span in spans]
    assert all((s.first.month, s.first.day, s.first.year % 10) == (day.month, day.day, day.year % 10) for s in spans)
