"""`kb review --readings`: what was learned from how many readings, which taught nothing and why, and that nothing is learned from nothing."""

from pathlib import Path

import numpy as np
import pytest

from kb.api import KnowledgeBase
from kb.assumptions import Assumptions
from kb.store.build import build
from kb.words.answers.review import ReadingsReview
from tests.desk.review.test_changeovers import ROWS
from tests.probability.channel.test_search import dense, worn
from tests.probability.production.rows import Given, dataset


def reviewed(path: Path, readings: list[Given], assumptions: Assumptions | None = None, marks: list[Given] | None = None) -> ReadingsReview:
    build(dataset(**{**ROWS, "readings": readings, "marks": marks or ROWS["marks"]}), path, assumptions=assumptions)
    with KnowledgeBase.open(path) as book:
        return book.review_readings()


def read(reading: str, truth: str, wear: str = "worn") -> Given:
    return {"reading_id": f"{reading}-{truth}".lower().replace("?", "x").replace("*", "y"), "reading": reading, "truth": truth, "wear": wear}


def test_with_nothing_recorded_nothing_was_learned_and_it_says_what_to_record(tmp_path: Path) -> None:
    found = reviewed(tmp_path / "kb.db", [])
    assert (found.readings, found.used, found.fitted, found.exponent) == (0, 0, 0, found.exponent_usual)
    assert found.misreadings == found.left_out == found.diagram == [] and found.calibration_error is None
    assert all(level.rate == pytest.approx(level.rate_usual) and level.readings == 0 for level in found.levels)
    assert "nothing was learned" in found.advice[0] and "kb add reading" in found.advice[1]


def test_each_reading_is_used_as_far_as_it_can_be_and_the_rest_is_explained(tmp_path: Path) -> None:
    found = reviewed(
        tmp_path / "kb.db",
        [read("H4I0", "H410"), read("H52?", "H527", "badly-worn"), read("H410", "H410", "clean"), read("1?4", "184"), read("H4", "H41000", "clean")],
    )
    assert (found.readings, found.used, found.fitted) == (5, 4, 2)
    assert [(each.reading, each.used_for) for each in found.left_out] == [("H410", "the table"), ("1?4", "the table"), ("H4", "nothing")]
    whys = [each.why for each in found.left_out]
    assert "clean" in whys[0] and "184 is no mark recorded" in whys[1] and "H4 cannot be read off H41000" in whys[2]
    assert [(level.wear, level.readings) for level in found.levels] == [("clean", 1), ("worn", 2), ("badly-worn", 1)]
    by_wear = {level.wear: level for level in found.levels}
    assert by_wear["worn"].characters == pytest.approx(6, abs=0.01) and by_wear["worn"].misread == pytest.approx(1, abs=0.01)
    assert [(each.true, each.read_as, each.wear) for each in found.misreadings] == [("1", "I", "worn")]
    # Dirichlet: 50 characters of the shipped row, and of this row one was seen as 1 and one as I.
    row = found.misreadings[0]
    assert row.learned == pytest.approx((50 * row.usual + row.count) / (50 + 2), abs=0.002)
    assert sum(each.count for each in found.diagram) == found.fitted
    assert "Only 2 worn readings" in found.advice[0]


def test_the_exponent_before_and_after_stand_side_by_side(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    texts = dense(300, np.random.default_rng(6))
    marks = [{"variant_ids": "a", "text": text} for text in texts]
    rows = [{**read(worn(texts[int(i)], rng), texts[int(i)]), "reading_id": f"r-{n}"} for n, i in enumerate(rng.integers(0, len(texts), 520))]
    found = reviewed(tmp_path / "kb.db", rows, Assumptions().override(sharpness=1.1), marks)
    assert found.exponent_usual == 1.1 and found.exponent < 1.1  # this reader is not the table's
    assert found.fitted == 500 < found.used and f"{found.used - len(found.left_out) + (520 - found.used)} could be used" in found.advice[0]
    assert found.calibration_error == pytest.approx(
        sum(each.count * abs(each.stated - each.right) for each in found.diagram) / sum(each.count for each in found.diagram), abs=1e-5
    )
