"""When a unit was built, by where its number stands in the block.

Oracle: `numpy.interp`, straight interpolation as on paper: 1250 between 1000 (1947.0) and 2000 (1948.0) is 1947.25. Unlike `interp`, which goes on
with the value at the end, nothing is said outside the block.
"""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.assumptions import Assumptions
from kb.probability.dating.build_date import build_date
from kb.words import edtf
from kb.words.edtf import Span
from kb.words.errors import DataError

UNSTEADY = Assumptions().build_unsteady


def decimal_year(day: date) -> float:
    """1947-04-02 is 1947.25: the year, and the share of it that has passed."""
    start = date(day.year, 1, 1)
    return day.year + (day - start).days / (date(day.year + 1, 1, 1) - start).days


@pytest.mark.parametrize(("number", "expected"), [(1000, 1947.0), (1250, 1947.25), (1500, 1947.5), (1750, 1947.75), (2000, 1948.0)])
def test_a_number_is_dated_by_its_share_of_the_block(number: int, expected: float) -> None:
    assert np.interp(number, [1000, 2000], [1947.0, 1948.0]) == expected
    found = build_date(number, number, 1000, 2000, edtf.parse("1947"), UNSTEADY)
    assert found.likely.first == found.likely.last
    assert decimal_year(found.likely.first) == pytest.approx(expected, abs=1.5 / 365)  # the last day of 1947, not the first of 1948


@given(st.data())
def test_any_number_of_any_block_is_dated_as_by_interpolation(data: st.DataObject) -> None:
    first = data.draw(st.integers(0, 10**9))
    last = first + data.draw(st.integers(1, 10**6))
    begin = data.draw(st.dates(date(1880, 1, 1), date(1990, 1, 1)))
    end = begin + timedelta(days=data.draw(st.integers(0, 4000)))
    low = data.draw(st.integers(first, last))
    high = data.draw(st.integers(low, last))
    found = build_date(low, high, first, last, Span(begin, end), UNSTEADY)
    expected = np.interp([low, high], [first, last], [begin.toordinal(), end.toordinal()])
    assert abs(found.likely.first.toordinal() - expected[0]) <= 0.5 + 1e-6
    assert abs(found.likely.last.toordinal() - expected[1]) <= 0.5 + 1e-6
    off = UNSTEADY * (last - first)
    ahead, behind = np.interp([low - off, high + off], [first, last], [begin.toordinal(), end.toordinal()])
    assert abs(found.within.first.toordinal() - ahead) <= 0.5 + 1e-6 and abs(found.within.last.toordinal() - behind) <= 0.5 + 1e-6
    assert begin <= found.within.first <= found.likely.first <= found.likely.last <= found.within.last <= end


@pytest.mark.parametrize(("low", "high"), [(999, 999), (2001, 2001), (999, 1500), (1500, 2001), (1600, 1500)])
def test_outside_the_block_nothing_is_said(low: int, high: int) -> None:
    with pytest.raises(DataError, match=f"{low} to {high} is not within 1000 to 2000"):
        build_date(low, high, 1000, 2000, edtf.parse("1947"), UNSTEADY)
