"""One reading against 10,000 stretches of a series of 10^9 numbers.

Baseline: weighing every number of those stretches. A thousandth of them is weighed, all at once and by the same program that weighs casting marks
(which shares the work of common beginnings, so it is a fast baseline); the time is counted a thousand times.
"""

import numpy as np

from benchmarks.measure import Row, median_time, row
from kb.assumptions import Assumptions
from kb.channel.compiled import compile_readings
from kb.channel.digits import PrintedForm, stretch_weights
from kb.channel.marks import MarkIndex
from kb.channel.reading import Reading

SERIES = 10**9
STRETCHES = 10_000
SAMPLE = 10**6


def run() -> list[Row]:
    """One row: all stretches against all their numbers."""
    assumptions = Assumptions()
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
    return [row(what, fast, "weighing each number", slow, goal="under 1/1000", reached=fast < slow / 1000)]
