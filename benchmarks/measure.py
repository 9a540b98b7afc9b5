"""Measuring: a row of the results, timing a call, timing a process.

All times are processor seconds. On an idle machine they are the time one waits, because nothing here waits for a disk or uses a second
processor; on a busy one they are not distorted by what else is running.
"""

import resource
import statistics
import subprocess
from collections.abc import Callable, Sequence
from time import process_time as clock
from typing import TypedDict

__all__ = ["Row", "as_table", "clock", "median_time", "process_times", "row"]


class Row(TypedDict):
    """One line of the results. Times are processor seconds.

    `goal` is what to reach, in words; `reached` whether it was.
    """

    what: str
    measured: float
    baseline: str
    baseline_time: float
    ratio: float
    goal: str
    reached: bool


def row(what: str, measured: float, baseline: str, baseline_time: float, *, goal: str, reached: bool) -> Row:
    """A row with its ratio worked out."""
    return Row(
        what=what, measured=measured, baseline=baseline, baseline_time=baseline_time, ratio=measured / baseline_time, goal=goal, reached=reached
    )


def median_time(call: Callable[[], object], times: int) -> float:
    """Median seconds of one call over `times` calls, after one call that is not counted (caches, lazy imports)."""
    call()
    taken = []
    for _ in range(times):
        start = clock()
        call()
        taken.append(clock() - start)
    return statistics.median(taken)


def process_times(commands: Sequence[Sequence[str]], times: int) -> list[float]:
    """Median seconds of each command, each as its own process.

    The commands take turns, so that a busy moment of the machine affects all of them alike.

    Raises:
        subprocess.CalledProcessError: a command did not succeed.
    """
    taken: list[list[float]] = [[] for _ in commands]
    for turn in range(times + 1):
        for command, results in zip(commands, taken, strict=True):
            start = _of_children()
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
            if turn:  # the first turn fills the page cache
                results.append(_of_children() - start)
    return [statistics.median(results) for results in taken]


def as_table(rows: Sequence[Row]) -> str:
    """The rows as a Markdown table."""
    lines = ["| what | measured | baseline | baseline measured | ratio | goal | reached |", "|---|---:|---|---:|---:|---|---|"]
    lines += [
        f"| {r['what']} | {_time(r['measured'])} | {r['baseline']} | {_time(r['baseline_time'])} | {r['ratio']:.3g} | {r['goal']} | "
        f"{'yes' if r['reached'] else '**no**'} |"
        for r in rows
    ]
    return "\n".join(lines) + "\n"


def _of_children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _time(seconds: float) -> str:
    return f"{seconds:.2f} s" if seconds >= 1 else f"{seconds * 1000:.3g} ms"
