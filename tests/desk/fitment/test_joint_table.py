"""Where rules apply: probabilities worked out in the head (tests/desk/fitment/quill.py), and by the enumerator for two numbers at once."""

from typing import Any

import numpy as np
import pytest

from kb import KnowledgeBase
from kb.desk.fitment.context import Mode, UnitContext
from kb.desk.fitment.joint_table import JointTables
from kb.words.applicability import Applicability, Condition, Limit
from tests import enumerator
from tests.desk.fitment.quill import ASSUMPTIONS, BOX, ENGINE, KNOWN, LEFT, RIGHT, examined, fitment, opened, part, quill

EARLY_FRAME, EARLY_ENGINE, LATE_BOX = Limit("q-no", None, "4"), Limit("q-e", None, "E4"), Limit("q-g", "G2", None)  # .4, .4 and .75 of them
PLAIN, RIBBED = Condition("q-head", None, "plain"), Condition("q-head", None, "ribbed")
RECORDED = 0.995  # of a place: else the casting there is one that nobody recorded
SUPERSEDED = {"old_part": "OLD", "new_part": "NEW", "direction": "one-way", "source_id": "book"}


CUTS = [  # cells are cut where rows say so
    {"series_id": "q-no", "serial_from": "5", "serial_to": "8"}, {"series_id": "q-no", "serial_from": "4"}, {"series_id": "q-e", "serial_from": "E3"},
]  # fmt: skip
TABLES = quill(
    parts=[part("EITHER"), part("OLD"), part("NEW"), part("SPARE"), part("CUT")],
    fitments=[
        fitment("EITHER", series_id="q-e", serial_to="E4"), fitment("EITHER", series_id="q-g", serial_from="G2"),
        fitment("OLD", BOX, series_id="q-e", serial_to="E4"), fitment("SPARE", BOX),
        *(fitment("CUT", **limits) for limits in CUTS),
    ],
    supersessions=[{**SUPERSEDED, "supersession_id": "s", "series_id": "q-g", "serial_from": "G2"}],
    features=[
        {"feature_id": "lug", "component_id": "q-head", "question": "Is there a lug?", "effort": 1},
        {"feature_id": "bore", "component_id": "q-head", "question": "How wide is the bore?", "kind": "measure", "effort": 5},
        {"feature_id": "depth", "component_id": "q-head", "question": "How deep is it?", "kind": "measure", "effort": 5},
    ],
    feature_values=[
        {"variant_id": "plain", "feature_id": "lug", "value": "yes"}, {"variant_id": "ribbed", "feature_id": "lug", "value": "no"},
        {"variant_id": "plain", "feature_id": "bore", "low": 34, "high": 35}, {"variant_id": "ribbed", "feature_id": "bore", "low": 36, "high": 37},
        {"variant_id": "plain", "feature_id": "depth", "low": 5},
    ],
)  # fmt: skip


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> KnowledgeBase:
    return opened(TABLES, tmp_path_factory.mktemp("quill"))


def tables(book: KnowledgeBase, mode: Mode = "as-built") -> JointTables:
    return JointTables(UnitContext(examined(book), mode, "quill"), book._parts)


@pytest.mark.parametrize(("applies", "spot", "share"), [
    (Applicability.of(), ENGINE, 1.0),
    (Applicability.of(limits=(EARLY_FRAME,)), ENGINE, 0.4),
    (Applicability.of(limits=(Limit(None, "5", "8"),)), ENGINE, 0.4),  # without a series: the frame's
    (Applicability.of(limits=(EARLY_FRAME, Limit("q-no", "4", None))), ENGINE, 0.1),  # all limits: frame 4 alone
    (Applicability.of(limits=(Limit("q-no", "8", "5"),)), ENGINE, 0.0),  # ends before it begins
    (Applicability.of(limits=(Limit("q-no", "11", None),)), ENGINE, 0.0),  # no such frame
    (Applicability.of(models=("qb",)), ENGINE, 0.4),
    (Applicability.of(models=("qa", "qb")), ENGINE, 0.0),  # no unit is of two models
    (Applicability.of(limits=(EARLY_FRAME,), models=("qb",)), ENGINE, 0.0),
    (Applicability.of("left"), LEFT, 1.0),
    (Applicability.of("left"), RIGHT, 0.0),
    (Applicability.of(conditions=(PLAIN,)), LEFT, 0.4),
    (Applicability.of(conditions=(PLAIN, RIBBED)), LEFT, 0.0),
    (Applicability.of(limits=(EARLY_FRAME,), conditions=(PLAIN,)), LEFT, 0.4),  # the very same frames
    (Applicability.of(conditions=(Condition("q-head", "right", "ribbed"),)), LEFT, 0.6),  # left the works alike on both sides
    (Applicability.of(limits=(EARLY_ENGINE,)), ENGINE, 0.4),
    (Applicability.of(limits=(EARLY_ENGINE, Limit("q-e", "E3", None))), ENGINE, 0.2),  # E3 and E4
    (Applicability.of(limits=(LATE_BOX,)), ENGINE, 0.75),
    (Applicability.of(limits=(EARLY_ENGINE, LATE_BOX)), ENGINE, 0.4 * 0.75),  # the numbers of two assemblies
    (Applicability.of(limits=(EARLY_ENGINE, LATE_BOX, EARLY_FRAME), conditions=(PLAIN,)), LEFT, 0.4 * 0.75 * 0.4),
])  # fmt: skip
def test_how_probable_it_is_that_something_applies(book: KnowledgeBase, applies: Applicability, spot: tuple[str, str], share: float) -> None:
    assert tables(book).chances(applies, spot) == pytest.approx((KNOWN * share, KNOWN * (1 - share)), abs=1e-12)


@pytest.mark.parametrize(("feature", "wanted", "share"), [
    ("lug", {"value": "yes"}, 0.4),
    ("lug", {"value": "no"}, 0.6),
    ("lug", {"value": "perhaps"}, 0.0),
    ("bore", {"low": 34.0, "high": 35.0}, 0.4),  # both ends belong to it
    ("bore", {"low": 34.5, "high": 35.0}, 0.0),  # a plain head may measure 34
    ("bore", {"low": 34.0, "high": 34.5}, 0.0),
    ("bore", {"low": 36.0}, 0.6),
    ("bore", {"high": 35.0}, 0.4),
    ("bore", {"low": 34.0}, 1.0),
    ("bore", {"high": 37.0}, 1.0),
    ("depth", {"low": 4.0}, 0.4),  # of ribbed heads it is not recorded
    ("depth", {"low": 4.0, "high": 9.0}, 0.0),  # of plain ones not how much it is at most
    ("depth", {"high": 9.0}, 0.0),
])  # fmt: skip
def test_a_feature_that_was_not_looked_at_is_as_it_is_recorded(book: KnowledgeBase, feature: str, wanted: dict[str, Any], share: float) -> None:
    applies = Applicability.of(conditions=(Condition("q-head", None, None, feature, **wanted),))
    assert tables(book).chances(applies, LEFT)[0] == pytest.approx(KNOWN * share, abs=1e-12)


@pytest.mark.parametrize(("saw", "feature", "wanted", "holds"), [
    ("lug=yes", "lug", {"value": "yes"}, True),
    ("lug=yes", "lug", {"value": "no"}, False),
    ("bore=34.2", "bore", {"low": 34.0, "high": 35.0}, True),
    ("bore=34.2", "bore", {"low": 34.3}, False),
    ("bore=34.2", "bore", {"high": 34.1}, False),
])  # fmt: skip
def test_a_feature_that_was_looked_at_is_as_it_was_seen(book: KnowledgeBase, saw: str, feature: str, wanted: dict[str, Any], holds: bool) -> None:
    """Whatever is recorded of the casting that is probably there."""
    seen, value = saw.split("=")
    found = examined(book, features=[{"component": "q-head", "place": "left", "feature": seen, "value": value}])
    here = JointTables(UnitContext(found, "fitted", "quill"), book._parts)
    applies = Applicability.of(conditions=(Condition("q-head", None, None, feature, **wanted),))
    anything = here.of(LEFT, [applies])
    assert anything.mass(anything.truth(applies, LEFT, any_casting=True).holds) == pytest.approx(found.known if holds else 0.0, abs=1e-12)


def test_what_is_fitted_now_may_be_a_casting_that_nobody_recorded(book: KnowledgeBase) -> None:
    now = tables(book, "fitted")
    assert now.chances(Applicability.of(conditions=(PLAIN,)), LEFT)[0] == pytest.approx(KNOWN * RECORDED * 0.4, abs=1e-12)
    anything = now.of(LEFT, [Applicability.of()])
    assert anything.mass(anything.truth(Applicability.of(), LEFT).holds) == pytest.approx(KNOWN * RECORDED, abs=1e-12)  # no fitment for such a one
    assert anything.mass(anything.holds(Applicability.of(), LEFT)) == pytest.approx(KNOWN, abs=1e-12)  # but a step is done on it


def test_a_condition_at_a_component_without_that_place_must_hold_everywhere(book: KnowledgeBase) -> None:
    both = Applicability.of(conditions=(PLAIN,))
    # Where the assembly is the unit's own, or another's (.01), both heads left one works together: .4 plain, and each recorded with .995.
    assert tables(book, "fitted").chances(both, ENGINE)[0] == pytest.approx(KNOWN * 0.4 * RECORDED**2, abs=1e-12)


def test_cells_that_nothing_tells_apart_are_one(book: KnowledgeBase) -> None:
    of = tables(book).of
    assert of(ENGINE, [Applicability.of()]).table.shape == (1, 1)
    assert of(ENGINE, [Applicability.of(limits=(EARLY_FRAME,))]).table.shape == (2, 1)
    assert of(ENGINE, [Applicability.of(limits=(EARLY_FRAME,), models=("qb",))]).table.shape == (3, 1)  # 1 to 4, 5 and 6, 7 to 10
    assert of(LEFT, [Applicability.of(limits=(EARLY_ENGINE, LATE_BOX))]).table.shape == (1, 3, 2, 2)  # a head, an engine number, a gearbox number


@pytest.mark.parametrize("assembly", ["engine", "drive"])
def test_by_what_a_number_may_be(book: KnowledgeBase, assembly: str) -> None:
    """Of the table that is split by both numbers, by one of them, and by none."""
    for limits in ((), (EARLY_ENGINE,), (LATE_BOX,), (EARLY_ENGINE, LATE_BOX)):
        applies = Applicability.of(limits=limits)
        asked = tables(book)
        table = asked.of(ENGINE, [applies])
        holds = table.members(table.holds(applies, ENGINE)).reshape(table.table.shape)
        engines, boxes = (asked.context.model.own[each].x for each in ("engine", "drive"))
        expected = KNOWN * engines.share[:, None] * boxes.share
        whole = expected.sum(1 if assembly == "engine" else 0)
        expected = expected * (engines.last <= 4)[:, None] if EARLY_ENGINE in limits else expected
        expected = (expected * (boxes.first >= 2) if LATE_BOX in limits else expected).sum(1 if assembly == "engine" else 0)
        found = table.by_own_number([holds, ~holds], assembly, np.eye(len(whole)))
        assert found == pytest.approx(np.array([expected, whole - expected]), abs=1e-12), limits
        likely = np.linspace(0.1, 0.9, len(whole))  # P(a part | number) need not be 0 or 1
        assert table.by_own_number([holds], assembly, likely[None])[0] == pytest.approx([expected @ likely], abs=1e-12)


@pytest.mark.parametrize(("number", "spot", "yes"), [
    ("EITHER", ENGINE, 1 - 0.6 * 0.25),  # an early engine or a late gearbox
    ("NEW", BOX, 0.4 * 0.75),  # for early engines as the old number, and for late gearboxes only
    ("OLD", BOX, 0.4),
])  # fmt: skip
def test_limits_of_the_numbers_of_two_assemblies_count_together(
    book: KnowledgeBase, number: str, spot: tuple[str, str], yes: float
) -> None:
    (fit,) = book.fits(number, {"maker": "quill"}, for_="as-built")
    assert fit.probability == pytest.approx(KNOWN * yes, abs=1e-12)
    (beside,) = [fit for fit in book.parts({"maker": "quill"}, for_="as-built", everything=True) if fit.part_number == number]
    assert beside.probability == pytest.approx(KNOWN * yes, abs=1e-12)


@pytest.mark.parametrize("number", ["EITHER", "OLD", "NEW", "SPARE"])
@pytest.mark.parametrize("serials", [[], [("q-e", "E?", None)], [(None, "?", None), ("q-e", "E[34]", None), ("q-g", "G[12]", None)]])
def test_against_the_enumerator(book: KnowledgeBase, number: str, serials: list[tuple[str | None, str, None]]) -> None:
    question = {"maker": "quill", "serials": serials}
    given = {"maker": "quill", "serial": [{"series": series or "", "reading": reading} for series, reading, _ in serials]}
    expected = enumerator.fits(TABLES, question, number, ASSUMPTIONS)
    found = {(fit.component, fit.place, fit.role): (fit.probability, fit.against) for fit in book.fits(number, given)}
    assert found.keys() == expected.keys()
    for key, masses in expected.items():
        assert found[key] == pytest.approx((masses["yes"], masses["no"]), abs=1e-9)

