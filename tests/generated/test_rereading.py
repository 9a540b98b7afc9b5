"""Re-reading the proposed character gains what is promised, on a built file and through the Python interface; in full with `make bench`."""

from pathlib import Path

import pytest

from benchmarks.catalogued import catalogued
from benchmarks.rereading import Gained, Raised, as_section, gained


@pytest.mark.parametrize("confirmed", [0, 300])
def test_the_proposed_character_gains_far_more_than_a_random_one_and_what_was_promised(tmp_path: Path, confirmed: int, campaign: bool) -> None:
    path, texts = catalogued(tmp_path / "catalogue", 10_000 if campaign else 3000, confirmed)
    found = gained(path, texts, confirmed, 600 if campaign else 150)
    assert found.all.proposed - found.all.before >= 0.12
    assert found.all.better >= 2.5
    assert found.doubtful.better > 1
    assert found.predicted == pytest.approx(found.realised, rel=0.15)


def test_a_goal_that_is_missed_is_said_so() -> None:
    raised, less = Raised(100, 0.4, 0.6, 0.45), Raised(100, 0.4, 0.5, 0.45)
    kept, missed, apart = (Gained(10, 0, 0.85, each, less, 1.0, bits) for each, bits in ((raised, 1.1), (less, 1.1), (raised, 1.5)))
    assert ["| yes |" in as_section([each]) for each in (kept, missed, apart)] == [True, False, False]
    assert ["| **no** |" in as_section([each]) for each in (kept, missed, apart)] == [False, True, True]
