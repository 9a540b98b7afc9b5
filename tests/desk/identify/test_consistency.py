"""Whether the castings belong together, on the demo data: words and probabilities. The probabilities themselves are compared with the enumerator."""

from pathlib import Path

import pytest

from kb import Evidence, KnowledgeBase
from kb.assumptions import Assumptions
from kb.words.errors import DataError


@pytest.fixture(scope="module")
def demo(demo_db: Path) -> KnowledgeBase:
    return KnowledgeBase.open(demo_db)


@pytest.mark.parametrize(("serial", "where", "code", "standing", "said"), [
    ("C1542", "crankcase", "I 31", "in time", "Cast in September 1931, in time for a unit built from"),
    ("R0042", "pump-body", "31 35", "later", "later than the unit, shipped from 1 January 1928 to 9 May 1928: a service replacement?"),
    ("105112", "arbor-housing@left", "C 14 8", "in time", "Cast on 14 March 1928, in time for"),
    ("C1542", "pump-body", "20 27", "early", "long before the unit was built"),
    ("109900", "feed-cam", "B 2 4", "early", "Cast on 2 February 1934"),
])  # fmt: skip
def test_a_casting_date_is_set_beside_the_unit(demo: KnowledgeBase, serial: str, where: str, code: str, standing: str, said: str) -> None:
    found = demo.identify(Evidence(serial=serial, cast_dates=[f"{where}={code}"]))
    (date,) = found.dates
    assert date.standing == standing, date
    assert said in date.says
    assert (date.not_original > 0.5) is (standing == "later") or standing == "early"
    assert any(date.says in conflict for conflict in found.conflicts) is (date.not_original > 0.5)


def test_a_date_before_the_variant_was_made_is_said_if_the_variant_was_seen(demo: KnowledgeBase) -> None:
    found = demo.identify(Evidence(serial="C1542", marks={"pump-body": "73-J18"}, cast_dates=["pump-body=20 27"]))
    assert found.dates[0].standing == "before its variant"
    assert found.dates[0].variant_from > "1930"
    assert any("before the first unit that left the works with" in text for text in found.conflicts)


def test_the_year_of_a_one_digit_code_is_told_by_the_unit(demo: KnowledgeBase) -> None:
    """C 14 8 is 14 March of 1928 on a mill of 1929, and of 1938 on one of 1938; on neither is any other year more than a possibility."""
    for serial, year in (("105112", 1928), ("109700", 1938)):
        (date,) = demo.identify(Evidence(serial=serial, cast_dates=["arbor-housing@left=C 14 8"])).dates
        assert date.meanings[0].first == f"{year}-03-14"
        assert date.meanings[0].probability > 0.9 > 10 * date.meanings[1].probability
        assert sum(m.probability for m in date.meanings) == pytest.approx(1)


def test_a_casting_date_tells_the_block_where_the_number_is_gone(demo: KnowledgeBase) -> None:
    without = demo.identify(Evidence(serial="?1542"))
    found = demo.identify(Evidence(serial="?1542", cast_dates=["crankcase=I 31", "pump-cover@left=30 31"]))
    assert found.units[0].block in ("pw-c", "pw-s")
    assert found.units[0].built_from == "1930"
    assert found.units[0].probability > without.units[0].probability


def test_a_number_that_differs_from_several_castings_is_a_possibility_not_an_accusation(demo: KnowledgeBase) -> None:
    pieces = {"gear-case": "18-E25", "pump-body": "73-J10", "base-frame": "38-Q50"}
    found = demo.identify(Evidence(serial="D0042", marks=pieces))
    (said,) = [text for text in found.conflicts if "stamped again" in text]
    assert "built 1933 to 1935" in said and "built 1930 to 1932" in said and "Possibly" in said
    for text in found.conflicts:
        assert not any(word in text.lower() for word in ("fraud", "fake", "forg", "false", "cheat", "stolen", "tamper"))
    assert not any("stamped again" in text for text in demo.identify(Evidence(serial="C0042", marks=pieces)).conflicts)


def test_one_strange_casting_is_no_second_unit(demo: KnowledgeBase) -> None:
    found = demo.identify(Evidence(serial="D0042", marks={"gear-case": "18-E25"}))
    assert not any("stamped again" in text for text in found.conflicts)


def test_shipped_and_built_are_told_apart(demo: KnowledgeBase) -> None:
    assert demo.identify(Evidence(serial="R0042")).units[0].dates_are == "shipped"
    assert demo.identify(Evidence(serial="C0042")).units[0].dates_are == "built"


@pytest.mark.parametrize(("code", "message"), [("P 99 9", "no casting date in the layout M D Y"), ("I 14 8", "no casting date")])
def test_a_code_that_is_no_date_is_refused_with_an_example(demo: KnowledgeBase, code: str, message: str) -> None:
    with pytest.raises(DataError, match=message):
        demo.identify(Evidence(cast_dates=[f"feed-cam={code}"]))


def test_dates_never_lower_what_everything_sums_to(demo: KnowledgeBase) -> None:
    found = demo.identify(Evidence(serial="?1542", cast_dates=["crankcase=I 31", "feed-cam=C 14 8"]))
    assert sum(u.probability for u in found.units) + found.rest + found.not_in_knowledge_base == pytest.approx(1)


def test_what_is_assumed_of_the_works_moves_the_date(demo_db: Path) -> None:
    spans = []
    for unsteady in (0.0, 0.15):
        with KnowledgeBase.open(demo_db, Assumptions().override(build_unsteady=unsteady)) as book:
            unit = book.identify({"serial": "105112", "model": "wren-30"}).units[0]
            spans.append((unit.likely_from, unit.likely_to))
    assert spans[1][0] < spans[0][0] <= spans[0][1] < spans[1][1]
