"""How long castings wait: the closed form against adding up day by day."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.assumptions import Assumptions
from kb.probability.dating.lead_time import LeadTime, common_days, disjoint
from kb.words import edtf
from kb.words.edtf import Span

LEAD = LeadTime(Assumptions())


def test_the_shares_are_those_stated() -> None:
    assert LEAD.share.sum() == pytest.approx(1)
    assert [LEAD.share[: longest + 1].sum().round(12) for longest in (30, 92, 183, 366, 1830)] == [0.4, 0.7, 0.88, 0.98, 1.0]
    assert LEAD.longest == 1830


@given(st.integers(700_000, 703_000), st.integers(0, 40), st.integers(700_000, 704_000), st.integers(0, 60))
def test_every_day_of_building_and_every_wait(first: int, length: int, start: int, window: int) -> None:
    last, end = first + length, start + window
    waits = range(LEAD.longest + 1)
    by_day = sum(LEAD.share[wait] for built in range(start, end + 1) for wait in waits if first <= built - wait <= last) / (window + 1)
    assert LEAD.cast_within([(first, last)], np.array([start]), np.array([end]))[0] == pytest.approx(by_day, abs=1e-13)


def test_a_casting_later_than_the_unit_cannot_have_been_built_in() -> None:
    assert LEAD.cast_within([(711_001, 711_030)], np.array([710_000]), np.array([711_000])).tolist() == [0.0]


@pytest.mark.parametrize(("texts", "stretches"), [(["1948-03", "1948-04"], 1), (["1948-03", "1948-05"], 2), (["1948", "1948-05"], 1), ([], 0)])
def test_days_are_counted_once(texts: list[str], stretches: int) -> None:
    spans = [edtf.parse(text) for text in texts]
    days = {day for span in spans for day in range(span.first.toordinal(), span.last.toordinal() + 1)}
    found = disjoint(spans)
    assert len(found) == stretches
    assert common_days(found, (0, 10**6)) == len(days)


def test_a_leap_day_counts() -> None:
    year = edtf.parse("1948")
    assert common_days(disjoint([Span(year.first, year.last)]), (0, 10**6)) == 366
