"""All parts of a whole unit whose maker has 2,000 fitments; the file is already open, and no unit is asked about twice.

Baseline: reading those fitments with sqlite3, their parts and sources joined, without judging any.
"""

import sqlite3
from statistics import median

from benchmarks.drawn import draw_units
from benchmarks.knowledge import well_stocked
from benchmarks.measure import Row, clock, median_time, row
from kb import Evidence, KnowledgeBase

LIMIT = 0.020
QUESTIONS = 40
ALL_FITMENTS = "select * from fitments join parts using (part_number) join sources on sources.source_id = fitments.source_id"


def run() -> list[Row]:
    """One row: which parts fit this unit."""
    path, truth = well_stocked()
    units = [Evidence.read(unit.evidence) for unit in draw_units(truth, 6, QUESTIONS + 1) if unit.evidence]
    taken = []
    with KnowledgeBase.open(path) as book:
        book.parts(book.identify(units[0]))  # loads what stays loaded
        for evidence in units[1:]:
            found = book.identify(evidence)
            begin = clock()
            book.parts(found)
            taken.append(clock() - begin)
    connection = sqlite3.connect(path)
    reading = median_time(lambda: connection.execute(ALL_FITMENTS).fetchall(), 20)
    connection.close()
    what = "`parts` of a whole unit, 2,000 fitments of its maker"
    return [row(what, median(taken), "reading the fitments with sqlite3", reading, goal="median under 20 ms", reached=median(taken) < LIMIT)]
