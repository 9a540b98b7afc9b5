"""Arrows between part numbers: which hold, where they lead, which form circles, and which fitments are inherited.

All rows are common practice of the trade, in the words of the design: the latest dated row holds, groups are needed
together, fitment is never inherited backwards.
"""

from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.probability.catalogue.supersession import Arrow, Network, circles, closure, describe, inheritance, undated
from kb.words.applicability import Applicability


def applies(**columns: str | None) -> Applicability:
    row = SimpleNamespace(**{name: columns.get(name) for name in ("series_id", "serial_from", "serial_to", "model_id", "variant_id")})
    return Applicability.of_row(row, "pump")


def arrow(old: str, new: str, model_id: str | None = None, **more: Any) -> Arrow:
    return Arrow(more.pop("id", f"{old}-{new}"), old, new, applies=applies(model_id=model_id), **more)


@pytest.mark.parametrize(("arrows", "left"), [
    ([arrow("A", "B"), arrow("A", "C")], ["B", "C"]),  # alternatives
    ([arrow("A", "B", from_date="1950"), arrow("A", "C", from_date="1960")], ["C"]),  # the latest row holds
    ([arrow("A", "C", from_date="1960"), arrow("A", "B", from_date="1950")], ["C"]),  # whatever their order
    ([arrow("A", "B", from_date="1950"), arrow("A", "C", from_date="1950-06")], ["B", "C"]),  # 1950 may be after June
    ([arrow("A", "B"), arrow("A", "C", from_date="1960")], ["B", "C"]),  # nothing says when the undated row held
    ([arrow("A", "B", from_date="1950"), arrow("A", "C", from_date="1960", model_id="m")], ["B", "C"]),  # the later one is for some units only
    ([arrow("A", "B", from_date="1950", model_id="m"), arrow("A", "C", from_date="1960", model_id="m")], ["C"]),
    ([arrow("A", "B", from_date="1950", model_id="m"), arrow("A", "C", from_date="1960", model_id="n")], ["B", "C"]),
    ([arrow("A", "B", from_date="1950", group="g"), arrow("A", "C", from_date="1960", group="g")], ["B", "C"]),  # needed together
    ([arrow("A", "B", from_date="1950", both_ways=True), arrow("A", "C", from_date="1960")], ["C", "B"]),  # still interchangeable
])
def test_the_rows_leaving_a_number_that_hold(arrows: list[Arrow], left: list[str]) -> None:
    assert [each.new for each in Network(arrows).leaving("A")] == left


def test_a_later_row_that_holds_for_the_unit_replaces_the_earlier_and_one_that_does_not_hold_replaces_nothing() -> None:
    network = Network([arrow("A", "B", from_date="1950"), arrow("A", "C", from_date="1960", model_id="m")])
    assert [way.arrows[0].new for way in network.ways("A", lambda each: True)] == ["C"]
    assert [way.arrows[0].new for way in network.ways("A", lambda each: False)] == ["B"]


def test_a_group_holds_only_if_all_of_it_holds() -> None:
    network = Network([arrow("A", "B", group="g"), arrow("A", "C", group="g", model_id="m")])
    assert [way.holds for way in network.ways("A", lambda each: True)] == [True]
    assert [way.holds for way in network.ways("A", lambda each: None)] == [None]
    assert network.ways("A", lambda each: False) == []


def test_a_condition_in_words_is_never_decided_by_the_program() -> None:
    network = Network([arrow("A", "B", condition="if the late pump is fitted")])
    assert [way.holds for way in network.ways("A", lambda each: True)] == [None]


@pytest.mark.parametrize(("arrows", "start", "expected"), [
    ([arrow("A", "B"), arrow("B", "C")], "A", ("B", "C")),
    ([arrow("A", "B"), arrow("B", "A")], "A", ("B",)),  # not its own successor
    ([arrow("A", "B", both_ways=True), arrow("B", "C")], "A", ("B", "C")),
    ([arrow("A", "B", both_ways=True), arrow("A", "C")], "B", ("A", "C")),
    ([arrow("A", "B", both_ways=True, group="g"), arrow("A", "C", both_ways=True, group="g")], "A", ("B", "C")),
])
def test_closure(arrows: list[Arrow], start: str, expected: tuple[str, ...]) -> None:
    assert closure(arrows)[start] == expected


def test_one_member_of_a_group_does_not_lead_back() -> None:
    found = closure([arrow("A", "B", both_ways=True, group="g"), arrow("A", "C", both_ways=True, group="g")])
    assert "B" not in found  # only B and C together do for A


@pytest.mark.parametrize(("arrows", "expected"), [
    ([arrow("A", "B"), arrow("B", "C")], []),
    ([arrow("A", "B"), arrow("B", "A")], ["A-B B-A"]),
    ([arrow("A", "B"), arrow("B", "C"), arrow("C", "A"), arrow("C", "B")], ["B-C C-B"]),  # the shortest stands for all three
    ([arrow("A", "B", both_ways=True), arrow("B", "A", both_ways=True)], []),  # interchangeable is no circle
    ([arrow("A", "B"), arrow("B", "A"), arrow("X", "Y"), arrow("Y", "X")], ["A-B B-A", "X-Y Y-X"]),
    ([arrow("A", "B", from_date="1950"), arrow("B", "A", from_date="1955"), arrow("A", "C", from_date="1960")], []),  # left since
    ([arrow("A", "A")], ["A-A"]),
])
def test_circles(arrows: list[Arrow], expected: list[str]) -> None:
    found = circles(arrows)
    assert [" ".join(each.supersession_id for each in circle) for circle in found] == expected


def test_a_circle_of_dated_rows_is_told_from_one_with_an_undated_row() -> None:
    dated = [arrow("A", "B", from_date="1950"), arrow("B", "A", from_date="1960")]
    assert [undated(circle) for circle in circles(dated)] == [False]
    longer = [*dated, arrow("B", "C"), arrow("C", "A")]  # the undated, longer circle is the error and is shown
    assert [undated(circle) for circle in circles(longer)] == [True]


@pytest.mark.parametrize(("arrows", "expected"), [
    ([arrow("A", "B"), arrow("B", "C")], [("B", "B-C"), ("A", "A-B B-C")]),
    ([arrow("C", "D")], []),  # never backwards
    ([arrow("A", "B"), arrow("B", "C", carries_fitment=False)], []),
    ([arrow("A", "B", carries_fitment=False), arrow("B", "C")], [("B", "B-C")]),
    ([arrow("C", "A", both_ways=True)], [("A", "C-A")]),  # interchangeable: C fits where A does
    ([arrow("A", "C", model_id="m"), arrow("A", "C", id="free")], [("A", "A-C"), ("A", "free")]),
    ([arrow("A", "C", id="free"), arrow("A", "C", model_id="m")], [("A", "free")]),  # asks for more than the other: adds nothing
    ([arrow("A", "C", model_id="m"), arrow("A", "C", id="n", model_id="n")], [("A", "A-C"), ("A", "n")]),
    ([arrow("A", "C"), arrow("C", "A")], [("A", "A-C")]),  # a circle ends where it began
    ([arrow("A", "C", from_date="1950"), arrow("A", "D", from_date="1960")], []),  # A has become D, no longer C
])
def test_what_is_inherited_by_C(arrows: list[Arrow], expected: list[tuple[str, str]]) -> None:
    found = inheritance(arrows, "C")
    assert [(old, " ".join(each.supersession_id for each in path)) for old, path in found] == expected
    for old, path in found:
        assert (path[0].old, path[-1].new) == (old, "C")
        assert all(one.new == other.old for one, other in zip(path, path[1:], strict=False))


def test_an_interchange_is_inherited_with_the_quantity_turned_round() -> None:
    [(old, (path,))] = inheritance([arrow("A", "B", both_ways=True, quantity=2)], "A")
    assert (old, path.old, path.new, path.quantity) == ("B", "B", "A", 0.5)


NUMBERS = st.sampled_from("ABCDEF")
ARROWS = st.lists(
    st.builds(
        lambda n, old, new, more: arrow(old, new, id=f"s{n}", **more),
        st.integers(0, 999),
        NUMBERS,
        NUMBERS,
        st.fixed_dictionaries({
            "group": st.sampled_from([None, None, "g"]),
            "both_ways": st.booleans(),
            "carries_fitment": st.booleans(),
            "model_id": st.sampled_from([None, "m"]),
            "from_date": st.sampled_from([None, "1950", "1960"]),
        }),
    ),
    max_size=14,
)


@given(ARROWS)
def test_whatever_is_inherited_lies_upstream(arrows: list[Arrow]) -> None:
    onward = closure(arrows)
    for number in "ABCDEF":
        found = inheritance(arrows, number)
        assert all(number in onward[old] for old, _ in found)
        assert all(each.carries_fitment for _, path in found for each in path)
        upstream = {old for old, reached in closure(each for each in arrows if each.carries_fitment).items() if number in reached}
        assert {old for old, _ in found} <= upstream | set(onward)


@pytest.mark.parametrize(("arrow", "said"), [
    (Arrow("s", "A", "B"), ""),
    (Arrow("s", "A", "B", applies=applies(serial_to="4500")), "up to 4500"),
    (Arrow("s", "A", "B", applies=applies(serial_from="100", serial_to="4500", model_id="m2", variant_id="late")),
     "100 to 4500, model m2, variant late"),
    (Arrow("s", "A", "B", applies=applies(series_id="frame"), condition="frames 4501 and higher"), "frames 4501 and higher"),  # its words come first
    (Arrow("s", "A", "B", with_part="R9"), "together with R9"),
])
def test_conditions_in_words(arrow: Arrow, said: str) -> None:
    assert describe(arrow) == said


@pytest.mark.parametrize(("stored", "carries"), [(1, True), (0, False), (True, True), (False, False), ("yes", True), ("no", False), (None, True)])
def test_an_arrow_of_a_record_or_of_a_stored_row(stored: object, carries: bool) -> None:
    row = dict.fromkeys(("group", "series_id", "serial_from", "serial_to", "model_id", "variant_id", "with_part", "condition", "from_date"))
    row |= {"supersession_id": "s1", "old_part": "A", "new_part": "B", "quantity": 2, "direction": "both-ways", "source_id": "book"}
    found = Arrow.of(SimpleNamespace(**row, carries_fitment=stored), {})
    assert found == Arrow("s1", "A", "B", quantity=2.0, both_ways=True, carries_fitment=carries, source_id="book")
