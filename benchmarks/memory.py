"""How much memory a program takes with all the processes that it starts: the greatest sum of their proportional set sizes, sampled while it runs.

The proportional set size (PSS; Linux, Documentation/filesystems/proc.rst) counts a page that several processes share once in all. The maximum of
`getrusage` will not do: it is that of the largest child so far, whichever that was, and of what a child had before it became another program.
"""

import subprocess
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

LOOKED_AT_EACH = 0.5  # seconds; looking walks the tables of all pages, which takes a core from those that are looked at
_PROC = Path("/proc")


class Taken(NamedTuple):
    """What a program took: seconds elapsed, and the greatest MB of all its processes together."""

    seconds: float
    memory: float


def run(command: Sequence[str]) -> Taken:
    """Run a command to its end.

    Raises:
        subprocess.CalledProcessError: it did not succeed.
    """
    begin = time.perf_counter()
    greatest = 0.0
    with subprocess.Popen(command, stderr=subprocess.DEVNULL) as process:
        while True:
            try:
                process.wait(LOOKED_AT_EACH)
                break
            except subprocess.TimeoutExpired:
                greatest = max(greatest, sum(map(_proportional, family(process.pid))))
    seconds = time.perf_counter() - begin
    if process.returncode:
        raise subprocess.CalledProcessError(process.returncode, list(command))
    return Taken(seconds, greatest)


def family(pid: int) -> list[int]:
    """A process and all that it started, and what these did."""
    parents = {}
    for folder in _PROC.iterdir():
        if folder.name.isdigit():
            try:
                parents[int(folder.name)] = int((folder / "stat").read_text().rpartition(")")[2].split()[1])
            except OSError:  # it has ended meanwhile
                continue
    found = [pid]
    for each in found:
        found += [child for child, parent in parents.items() if parent == each]
    return found


def _proportional(pid: int) -> float:
    """MB of a process; 0 if it has ended meanwhile."""
    try:
        lines = (_PROC / str(pid) / "smaps_rollup").read_text().splitlines()
    except OSError:
        return 0.0
    return next((int(line.split()[1]) for line in lines if line.startswith("Pss:")), 0) / 1024


