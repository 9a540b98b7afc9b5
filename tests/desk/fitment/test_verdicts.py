"""Verdicts by hand: a table of a few possibilities with stated probabilities, and rules of which it is stated where they hold."""

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.desk.fitment.rulesets import RuleSet, RuleSummary
from kb.desk.fitment.verdicts import FitmentVerdict, PlaceVerdicts, VerdictCache
from kb.probability.inference.events import EventSpace
from kb.probability.inference.verdict import Truth
from kb.words.applicability import Applicability

SPOT = ("head", "left")


@dataclass(frozen=True)
class Said:
    """A rule: the possibilities in which it holds, and those within its limits; both as 0b..., the first possibility last."""

    holds: int
    within: int = 0b1111
    fits: bool = True
    firm: bool = True
    quantity: float = 1.0
    measure_first: str = ""


class Table(EventSpace):
    """A joint table of which it is known where everything holds."""

    def __init__(self, masses: list[float], truths: dict[Applicability, Truth]) -> None:
        super().__init__(np.array(masses))
        self.truths, self.asked = truths, list[Applicability]()

    def truth(self, applies: Applicability, spot: tuple[str, str]) -> Truth:
        self.asked.append(applies)
        return self.truths[applies]


def place(
    masses: list[float], truths: dict[Applicability, Truth], critical: bool = False, seen: bool = True, measured: bool = False, elsewhere: float = 0.0
) -> PlaceVerdicts:
    context = SimpleNamespace(
        book=SimpleNamespace(components={"head": SimpleNamespace(safety_critical=critical)}), seen={SPOT} if seen else set(),
        measured=lambda applies, measure_first, spot: measured,
    )  # fmt: skip
    return VerdictCache(cast(Any, context), Assumptions(), elsewhere).at(SPOT, cast(Any, Table(masses, truths)))


def judged(masses: list[float], said: list[Said], others: list[Said] = [], critical_part: bool = False, **beside: Any) -> FitmentVerdict:  # noqa: B006
    names = {each: Applicability.of(f"rule {n}") for n, each in enumerate([*said, *others])}
    truths = {name: Truth(each.holds, each.within) for each, name in names.items()}
    summaries = tuple(RuleSummary(names[each], each.fits, each.firm, each.quantity, each.measure_first) for each in said)
    rule_set = RuleSet(summaries, tuple(names[each] for each in others), critical_part)
    return place(masses, truths, **beside).judge(rule_set)


@pytest.mark.parametrize(("masses", "said", "others", "beside", "expected"), [
    ([0.95, 0.05], [Said(0b01)], [], {}, "fits"),  # the threshold itself is enough
    ([0.949, 0.051], [Said(0b01)], [], {}, "check first"),
    ([0.05, 0.95], [Said(0b01, within=0b01)], [], {}, "does not fit"),  # beyond the limits of every rule
    ([0.051, 0.949], [Said(0b01, within=0b01)], [], {}, "check first"),
    ([0.99, 0.01], [Said(0b01)], [], {"critical": True}, "fits"),
    ([0.989, 0.011], [Said(0b01)], [], {"critical": True}, "check first"),
    ([0.99, 0.01], [Said(0b01)], [], {"critical_part": True}, "fits"),
    ([0.989, 0.011], [Said(0b01)], [], {"critical_part": True}, "check first"),
    ([0.01, 0.99], [Said(0b01, within=0b01)], [], {"critical": True}, "does not fit"),
    ([0.011, 0.989], [Said(0b01, within=0b01)], [], {"critical": True}, "check first"),
    ([0.99, 0.01], [Said(0b01)], [], {"critical": True, "seen": False}, "check first"),  # nothing of that casting was seen
    ([0.95, 0.05], [Said(0b01)], [], {"seen": False}, "fits"),
    ([0.25, 0.25, 0.5], [Said(0b001)], [Said(0b010)], {}, "not recorded"),  # half of it silence
    ([0.25, 0.26, 0.49], [Said(0b001)], [Said(0b010)], {}, "check first"),
    ([0.125, 0.125, 0.25], [Said(0b001)], [Said(0b010)], {"elsewhere": 0.5}, "not recorded"),  # half of what is this maker's
    ([0.125, 0.1875, 0.1875], [Said(0b001)], [Said(0b010)], {"elsewhere": 0.5}, "check first"),
    ([0.95, 0.05], [Said(0b01, firm=False)], [], {}, "check first"),  # grade D alone, or a condition in words
    ([0.95, 0.05], [Said(0b01, firm=False), Said(0b01, quantity=1.0)], [], {}, "fits"),  # another source says the same
    ([0.95, 0.04, 0.01], [Said(0b001), Said(0b011, firm=False)], [], {}, "fits"),  # by the firm ones exactly the threshold
    ([0.949, 0.041, 0.01], [Said(0b001), Said(0b011, firm=False)], [], {}, "check first"),
    ([0.95, 0.03, 0.02], [Said(0b001, quantity=2.0), Said(0b010, quantity=4.0)], [], {}, "fits"),  # the likelier quantity reaches the threshold
    ([0.949, 0.031, 0.02], [Said(0b001, quantity=2.0), Said(0b010, quantity=4.0)], [], {}, "check first"),
    ([0.96, 0.04], [Said(0b01, measure_first="bore")], [], {}, "check first"),
    ([0.96, 0.04], [Said(0b01, measure_first="bore")], [], {"measured": True}, "fits"),
    ([0.96, 0.04], [Said(0b01), Said(0b00, measure_first="bore")], [], {}, "fits"),  # asked for by a rule that holds nowhere
])  # fmt: skip
def test_verdicts_at_their_thresholds(masses: list[float], said: list[Said], others: list[Said], beside: dict[str, Any], expected: str) -> None:
    assert judged(masses, said, others, **beside).verdict == expected


def test_yes_and_no_and_what_the_yes_rests_on() -> None:
    found = judged([0.4, 0.3, 0.2, 0.1], [Said(0b0001), Said(0b0111), Said(0b0100, fits=False)], [Said(0b1001)])
    assert (found.yes, found.no) == pytest.approx((0.7, 0.3))  # 0.4 + 0.3; the exception takes 0.2, another part has the last
    assert found.holding == (1, 0)  # the weightiest first
    assert found.many == ()
    assert found.answers == [("it fits", 0b0011), ("it does not fit", 0b1100)]


def test_rules_that_weigh_the_same_are_told_in_their_order() -> None:
    assert judged([0.5, 0.5], [Said(0b01, quantity=1), Said(0b01, quantity=2), Said(0b00), Said(0b10)]).holding == (0, 1, 3)


def test_how_many_are_needed_where_that_differs() -> None:
    """The weightiest rule says it first; of what is left the next."""
    found = judged([0.5, 0.2, 0.3], [Said(0b011, quantity=2.0), Said(0b110, quantity=4.0), Said(0b101, quantity=6.0)])
    assert found.holding == (2, 0, 1)
    assert found.many == (6.0, 2.0)  # 0.8 need six, of the rest 0.2 need two, and nothing is left for four
    assert found.answers == [("it fits, 6 needed", 0b101), ("it fits, 2 needed", 0b010), ("it does not fit", 0)]


def test_what_rule_sets_have_in_common_is_looked_into_once() -> None:
    mine, other = Applicability.of("mine"), Applicability.of("other")
    here = place([0.5, 0.5], {mine: Truth(0b01, 0b11), other: Truth(0b10, 0b11)})
    first, second = (RuleSet((RuleSummary(mine, True, True, quantity, ""),), (other,), False) for quantity in (1.0, 2.0))
    assert here.judge(first) is here.judge(first)
    assert (here.judge(second).yes, here.judge(second).no) == (0.5, 0.5)
    assert cast(Table, here.table).asked == [mine, other]
