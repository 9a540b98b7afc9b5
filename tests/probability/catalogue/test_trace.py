"""From the number asked for to what can be bought today: a table of the cases of the trade, and no way to loop."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.probability.catalogue.supersession import Arrow
from kb.probability.catalogue.trace import trace
from tests.probability.catalogue.test_supersession import ARROWS, arrow

CHAIN = [arrow("A", "B"), arrow("B", "C")]
GROUP = [arrow("A", "B", group="g"), arrow("A", "C", group="g", quantity=2)]


@pytest.mark.parametrize(("promise", "arrows", "available", "current"), [
    ("the end of the chain", CHAIN, {"A": "no", "B": "no", "C": "yes"}, [("C", 1)]),
    ("asked and available is current", CHAIN, {"A": "yes", "C": "yes"}, [("A", 1)]),
    ("the first that can be bought", CHAIN, {"A": "no", "B": "yes", "C": "yes"}, [("B", 1)]),
    ("unknown gives way to what surely can be bought", CHAIN, {"A": "unknown", "B": "unknown", "C": "yes"}, [("C", 1)]),
    ("unknown counts as buyable", CHAIN, {"A": "no", "B": "no", "C": "unknown"}, [("C", 1)]),
    ("left out is unknown", CHAIN, {"A": "no", "B": "no"}, [("C", 1)]),
    ("unknown in the middle, nothing beyond it", CHAIN, {"A": "no", "C": "no"}, [("B", 1)]),
    ("unknown and nothing replaces it", [], {}, [("A", 1)]),
    ("a dead end", CHAIN, {"A": "no", "B": "no", "C": "no"}, []),
    ("alternatives", [arrow("A", "B"), arrow("A", "C")], {"A": "no", "B": "yes", "C": "yes"}, [("B", 1), ("C", 1)]),
    ("an alternative that cannot be had falls out", [arrow("A", "B"), arrow("A", "C")], {"A": "no", "B": "no", "C": "yes"}, [("C", 1)]),
    ("a group, all of it", GROUP, {"A": "no", "B": "yes", "C": "yes"}, [("B", 1), ("C", 2)]),
    ("half a group is nothing", GROUP, {"A": "no", "B": "yes", "C": "no"}, []),
    ("quantities multiply", [arrow("A", "B", quantity=2), arrow("B", "C", quantity=3)], {"A": "no", "B": "no", "C": "yes"}, [("C", 6)]),
    ("what a group needs twice adds up", [*GROUP, arrow("B", "D"), arrow("C", "D")], {"A": "no", "B": "no", "C": "no", "D": "yes"}, [("D", 3)]),
    ("interchangeable while it cannot be bought", [arrow("B", "A", both_ways=True)], {"A": "no", "B": "yes"}, [("B", 1)]),
    ("not interchanged while it can be bought", [arrow("B", "A", both_ways=True)], {"A": "yes", "B": "yes"}, [("A", 1)]),
    ("half as many the other way round", [arrow("B", "A", both_ways=True, quantity=2)], {"A": "no", "B": "yes"}, [("B", 0.5)]),
    ("one-way is one way", [arrow("B", "A")], {"A": "no", "B": "yes"}, []),
    ("the latest row holds", [arrow("A", "B", from_date="1950"), arrow("A", "C", from_date="1960")], {"A": "no", "B": "yes", "C": "yes"}, [("C", 1)]),
    ("a circle ends", [arrow("A", "B"), arrow("B", "A")], {"A": "no", "B": "no"}, []),
    ("a circle with a way out", [arrow("A", "B"), arrow("B", "A"), arrow("B", "C")], {"A": "no", "B": "no", "C": "yes"}, [("C", 1)]),
])
def test_current(promise: str, arrows: list[Arrow], available: dict[str, str], current: list[tuple[str, float]]) -> None:
    found = trace(arrows, "A", available)
    assert list(found.current) == current, promise
    assert found.dead_end is (not current)


@pytest.mark.parametrize(("holds", "current", "conditions"), [
    (True, [("B", 1)], [()]),
    (False, [("C", 1)], [()]),
    (None, [("B", 1), ("C", 1)], [("model m",), ()]),  # undecided: offered, with its condition stated
])
def test_conditions_are_judged_for_the_unit(holds: bool | None, current: list[tuple[str, float]], conditions: list[tuple[str, ...]]) -> None:
    arrows = [arrow("A", "B", model_id="m", from_date="1960"), arrow("A", "C", from_date="1950")]
    found = trace(arrows, "A", {"A": "no", "B": "yes", "C": "yes"}, lambda each: holds)
    assert list(found.current) == current
    assert [offer.conditions for offer in found.offers] == conditions


@pytest.mark.parametrize(("arrows", "available", "notes"), [
    (CHAIN, {"A": "yes"}, ["A can still be bought; newer: B."]),
    (CHAIN, {"A": "no", "B": "no", "C": "no"}, ["Nothing that replaces A can be bought today."]),
    ([], {"A": "no"}, ["A cannot be bought and nothing replaces it."]),
    ([], {}, ["Whether A can be bought is not recorded: ask before promising it."]),
    (GROUP, {"A": "no", "B": "yes", "C": "yes"}, ["Needed together: B + 2 x C."]),
    ([arrow("A", "B"), arrow("A", "C", quantity=2)], {"A": "no", "B": "yes", "C": "yes"}, ["Any one of these does: B; or 2 x C."]),
    ([arrow("A", "B", condition="late frames")], {"A": "no", "B": "yes"}, ["B only if this holds: late frames."]),
    ([arrow("A", "B", with_part="R9")], {"A": "no", "B": "yes"}, ["B needs R9 with it."]),
    ([arrow("A", "B", with_part="R9", condition="use washer R9")], {"A": "no", "B": "yes"}, ["B needs R9 with it."]),
    ([arrow("A", "B", model_id="m"), arrow("A", "B", id="n", model_id="n")], {"A": "no", "B": "yes"},
     ["B only if one of these holds: model m; or model n."]),
    ([arrow("A", "B", model_id="m"), arrow("A", "B", id="n")], {"A": "no", "B": "yes"}, []),  # one way asks for nothing
    ([arrow("A", "B", from_date="1931"), arrow("B", "A", from_date="1936")], {"A": "yes"}, []),  # B was replaced by A again: it is not newer
    ([arrow("A", "B"), arrow("B", "A", id="swap", both_ways=True)], {"A": "yes"}, ["A can still be bought; newer: B."]),
])  # fmt: skip
def test_notes(arrows: list[Arrow], available: dict[str, str], notes: list[str]) -> None:
    assert list(trace(arrows, "A", available).notes) == notes


def test_steps_show_the_whole_chain_also_beyond_what_can_be_bought() -> None:
    found = trace([*CHAIN, arrow("A", "Z", both_ways=True, quantity=2)], "A", {"A": "no", "B": "yes", "C": "yes"})
    assert [(step.old, step.new, step.quantity, step.direction) for step in found.steps] == [
        ("A", "B", 1, "one-way"), ("A", "Z", 2, "both-ways"), ("B", "C", 1, "one-way")]  # fmt: skip


def test_interchangeable_numbers_are_no_step_while_the_asked_one_can_be_bought() -> None:
    assert trace([arrow("A", "Z", both_ways=True)], "A", {"A": "yes"}).steps == ()


def test_a_very_long_chain_and_a_very_dense_net_come_to_an_end_and_say_so() -> None:
    names = [f"P{n}" for n in range(3000)]
    chain = [arrow(old, new) for old, new in zip(names, names[1:], strict=False)]
    assert "There are more ways on than are shown here." in trace(chain, "P0", dict.fromkeys(names, "no")).notes
    everyone = [arrow(old, new, group=f"g{new}") for old in names[:14] for new in names[:14] if old != new]
    assert trace(everyone, "P0", dict.fromkeys(names, "no")).dead_end


@given(ARROWS, st.dictionaries(st.sampled_from("ABCDEF"), st.sampled_from(["yes", "no", "unknown"])), st.sampled_from([True, False, None]))
def test_only_what_can_be_bought_is_current(arrows: list[Arrow], available: dict[str, Any], verdict: bool | None) -> None:
    found = trace(arrows, "A", available, lambda each: verdict)
    assert all(available.get(number, "unknown") != "no" and quantity > 0 for number, quantity in found.current)
    assert {number for number, _ in found.current} <= {"A", *(step.new for step in found.steps)}
    assert found.dead_end is (found.current == ())
    if available.get("A") == "yes":
        assert found.current == (("A", 1.0),)
