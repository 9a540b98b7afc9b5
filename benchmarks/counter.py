"""The seller's counter: a verdict for one clear unit and part, and 5,000 inquiries at once, over 1,000,000 fitments of 200,000 parts.

Baselines: reading the part's fitments with sqlite3; the same batch by one worker; one `kb fits` process for each inquiry. The batch is a process as
people start it, including its start and the writing of the answers.
"""

import csv
import sqlite3
import sys
import time
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from statistics import median

import numpy as np

from benchmarks import memory
from benchmarks.drawn import DrawnUnit, draw_units
from benchmarks.knowledge import counter
from benchmarks.measure import Row, median_time, process_times, row
from benchmarks.memory import Taken
from benchmarks.truth import Truth
from kb import KnowledgeBase

CLEAR = 150
INQUIRIES = 5000
WORN = 0.3
WORKERS = 2
FEW = 5  # processes of their own
MOST_MEMORY = 1000  # MB, of all processes together
ROWS = "select * from fitments join components using (component_id) where part_number = ?"


def run() -> list[Row]:
    """Three rows: one verdict, two workers, one process for all."""
    path, truth = counter()
    return [_verdict(path, truth), *_batch(path, truth, INQUIRIES)]


def inquiries(path: Path, truth: Truth, count: int, seed: int = 8) -> list[dict[str, str]]:
    """Rows of a list: a part by the unit's maker, and its serial, worn in three cases in ten."""
    rng = np.random.default_rng(seed)
    numbers = _numbers(path)
    rows = []
    units = [unit for unit in draw_units(truth, seed, 2 * count) if unit.serial][:count]
    for unit in units:
        mine = numbers[unit.maker]
        worn = rng.random() < WORN
        rows.append({"part": mine[int(rng.integers(len(mine)))], "maker": unit.maker, "serial": _worn(unit, rng) if worn else unit.serial})
    return rows


@cache
def _numbers(path: Path) -> dict[str, list[str]]:
    """Some part numbers for the castings of each maker."""
    connection = sqlite3.connect(path)
    found: dict[str, list[str]] = {}
    some = "select part_number, maker_id from fitments join components using (component_id) where fitments.rowid % 97 = 1"
    for part, maker in connection.execute(some):
        found.setdefault(maker, []).append(part)
    connection.close()
    return found


def _worn(unit: DrawnUnit, rng: np.random.Generator) -> str:
    """The serial with one or two characters that cannot be read."""
    characters = list(unit.serial)
    for at in rng.choice(len(characters), int(rng.integers(1, 3)), replace=False):
        characters[at] = "?"
    return "".join(characters)


def _verdict(path: Path, truth: Truth) -> Row:
    taken = []
    asked = [each for each in inquiries(path, truth, 3 * CLEAR, seed=9) if "?" not in each["serial"]]
    with KnowledgeBase.open(path) as book:
        for each in asked[:20]:  # loads what stays loaded
            book.fits(each["part"], {"maker": each["maker"], "serial": each["serial"]})
        for each in asked[20:]:
            found = book.identify({"maker": each["maker"], "serial": each["serial"]})
            begin = time.perf_counter()
            fits = book.fits(each["part"], found)
            if all(fit.verdict in ("fits", "does not fit") for fit in fits):
                taken.append(time.perf_counter() - begin)
    connection = sqlite3.connect(path)
    reading = median_time(lambda: [connection.execute(ROWS, (each["part"],)).fetchall() for each in asked[:20]], 20) / 20
    connection.close()
    what = f"`fits` for a clear unit and part, 1,000,000 fitments ({len(taken)} questions)"
    return row(what, median(taken), "reading its fitments with sqlite3", reading, goal="median under 5 ms", reached=median(taken) < 0.005)


def _batch(path: Path, truth: Truth, count: int) -> list[Row]:
    rows = inquiries(path, truth, count)
    room = path.parent
    listed = room / "inquiries.csv"
    with listed.open("w", encoding="utf-8", newline="") as opened:
        writer = csv.DictWriter(opened, ["part", "maker", "serial"])
        writer.writeheader()
        writer.writerows(rows)
    one = _timed(path, listed, room / "one.csv", 1)
    two = _timed(path, listed, room / "two.csv", WORKERS)
    if (room / "one.csv").read_bytes() != (room / "two.csv").read_bytes():
        raise AssertionError("The answers depend on the number of workers.")
    alone = process_times([_question(path, each) for each in rows[:FEW]], 1)
    most = max(one.memory, two.memory)
    goal = f"at least 1.7 times as fast, under {MOST_MEMORY} MB"
    return [
        row(f"{count:,} inquiries by {WORKERS} workers ({most:.0f} MB at most)", two.seconds, "one worker", one.seconds, goal=goal,
            reached=one.seconds >= 1.7 * two.seconds and most < MOST_MEMORY),
        row("an inquiry of this batch, one worker", one.seconds / count, "one `kb fits` process for each", median(alone), goal="at most 1/20",
            reached=20 * one.seconds / count <= median(alone)),
    ]  # fmt: skip


def _timed(path: Path, listed: Path, output: Path, workers: int) -> Taken:
    """A batch from its start to its last byte written."""
    output.unlink(missing_ok=True)
    return memory.run([sys.executable, "-m", "kb.cli", "batch", str(listed), "-o", str(output), "--workers", str(workers), "--db", str(path)])


def _question(path: Path, each: dict[str, str]) -> Sequence[str]:
    evidence = ["--maker", each["maker"], "--serial", each["serial"]]
    return [sys.executable, "-m", "kb.cli", "fits", each["part"], *evidence, "--db", str(path)]
