"""The unit's posterior as a product of factors: figures worked out by hand on a maker with ten frames (tests/desk/fitment/quill.py).

Frames 1 to 4 left the works with plain heads, 5 to 10 with ribbed ones; a plain head has a lug, a ribbed one has none. A lug is seen rightly 98 times
in a hundred, a head is one that nobody recorded 5 times in a thousand, and one top in a hundred came off another unit.
"""

from pathlib import Path

import pytest

from kb import Evidence, KnowledgeBase
from tests.desk.fitment.quill import examined, opened, quill

PLAIN, RIBBED = 0.995 * 0.98 + 0.005 * 0.5, 0.995 * 0.02 + 0.005 * 0.5  # P(a lug is seen | as built): .9776, .0224
DONOR = 0.4 * PLAIN + 0.6 * RIBBED
LUG = [0.99 * built + 0.01 * DONOR for built in (PLAIN, RIBBED)]
LUG_UNKNOWN = 0.5  # either answer, of a unit that nobody recorded


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> KnowledgeBase:
    folder: Path = tmp_path_factory.mktemp("quill")
    return opened(quill(
        features=[{"feature_id": "lug", "component_id": "q-head", "question": "Is there a lug?", "effort": 1}],
        feature_values=[{"variant_id": "plain", "feature_id": "lug", "value": "yes"}, {"variant_id": "ribbed", "feature_id": "lug", "value": "no"}],
    ), folder)  # fmt: skip


def test_without_evidence_it_is_the_prior(book: KnowledgeBase) -> None:
    found = examined(book)
    assert found.posterior.unknown == pytest.approx(0.05)
    assert found.posterior.mass["quill"].sum() == pytest.approx(0.95)


def test_one_look_weighs_by_what_each_frame_left_the_works_with(book: KnowledgeBase) -> None:
    found = examined(book, features={"q-head@left.lug": "yes"})
    early, late, unknown = 0.95 * 0.4 * LUG[0], 0.95 * 0.6 * LUG[1], 0.05 * LUG_UNKNOWN
    total = early + late + unknown
    assert found.posterior.unknown == pytest.approx(unknown / total, abs=1e-12)
    models = {unit.model: unit.probability for unit in book.identify(Evidence(maker="quill", features={"q-head@left.lug": "yes"})).units}
    assert models["qa"] == pytest.approx((early + late / 3) / total, abs=1e-6)  # frames 5 and 6 are two of the six with ribbed heads
    assert models["qb"] == pytest.approx(late * 2 / 3 / total, abs=1e-6)


def test_a_piece_left_out_leaves_the_posterior_of_the_others(book: KnowledgeBase) -> None:
    both = examined(book, serial="3", features={"q-head@left.lug": "no"})
    alone = examined(book, serial="3")
    without = both.weighing.posterior(without=[factor for factor in both.weighing.factors if factor.about == "casting"])
    assert without.unknown == pytest.approx(alone.posterior.unknown, abs=1e-15)
    assert without.mass["quill"].tolist() == pytest.approx(alone.posterior.mass["quill"].tolist(), abs=1e-15)
    assert both.posterior.unknown > alone.posterior.unknown  # frame 3 should have a lug


def test_factors_multiply_in_any_order(book: KnowledgeBase) -> None:
    one = examined(book, serial="[35]", features=["q-head@left.lug=yes", "q-head@right.lug=no"])
    other = examined(book, serial="[35]", features=["q-head@right.lug=no", "q-head@left.lug=yes"])
    assert one.posterior.mass["quill"].tolist() == pytest.approx(other.posterior.mass["quill"].tolist(), abs=1e-15)
