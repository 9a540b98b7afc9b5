"""Identifying a unit with five pieces of evidence, with the file already open; no question is asked twice.

Baseline: weighing every serial and every mark of the knowledge base separately for the same evidence, which a program without the
digit and tree algorithms would have to do before it could start. For the large one a sample is weighed and the time scaled up.
"""

from collections.abc import Iterator, Sequence
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np

from benchmarks.drawn import draw_units
from benchmarks.knowledge import demo, large
from benchmarks.measure import Row, clock, row
from kb import Evidence, KnowledgeBase
from kb.assumptions import Assumptions
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.digits import format_serial
from kb.probability.channel.reading import Reading
from kb.store.book import Book

PIECES = 5
QUESTIONS = 60
SAMPLE = 2000

# What somebody might read off a mill: a worn serial, marks of both sides, things looked at.
SERIALS = ("10{}2?1", "1{}?[38]61", "10?{}*", "1?5{}17")
MARKS = ("mill-frame=V12{}?", "arbor-housing@left=V21{}0", "saw-flange=V3?{}", "carriage=V77{}?")


def run() -> list[Row]:
    """Two rows: the demo and the large knowledge base."""
    path, truth = large()
    drawn = [Evidence.read(unit.evidence) for unit in draw_units(truth, 5, 2000)]
    many = [evidence for evidence in drawn if _pieces(evidence) == PIECES][:QUESTIONS]
    return [
        _row("the demo", demo(), list(_of_the_demo()), 0.010),
        _row("500 change-overs and 100,000 marks", path, many, 0.030),
    ]


def _of_the_demo() -> Iterator[Evidence]:
    for n in range(QUESTIONS):
        digit = str(n % 10)
        yield Evidence(serial=SERIALS[n // 10 % 4].format(digit), marks=[mark.format(digit) for mark in MARKS])


def _pieces(evidence: Evidence) -> int:
    return len(evidence.serial) + len(evidence.marks) + len(evidence.features) if evidence.serial and evidence.marks else 0


def _row(what: str, path: Path, questions: Sequence[Evidence], limit: float) -> Row:
    taken = []
    with KnowledgeBase.open(path) as book:
        book.identify(questions[0].adding(marks="V1"))  # loads what stays loaded
        for evidence in questions:
            begin = clock()
            book.identify(evidence)
            taken.append(clock() - begin)
    usual = median(taken)
    goal = f"median under {limit * 1000:.0f} ms"
    what = f"`identify` with {PIECES} pieces of evidence, {what}"
    return row(what, usual, "weighing each serial and mark separately", _one_by_one(path, questions[0]), goal=goal, reached=usual < limit)


def _one_by_one(path: Path, evidence: Evidence) -> float:
    """Seconds to weigh each serial for the serial readings and each mark for the mark readings."""
    book = Book(path)
    rng = np.random.default_rng(1)
    spans = [(line.form(index), block) for line in book.lines for index, block in enumerate(line.blocks)]
    counts = np.array([block.count for _, block in spans], dtype=float)
    picked = rng.choice(len(spans), SAMPLE, p=counts / counts.sum())
    serials = [format_serial(spans[i][0], int(rng.integers(spans[i][1].first, spans[i][1].last + 1))) for i in picked]
    marks: list[Any] = [mark.normal for mark in book.rows("select normal from marks")]
    some = [marks[i] for i in rng.integers(0, len(marks), SAMPLE)]
    book.close()
    weighing = len(evidence.serial) * _seconds_each(evidence.serial[0].reading, serials) * counts.sum()
    return float(weighing + len(evidence.marks) * _seconds_each(evidence.marks[0].reading, some) * len(marks))


def _seconds_each(reading: str, texts: Sequence[str]) -> float:
    compiled = compile_readings([Reading.parse(reading)], [None], Assumptions())
    begin = clock()
    for text in texts:
        compiled.weight(text)
    return (clock() - begin) / len(texts)
