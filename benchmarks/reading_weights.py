"""One reading against 10,000 stretches of a series of 10^9 numbers.

Baseline: weighing every number of those stretches. A thousandth of them is weighed, all at once and by the same program that weighs casting marks
(which shares the work of common beginnings, so it is a fast baseline); the time is counted a thousand times. Beside it, what 10,000
stretches cost against 100, and what 100,000 marks cost against weighing each text by itself.
"""

import random

import numpy as np

from benchmarks.measure import Row, median_time, row
from kb.assumptions import Assumptions
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.digits import PrintedForm, stretch_weights
from kb.probability.channel.marks import MarkIndex
from kb.probability.channel.reading import Reading

SERIES = 10**9
STRETCHES = 10_000
SAMPLE = 10**6
FEW = 100
MARKS, ALONE = 100_000, 500


def run() -> list[Row]:
    """All stretches against all their numbers; many against a few, of fixed and of variable length; many marks."""
    assumptions = Assumptions()
    return [_against_numbers(assumptions), *(_against_few(width, assumptions) for width in (9, None)), _marks(assumptions)]


def _against_numbers(assumptions: Assumptions) -> Row:
    compiled = compile_readings([Reading.parse("2?5[38]61*9")], ["worn"], assumptions)
    form = PrintedForm(width=9)
    starts = np.linspace(0, SERIES, STRETCHES + 1).astype(np.int64)
    first, last = starts[:-1], starts[1:] - 1
    fast = median_time(lambda: stretch_weights(compiled, form, first, last, assumptions), 7)

    begin = 285_300_000  # numbers that agree with the reading are among them
    index = MarkIndex.of([f"{number:09}" for number in range(begin, begin + SAMPLE)])
    slow = median_time(lambda: index.weights(compiled), 3) * (SERIES / SAMPLE)

    everything = index.weights(compiled).sum()
    by_digits = stretch_weights(compiled, form, np.array([begin]), np.array([begin + SAMPLE - 1]), assumptions)[0]
    if not np.isclose(everything, by_digits, rtol=1e-9):
        raise AssertionError(f"Both ways must agree: {everything} by walking, {by_digits} by digits.")
    what = "one reading on 10,000 stretches of a series of 10^9 numbers"
    return row(what, fast, "weighing each number", slow, goal="under 1/1000", reached=fast < slow / 1000)


def _against_few(width: int | None, assumptions: Assumptions) -> Row:
    """The dearest of three readings."""
    form = PrintedForm("H", "", width)
    times = []
    for text in ("H123456789", "H2?5[38]6124?", "H25*"):
        compiled = compile_readings([Reading.parse(text)], [None], assumptions)
        cost = []
        for count in (STRETCHES, FEW):
            ends = np.linspace(10**8 if width else 1, SERIES - 1, count + 1).astype(np.int64)
            cost.append(median_time(lambda: stretch_weights(compiled, form, ends[:-1], ends[1:] - 1, assumptions), 25))  # noqa: B023
        times.append(cost)
    many, few = max(times, key=lambda cost: cost[0] / cost[1])
    what = f"one reading on 10,000 stretches of numbers of {'nine digits' if width else 'variable length'}"
    return row(what, many, f"the same on {FEW} stretches", few, goal="under 12 times the baseline", reached=many < 12 * few)


def _marks(assumptions: Assumptions) -> Row:
    chance = random.Random(5)
    texts = ["".join(chance.choices("0123456789HBKM", k=10)) for _ in range(MARKS)]
    index, compiled = MarkIndex.of(texts), compile_readings([Reading.parse("*1[38]4*")], ["worn"], assumptions)
    together = median_time(lambda: index.weights(compiled), 5)
    alone = median_time(lambda: [compiled.weight(text) for text in texts[:ALONE]], 3) * MARKS / ALONE
    return row(f"weigh all of {MARKS:,} marks", together, "weighing each one separately", alone, goal="under 1/50", reached=together < alone / 50)
