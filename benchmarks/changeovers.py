"""Estimating 1,000 change-overs from 100,000 sightings: serials, claims, every posterior, bracket, odd sighting and next serial.

Baseline: reading the dataset that holds those sightings (107,000 rows, of which 100,000 are sightings) from its folder.
"""

import tempfile
from collections.abc import Mapping
from pathlib import Path

from benchmarks.generator import generate
from benchmarks.measure import Row, clock, row
from kb.assumptions import Assumptions
from kb.probability.production.estimate import change_overs
from loaders.folder import load

LIMIT = 3.0
TIMES = 3


def run() -> list[Row]:
    """One row: estimates against reading; the fastest of three each, because a busy machine only ever makes them slower."""
    with tempfile.TemporaryDirectory(prefix="kb-benchmarks-") as name:
        room = Path(name) / "dataset"
        generate(room, seed=5, change_overs=1000, marks=0, sightings=100_000, parts=0, fitments=0, supersessions=0)
        reading, estimating = [], []
        for _ in range(TIMES):
            begin = clock()
            loaded = load([room])
            reading.append(clock() - begin)
            begin = clock()
            found = change_overs(loaded.dataset, Assumptions(), _no_marks)
            estimating.append(clock() - begin)
    if len(found.changeovers) != 1000:
        raise AssertionError(f"{len(found.changeovers)} of 1000 change-overs were estimated.")
    fast, slow = min(estimating), min(reading)
    what = "estimate 1,000 change-overs from 100,000 sightings"
    return [row(what, fast, "reading the folder that holds the sightings", slow, goal="at most 3", reached=fast <= LIMIT * slow)]


def _no_marks(component_id: str, reading: str) -> Mapping[str, float]:
    raise AssertionError(f"No mark was read, but asked for {reading} of {component_id}.")
