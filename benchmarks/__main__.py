"""Run every benchmark and keep the results as a table: `python -m benchmarks [NAME ...]`.

A benchmark is a module of this package with `run() -> list[Row]`. It measures the baseline itself, in the same run and on the
same machine, because a time in seconds means nothing on another one.
One that has more to show than rows has a `section() -> str`. Run with names, only those are measured and nothing is written.
"""

import importlib
import platform
import sqlite3
import sys
from pathlib import Path

import numpy

from benchmarks.measure import Row, as_table

BENCHMARKS = ("reading_weights", "identify", "parts", "counter", "start_up", "build", "changeovers", "web", "marks", "rereading", "context")
PAGE = Path(__file__).resolve().parent.parent / "docs" / "performance.md"

HEAD = """\
# Performance

`make bench` measures everything here and writes this page. Each row is compared with a baseline measured in the same run on the same
machine: the ratio is what counts, the times are those of one machine. They are processor time, which is the wait on an otherwise idle
machine; rows marked *elapsed* give the time on the clock instead. Where a goal is missed the row says so.

"""


def main(names: list[str]) -> int:
    """Measure, print, and write docs/performance.md when everything was measured. Returns the exit code."""
    unknown = [name for name in names if name not in BENCHMARKS]
    if unknown:
        print(f"There is no benchmark {', '.join(unknown)}. Name some of: {', '.join(BENCHMARKS)}.", file=sys.stderr)
        return 2
    rows: list[Row] = []
    sections = []
    for name in names or BENCHMARKS:
        print(f"{name} ...", file=sys.stderr)
        benchmark = importlib.import_module(f"benchmarks.{name}")
        rows += benchmark.run()
        if hasattr(benchmark, "section"):
            sections.append(benchmark.section())
    table = "\n".join([as_table(rows), *sections])
    print(table)
    if not names:
        machine = f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, numpy {numpy.__version__}, {platform.machine()}."
        PAGE.write_text(f"{HEAD}{table}\n{machine}\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
