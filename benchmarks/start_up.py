"""`kb identify` as a process.

Baseline: a process that imports the libraries it cannot do without and does nothing.
"""

import sys
from pathlib import Path

from benchmarks.knowledge import demo
from benchmarks.measure import Row, process_times, row

LIBRARIES = "import numpy, click, rich.table; from pydantic import BaseModel"
QUESTION = ("--serial", "1042?1", "--mark", "mill-frame=V12?7")


def run() -> list[Row]:
    """One row: asking on the command line."""
    kb = str(Path(sys.executable).with_name("kb"))
    asking, libraries = process_times([[kb, "identify", "--db", str(demo()), *QUESTION], [sys.executable, "-c", LIBRARIES]], 15)
    what = "`kb identify` with a worn serial and a mark, as a process"
    return [row(what, asking, f'`python -c "{LIBRARIES}"`', libraries, goal="at most 1.75", reached=asking <= 1.75 * libraries)]
