"""Build dates by interpolation within a block.

Oracle: numpy.interp, in years; 1250 between 1000 (1947.0) and 2000 (1948.0) is 1947.25.
"""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.catalogue.builddate import UNSTEADY, build_date
from kb.words import edtf
from kb.words.edtf import Span
from kb.words.errors import DataError

DAY = date(1947, 1, 1)


def test_a_quarter_through_the_block_is_a_quarter_through_its_time() -> None:
    found = build_date(1250, 1250, 1000, 2000, Span(DAY, date(1948, 1, 1)))
    assert np.interp(1250, [1000, 2000], [1947.0, 1948.0]) == 1947.25
    assert found.likely == Span(DAY + timedelta(days=91), DAY + timedelta(days=91))  # .25 of 365 days


@pytest.mark.parametrize("number", [1000, 1001, 1499, 1500, 1999, 2000])
def test_interpolation_agrees_with_numpy_and_stays_in_the_block(number: int) -> None:
    built = edtf.parse("1947-03/1949-02")
    found = build_date(number, number, 1000, 2000, built)
    ends = [built.first.toordinal(), built.last.toordinal()]
    for day, moved in ((found.likely.first, 0), (found.within.first, -UNSTEADY), (found.within.last, UNSTEADY)):
        assert abs(day.toordinal() - np.interp(number + moved * 1000, [1000, 2000], ends)) <= 0.501  # to the nearest day


@pytest.mark.parametrize(("first", "last"), [(999, 999), (2001, 2001), (999, 1500), (1500, 2001), (1600, 1500)])
def test_outside_the_block_nothing_is_said(first: int, last: int) -> None:
    with pytest.raises(DataError, match="is not within 1000 to 2000"):
        build_date(first, last, 1000, 2000, edtf.parse("1947"))


@given(st.integers(1, 10**12), st.integers(0, 10**12), st.floats(0, 1), st.floats(0, 1), st.integers(0, 20000))
def test_the_span_holds_the_likely_days_and_lies_in_the_block(start: int, size: int, one: float, other: float, days: int) -> None:
    built = Span(DAY, DAY + timedelta(days=days))
    first, last = sorted((start + int(one * size), start + int(other * size)))
    found = build_date(first, last, start, start + size, built)
    assert built.first <= found.within.first <= found.likely.first <= found.likely.last <= found.within.last <= built.last
