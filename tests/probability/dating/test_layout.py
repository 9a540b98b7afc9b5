"""Casting dates: codes by layout, all their meanings, worn characters.

Sources: ISO 8601 week dates (published examples, checked against `date.isocalendar` and `date.fromisocalendar`); EN 60062
month characters; the layouts themselves are common practice of foundries.
"""

from datetime import date, timedelta
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.probability.dating.layout import Layout, decode
from kb.probability.dating.layout import meanings as of_component
from kb.words.dates import spell
from kb.words.errors import DataError

WITHOUT_I = "ABCDEFGHJKLM"


def meanings(code: str, layout: str, letters: str | None = None, since: int = 1940) -> list[str]:
    return [spell(span) for span in decode(code, Layout.parse(layout, letters, since)) if span.first.year < since + 10]


@pytest.mark.parametrize(("code", "layout", "letters", "expected"), [
    ("C 14 8", "M D Y", None, ["14 March 1948"]),
    ("c-14-8", "M D Y", None, ["14 March 1948"]),
    ("C148", "M D Y", None, ["14 March 1948"]),  # one digit of the year: the day must be 14
    ("C148", "M D YY", None, ["1 March 1948"]),
    ("I 2 8", "M D Y", None, ["2 September 1948"]),
    ("J 2 8", "M D Y", None, ["2 October 1948"]),
    ("J 2 8", "M D Y", WITHOUT_I, ["2 September 1948"]),  # the foundry leaves out the I
    ("O 48", "M YY", "123456789OND", ["October 1948"]),  # EN 60062
    ("3 11 8", "D N Y", None, ["3 November 1948"]),  # as the spaces part it
    ("3118", "D N Y", None, ["31 January 1948", "3 November 1948"]),  # without them both
    ("03 11 8", "D N Y", None, ["3 November 1948"]),
    ("14 C 48 N", "D M YY S", None, ["14 March 1948"]),
    ("14 C 48", "D M YY S", None, ["14 March 1948"]),  # the shift mark may be missing
    ("K4", "M Y", None, ["November 1944"]),
    ("1948 C", "YYYY M", None, ["March 1948"]),
    ("C 194 8", "M 194 Y", None, ["March 1948"]),
    ("53 48", "WW YY", None, ["27 December 1948 to 2 January 1949"]),
    ("29 2 8", "D N Y", None, ["29 February 1948"]),  # the other years ending in 8 are no leap years
    # worn
    ("C ?4 8", "M D Y", None, ["4 March 1948", "14 March 1948", "24 March 1948"]),
    ("[CG] 14 8", "M D Y", None, ["14 March 1948", "14 July 1948"]),
    ("C 14 [38]", "M D Y", None, ["14 March 1943", "14 March 1948"]),
    ("L* 48", "M D YY", None, [f"{day} December 1948" for day in range(1, 32)]),
])
def test_a_code_and_all_its_meanings(code: str, layout: str, letters: str | None, expected: list[str]) -> None:
    assert sorted(meanings(code, layout, letters)) == sorted(expected)


def test_an_ambiguous_decade_has_all_its_meanings_earliest_first() -> None:
    found = decode("C 14 8", Layout.parse("M D Y", century_from=1925))
    assert [span.first.year for span in found] == list(range(1928, 2025, 10))


@pytest.mark.parametrize(("first", "last", "expected"), [(1900, 1999, [1908]), (1920, 2019, [2008])])
def test_the_century_is_the_hundred_years_from_the_first(first: int, last: int, expected: list[int]) -> None:
    found = decode("C 14 08", Layout.parse("M D YY", century_from=first))
    assert [span.first.year for span in found] == expected
    assert first <= found[0].first.year <= last


@pytest.mark.parametrize(("day", "year", "week", "weekday"), [
    ("2005-01-01", 2004, 53, 6), ("2005-12-31", 2005, 52, 6), ("2006-01-01", 2005, 52, 7), ("2007-01-01", 2007, 1, 1),
    ("2008-12-29", 2009, 1, 1), ("2010-01-03", 2009, 53, 7), ("1977-01-01", 1976, 53, 6),
])  # fmt: skip
def test_weeks_are_those_of_iso_8601(day: str, year: int, week: int, weekday: int) -> None:
    layout = Layout.parse("WW YYYY")
    that = date.fromisoformat(day)
    assert layout.format(that) == f"{week:02} {year}"
    assert decode(f"{week:02} {year}", layout)[0].first + timedelta(days=weekday - 1) == that
    assert tuple(that.isocalendar()) == (year, week, weekday)


def test_years_with_53_weeks() -> None:
    found = decode("53 ??", Layout.parse("WW YY", century_from=1900))
    years = [span.first.isocalendar().year for span in found]
    assert [year for year in years if 1930 <= year <= 1960] == [1931, 1936, 1942, 1948, 1953, 1959]


LAYOUTS = ["M D Y", "M D YY", "MDYY", "DD NN YYYY", "D N Y S", "WW Y", "W YYYY", "YYM", "M Y S", "19YY NN", "N DD YY"]


@given(st.sampled_from(LAYOUTS), st.dates(date(1900, 1, 8), date(1999, 12, 20)), st.sampled_from([None, WITHOUT_I]), st.booleans())
def test_what_is_cast_is_read_back(text: str, day: date, letters: str | None, joined: bool) -> None:
    layout = Layout.parse(text, letters)
    code = layout.format(day)
    found = decode(code.replace(" ", "") if joined else code, layout)
    assert any(span.first <= day <= span.last for span in found)


@given(st.sampled_from(LAYOUTS), st.text("ABCM0189 ?*[]", max_size=8))
def test_whatever_is_typed_is_decoded_or_refused(text: str, code: str) -> None:
    layout = Layout.parse(text)
    try:
        found = decode(code, layout)
    except DataError as error:
        assert error.remedy
    else:
        assert list(found) == sorted(set(found))


@pytest.mark.parametrize(("code", "layout", "message"), [
    ("X 14 8", "M D Y", '"X 14 8" is no casting date in the layout M D Y. Expected it as in "C 14 8", which is 14 March 1948.'),
    ("B 30 8", "M D Y", '"B 30 8" is no casting date in the layout M D Y. Expected it as in "C 14 8", which is 14 March 1948.'),
    ("C 14 ?", "M D YY", '"C 14 ?" is no casting date in the layout M D YY. Expected it as in "C 14 48", which is 14 March 1948.'),
    ("54 48", "WW YY", '"54 48" is no casting date in the layout WW YY. Expected it as in "11 48", which is 8 March 1948 to 14 March 1948.'),
    ("C[14", "M D Y", '"C[14" has a [ without its ]. Write one of these as in "2[38]5".'),
])
def test_what_is_no_date_is_refused_with_an_example(code: str, layout: str, message: str) -> None:
    with pytest.raises(DataError) as error:
        decode(code, Layout.parse(layout))
    assert str(error.value) == message


@pytest.mark.parametrize(("layout", "letters", "problem"), [
    ("M D", None, "must tell the year once"),
    ("Y M Y", None, "must tell the year once"),
    ("M N Y", None, "nothing twice"),
    ("Q D Y", None, "is no layout"),
    ("", None, "is no layout"),
    ("W M Y", None, "mixes weeks"),
    ("D Y", None, "lacks the month"),
    ("M Y", "ABC", "not twelve different month letters"),
    ("M Y", "ABCDEFGHIJKK", "not twelve different month letters"),
])
def test_a_layout_that_cannot_be_read_is_refused(layout: str, letters: str | None, problem: str) -> None:
    with pytest.raises(DataError, match=problem):
        Layout.parse(layout, letters)


ROWS = [
    SimpleNamespace(maker_id="orlop", component_id=None, layout="M D Y", month_letters=WITHOUT_I, century_from=1920),
    SimpleNamespace(maker_id="orlop", component_id="cover", layout="M YY", month_letters=None, century_from=1920),
    SimpleNamespace(maker_id="orlop", component_id="cover", layout="WW YY", month_letters=None, century_from=1920),
]


@pytest.mark.parametrize(("component", "code", "expected"), [
    ("head", "J 2 8", "2 September 1928"),  # the maker's general layout
    ("cover", "J 48", "October 1948"),  # the component's own, with the I
    ("cover", "11 48", "8 March 1948 to 14 March 1948"),  # one of several
])
def test_the_layout_is_that_of_the_component_else_of_the_maker(component: str, code: str, expected: str) -> None:
    assert spell(of_component(code, ROWS, "orlop", component)[0]) == expected


@pytest.mark.parametrize(("maker", "component", "code", "problem"), [
    ("orlop", "cover", "Q 2 8", "is no casting date in the layout WW YY"),
    ("other", "cover", "J 48", "No layout of casting dates is recorded"),
])
def test_without_a_layout_that_suits_a_code_is_refused(maker: str, component: str, code: str, problem: str) -> None:
    with pytest.raises(DataError, match=problem):
        of_component(code, ROWS, maker, component)
