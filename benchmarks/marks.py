"""The best marks for a worn reading among 10,000, 100,000 and 1,000,000: the ten best, certified, and the best with the sum over all marks.

Baseline: RapidFuzz, ten best by Levenshtein distance, of the same readings as they are typed, in the same run.
"""

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import numpy as np
from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

from benchmarks.mark_catalogue import any_other, catalogue, read_worn
from benchmarks.measure import Row, clock, row
from kb.assumptions import Assumptions
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.marks import MarkIndex
from kb.probability.channel.reading import Reading

SIZES = {10_000: 300, 100_000: 300, 1_000_000: 200}
BASELINE_READINGS = 25
# Times of the baseline that are to be reached: at the median and at p95, for the ten best and with the sum over all marks; and their goal in words.
GOALS = {10_000: (1 / 3, 0.0, 1 / 3, 0.0), 100_000: (0.0, 0.0, 0.0, 0.0), 1_000_000: (50.0, 5.0, 20.0, 2.0)}


def run() -> list[Row]:
    """Median and 95th percentile for each size, and the time that the index takes to make."""
    rows = []
    for size, count in SIZES.items():
        rng = np.random.default_rng(size)
        texts, _ = catalogue(size, rng)
        begin = clock()
        index = MarkIndex.of(texts)
        data = index.to_bytes()
        made = clock() - begin
        readings = [read_worn(texts[i], rng, any_other(rng)) for i in rng.integers(0, size, count)]
        compiled = [compile_readings([Reading.parse(reading)], ["worn"], Assumptions()) for reading in readings]
        ten = _times(partial(index.best, most=10, near=1.0, estimated=1.0), compiled)
        all_ = _times(index.best, compiled)
        extract = partial(process.extract, choices=texts, scorer=Levenshtein.distance, limit=10)
        theirs = _times(extract, readings[:BASELINE_READINGS])
        goals = GOALS[size]
        for what, mine, wanted in (("the ten best", ten, goals[:2]), ("the best, and the sum over all", all_, goals[2:])):
            for name, at, times in (("median", 50, wanted[0]), ("p95", 95, wanted[1])):
                fast, slow = float(np.percentile(mine, at)), float(np.percentile(theirs, at))
                goal = "" if not times else f"1/{times:g} of it" if times > 1 else f"under {1 / times:g} times it"
                label = f"{what} of {size:,} marks, {name}"
                rows.append(row(label, fast, "RapidFuzz extract, Levenshtein", slow, goal=goal, reached=not times or fast <= slow / times))
        if size == 1_000_000:
            limit = f"under 3 s and 64 MB (it is {len(data) / 2**20:.0f} MB)"
            sorting = _times(sorted, [texts[::-1]])[0]
            reached = made < 3 and len(data) < 64 * 2**20
            what = "making the index of a million marks, stored form included"
            rows.append(row(what, made, "sorting the texts", sorting, goal=limit, reached=reached))
    return rows


def _times(call: Callable[[Any], object], each: Sequence[Any]) -> list[float]:
    taken = []
    for one in each:
        begin = clock()
        call(one)
        taken.append(clock() - begin)
    return taken
