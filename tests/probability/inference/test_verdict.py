"""Sets of possibilities and the verdict rule; docs/model.md, section 9."""

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.probability.inference.events import EventSpace
from kb.probability.inference.verdict import Truth, VerdictContext, VerdictThresholds, states, verdict


@pytest.mark.parametrize(
    ("yes", "no", "standing", "expected"),
    [
        (0.95, 0.05, VerdictContext(), "fits"),
        (0.949, 0.05, VerdictContext(), "check first"),
        (0.05, 0.95, VerdictContext(), "does not fit"),
        (0.05, 0.949, VerdictContext(), "check first"),
        (0.25, 0.25, VerdictContext(), "not recorded"),
        (0.98, 0.01, VerdictContext(safety_critical=True), "check first"),
        (0.995, 0.0, VerdictContext(safety_critical=True), "fits"),
        (0.995, 0.0, VerdictContext(safety_critical=True, component_seen=False), "check first"),
        (0.01, 0.98, VerdictContext(safety_critical=True), "check first"),
        (0.99, 0.0, VerdictContext(to_be_measured=True), "check first"),
        (0.99, 0.0, VerdictContext(safety_critical=True), "fits"),
        (0.989, 0.0, VerdictContext(safety_critical=True), "check first"),
        (0.0, 0.99, VerdictContext(safety_critical=True), "does not fit"),
        (0.0, 0.989, VerdictContext(safety_critical=True), "check first"),
        (0.99, 0.0, VerdictContext(sound=0.4), "check first"),  # the rest of the yes rests on grade D alone
        (0.99, 0.0, VerdictContext(sound=0.95), "fits"),
        (0.99, 0.0, VerdictContext(one_quantity=0.95), "fits"),
        (0.99, 0.0, VerdictContext(one_quantity=0.949), "check first"),
        (0.25, 0.26, VerdictContext(), "check first"),
    ],
)
def test_verdict(yes: float, no: float, standing: VerdictContext, expected: str) -> None:
    assert verdict(yes, no, standing, VerdictThresholds.of(Assumptions())) == expected


@pytest.mark.parametrize(("yes", "no", "expected"), [
    (0.125, 0.125, "not recorded"),  # of the half that is this maker's, exactly half is silence
    (0.125, 0.1875, "check first"),
    (0.0, 0.0, "not recorded"),
    (0.375, 0.125, "check first"),  # no silence at all
])  # fmt: skip
def test_units_of_other_makers_are_no_silence(yes: float, no: float, expected: str) -> None:
    assert verdict(yes, no, VerdictContext(), VerdictThresholds.of(Assumptions(), elsewhere=0.5)) == expected


def test_an_exception_beats_the_rule_it_is_one_of() -> None:
    everywhere, here = 0b1111, 0b0010
    state = states(everywhere, [Truth(everywhere, everywhere)], [Truth(here, everywhere)], 0)
    assert (state.yes, state.no) == (0b1101, 0b0010)


def test_silence_unless_something_says_no() -> None:
    state = states(0b1111, [Truth(0b0001, 0b0011)], [], others=0b0010)
    assert (state.yes, state.no) == (0b0001, 0b1110)  # another part's rule, and beyond all limits; nothing is silent
    state = states(0b1111, [Truth(0b0001, 0b1111)], [], others=0b0010)
    assert (state.yes, state.no) == (0b0001, 0b0010)  # two possibilities of which nobody says anything


def test_ground_masses_equal_sums_over_the_table() -> None:
    table = np.random.default_rng(3).random((4, 3, 5))
    ground = EventSpace(table)
    some = ground.along(1, np.array([True, False, True])) & ground.along(0, np.array([True, True, False, False]))
    assert ground.mass(some) == pytest.approx(table[:2, [0, 2]].sum())
    parts = np.random.default_rng(4).random(5) > 0.5
    assert ground.mass(ground.along(2, parts)) == pytest.approx(table[..., parts].sum())
    assert ground.mass(ground.everything) == pytest.approx(table.sum())
    assert ground.members(some).reshape(table.shape).sum() == 2 * 2 * 5
