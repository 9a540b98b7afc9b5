"""Building a knowledge base of 500,000 rows from its folder: reading, checking every row and every reference, estimating, writing.

Baseline: `executemany` of the same rows, as ready-made Python tuples, into the same schema with its indexes and full text; nothing is read,
checked or estimated.
"""

import sqlite3
import tempfile
from pathlib import Path

from sqlite_utils import Database

from benchmarks.generator import generate
from benchmarks.measure import Row, clock, row
from kb.store import schema
from kb.store.build import build
from kb.words.dataset import Dataset
from loaders.folder import load

LIMIT = 4.0
TURNS = 2  # the better of each, taking turns


def run() -> list[Row]:
    """One row: from folder to file."""
    with tempfile.TemporaryDirectory(prefix="kb-benchmarks-") as name:
        room = Path(name)
        generate(room / "dataset", seed=3, change_overs=500, marks=100_000, sightings=20_000, parts=130_000, fitments=240_000, supersessions=5000)
        building, bare = [], []
        for turn in range(TURNS):
            begin = clock()
            loaded = load([room / "dataset"])
            build(loaded.dataset, room / f"kb-{turn}.db", problems=loaded.problems)
            building.append(clock() - begin)
            bare.append(_executemany(loaded.dataset, room / f"bare-{turn}.db"))
        rows = sum(loaded.counts.values())
    what = f"load, check, estimate and build {rows:,} rows"
    best, bare_best = min(building), min(bare)
    return [row(what, best, "`executemany` of the same rows", bare_best, goal=f"at most {LIMIT:.0f}", reached=best <= LIMIT * bare_best)]


def _executemany(dataset: Dataset, path: Path) -> float:
    """Seconds to store the rows, make the indexes and the full text."""
    ready = {table: list(schema.values(table, getattr(dataset, table), False)) for table in schema.stored_tables(False)}
    begin = clock()
    connection = sqlite3.connect(path, isolation_level=None)
    for pragma in ("journal_mode = OFF", "synchronous = OFF"):
        connection.execute(f"PRAGMA {pragma}")
    connection.execute("BEGIN")
    for table, rows in ready.items():
        connection.execute(schema.create_table(table, False))
        connection.executemany(schema.insert(table, False), rows)
    database = Database(connection)
    schema.create_derived(database)
    schema.create_indexes(database)
    for table in schema.SEARCHED:
        schema.create_search(database, table)
    connection.execute("COMMIT")
    connection.close()
    return clock() - begin
