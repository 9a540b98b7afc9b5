"""A measure of a step, on the demo data."""

from pathlib import Path

import pytest

from kb import KnowledgeBase
from kb.words.errors import QuestionError


@pytest.fixture(scope="module")
def demo(demo_db: Path) -> KnowledgeBase:
    return KnowledgeBase.open(demo_db)


@pytest.mark.parametrize(("value", "within", "off"), [
    ("0.10", True, 0), ("0.25", True, 0), ("0.25mm", True, 0), ("0.09", False, -0.01), ("0.26", False, 0.01), ("0.008in", True, 0),
    ("0,8", False, 0.55),
])  # fmt: skip
def test_within_and_by_how_much(demo: KnowledgeBase, value: str, within: bool, off: float) -> None:
    found = demo.measure("arbor-10", value)
    assert (found.within, found.off_by) == (within, pytest.approx(off))
    assert found.again.startswith("Measure again")
    assert ("Within" in found.says) is within


def test_the_pack_reaches_the_clearance_with_the_fewest_pieces(demo: KnowledgeBase) -> None:
    found = demo.measure("arbor-10", "0.8")
    assert [pack.pieces for pack in found.packs] == [{"6131-10": 1, "6131-50": 1}, {"6131-10": 2, "6131-50": 1}]
    assert [pack.result for pack in found.packs] == pytest.approx([0.2, 0.1])
    assert all(found.low <= pack.result <= found.high for pack in found.packs)


@pytest.mark.parametrize(("value", "at_hand", "said"), [
    ("3", None, "no combination of what is at hand"),
    ("0.8", {"6131-25": 9}, "no combination"),
    ("0.05", None, "take some out"),
    ("0.8", {"6131-10": 0}, "no combination"),
])  # fmt: skip
def test_where_no_pack_helps_it_says_so(demo: KnowledgeBase, value: str, at_hand: dict[str, int] | None, said: str) -> None:
    found = demo.measure("arbor-10", value, at_hand)
    assert not found.packs and said in found.says


@pytest.mark.parametrize(("step", "value", "at_hand", "message"), [
    ("arbor-99", "1", None, 'no step "arbor-99"'),
    ("arbor-1", "1", None, "Nothing is measured"),
    ("arbor-10", "wide", None, "no measure of end play"),
    ("arbor-10", "1", {"6104": 2}, "thickness of .6104. is not recorded"),
])  # fmt: skip
def test_what_cannot_be_answered(demo: KnowledgeBase, step: str, value: str, at_hand: dict[str, int] | None, message: str) -> None:
    with pytest.raises(QuestionError, match=message):
        demo.measure(step, value, at_hand)


@pytest.mark.parametrize(("step", "serial", "said"), [
    ("pump-6", "C1400", "The step is for this unit"),
    ("pump-6", "C1600", "The step is not for this unit"),
    ("pump-6", "105112", "another maker"),
    ("arbor-4", "105112", "is open"),  # safety-critical, and nobody has looked
    ("pump-5", "C1600", "Left: the step is for this unit"),
])  # fmt: skip
def test_with_a_unit_it_says_whether_the_step_is_for_it(demo: KnowledgeBase, step: str, serial: str, said: str) -> None:
    assert said in demo.measure(step, "8", found={"serial": serial}).applies
    assert demo.measure(step, "8").applies == ""
