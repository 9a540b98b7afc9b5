"""Re-reading the proposed character gains what is promised, on a built file and through the Python interface; in full with `make bench`."""

from pathlib import Path

import pytest

from benchmarks.catalogued import catalogued
from benchmarks.rereading import Gained, as_section, gained


@pytest.mark.parametrize("confirmed", [0, 300])
def test_the_proposed_character_gains_far_more_than_a_random_one_and_what_was_promised(tmp_path: Path, confirmed: int, campaign: bool) -> None:
    path, texts = catalogued(tmp_path / "catalogue", 10_000 if campaign else 3000, confirmed)
    found = gained(path, texts, confirmed, 600 if campaign else 150)
    assert found.proposed - found.before >= 0.12
    assert found.better >= 2.5
    assert found.predicted == pytest.approx(found.realised, rel=0.15)


def test_a_goal_that_is_missed_is_said_so() -> None:
    kept = Gained(10, 0, 0.85, 100, 0.4, 0.6, 0.45, 1.0, 1.1)
    missed = Gained(10, 0, 0.85, 100, 0.4, 0.5, 0.45, 1.0, 1.5)
    assert as_section([kept]).rstrip().endswith("| yes |") and as_section([missed]).rstrip().endswith("| **no** |")
