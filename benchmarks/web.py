"""The web pages under load: `kb serve --workers 2`, with 1, 16 and 64 visitors (benchmarks/visitors.py), for the demo and for 1,000,000 marks.

Every visitor asks for another unit and another part; no question is repeated while its answer may still be cached, and nothing is sent with
If-None-Match, so every page is made afresh. Baseline: Datasette's page of a table row in the same server, asked in the same way.
"""

import json
import re
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from statistics import median, quantiles
from typing import Any, NamedTuple
from urllib.parse import urlencode

from benchmarks.drawn import draw_units
from benchmarks.knowledge import demo, million
from benchmarks.measure import Row, clock, row
from kb import Evidence, KnowledgeBase
from kb.store.book import Book
from kb.web.address import Query
from kb.web.pages.page import Request, evidence_of
from kb.web.pages.unit import IDENTIFY
from kb.web.pool import Opened
from kb.web.routes import make
from kb.web.site import Setup, Site
from kb.words.addresses import step

CLIENTS = (1, 16, 64)
SECONDS = 4.0
LOADING = 30.0  # seconds until a million marks are loaded by every process
WORKERS = 2
ALONE = 80  # pages made in this process

# What somebody might read off a mill: a worn serial, marks of both sides, things looked at.
SERIALS = ("10{}2?{}", "1{}?[38]6{}", "10?{}{}*", "1?5{}1{}", "11{}0?{}")
MARKS = ("mill-frame=V12{}?", "arbor-housing@left=V21{}0", "saw-flange=V3?{}", "carriage=V77{}?")


class Load(NamedTuple):
    """What visitors saw of one kind of page. Times in seconds."""

    data: str
    page: str
    clients: int
    each_second: float
    p50: float
    p95: float
    p99: float
    again: int
    answered: int


def run() -> list[Row]:
    """Three rows: the demo and 1,000,000 marks under load, and a page by itself."""
    few, many = loads("the demo"), loads("1,000,000 marks")
    by_itself, answering = alone(demo(), _demo_units())
    return [
        _row(few, "at most 5 times", lambda unit, plain: unit <= 5 * plain),
        _row(many, "under 500 ms", lambda unit, _: unit < 0.5),
        row("an identification page inside its process, the demo", by_itself, "its answers alone", answering, goal="median at most 20 ms",
            reached=by_itself <= 0.020),
    ]  # fmt: skip


def section() -> str:
    """Everything that was measured, for the page."""
    head = (
        "## The web pages under load\n\n"
        "`kb serve --workers 2` on two processors, with the visitors on the same two. The times are a visitor's wait from request to page.\n"
        "A visitor told to try again (503, with `Retry-After`) waits that long and asks again, and that counts as part of the wait.\n\n"
        "| data | page | visitors | pages a second | p50 | p95 | p99 | told to try again |\n|---|---|---:|---:|---:|---:|---:|---:|\n"
    )
    lines = [
        f"| {each.data} | {each.page} | {each.clients} | {each.each_second:.0f} | {_ms(each.p50)} | {_ms(each.p95)} | {_ms(each.p99)} | "
        f"{each.again} times in {each.answered} pages |"
        for data in ("the demo", "1,000,000 marks")
        for each in loads(data)
    ]
    return head + "\n".join(lines) + "\n"


@cache
def loads(data: str) -> tuple[Load, ...]:
    """All kinds of page with all numbers of visitors."""
    path, units = (demo(), _demo_units()) if data == "the demo" else _million()
    warming = SECONDS if data == "the demo" else LOADING
    kinds = {"identification": units, "part": _parts(path, "/parts/{}"), "table row": _parts(path, "/kb/parts/{}")}
    found = []
    for page, addresses in kinds.items():
        with served(path) as place:
            _visited(place, 4 * WORKERS, warming if page == "identification" else SECONDS, addresses)  # every process loads what it keeps
            for clients in CLIENTS:
                seen = _visited(place, clients, SECONDS, addresses)
                if seen["failed"] or len(seen["times"]) < 2:
                    raise AssertionError(f"{data}, {page}, {clients} visitors: {seen['failed']} answers that were no page.")
                cut = quantiles(seen["times"], n=100, method="inclusive")
                answered = len(seen["times"])
                found.append(Load(data, page, clients, answered / SECONDS, cut[49], cut[94], cut[98], seen["again"], answered))
    return tuple(found)


@contextmanager
def served(path: Path) -> Iterator[str]:
    """`kb serve` on a free port, as people start it: where it listens."""
    command = [sys.executable, "-m", "kb.cli", "serve", str(path), "--port", "0", "--workers", str(WORKERS)]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as server:
        assert server.stderr is not None
        try:
            for line in server.stderr:
                if found := re.search(r"http://([\d.]+:\d+)", line):
                    _wait_for(found[1])
                    yield found[1]
                    return
            raise AssertionError("kb serve did not say where it listens.")
        finally:
            server.terminate()


def _wait_for(place: str) -> None:
    """Until a process listens: each opens the port by itself."""
    host, _, port = place.partition(":")
    until = time.monotonic() + 60
    while True:
        try:
            socket.create_connection((host, int(port))).close()
            return
        except ConnectionRefusedError:
            if time.monotonic() > until:
                raise
            time.sleep(0.1)


def _visited(place: str, clients: int, seconds: float, addresses: Sequence[str]) -> dict[str, Any]:
    command = [sys.executable, "-m", "benchmarks.visitors", place, str(clients), str(seconds)]
    done = subprocess.run(command, input="\n".join(addresses), capture_output=True, text=True, check=True)
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def alone(path: Path, addresses: Sequence[str]) -> tuple[float, float]:
    """Median processor seconds of a page in its process, from the address to the text, and of its two answers alone: the unit and its parts."""
    site, times = Site(Setup(str(path))), []
    opened, asked_alone = Opened(Book(path)), KnowledgeBase.open(path)
    for address in addresses[:ALONE]:
        asked = Request("/identify", {}, Query(address.partition("?")[2]), "http://localhost")
        evidence = evidence_of(opened, asked)
        begin = clock()
        make(site, IDENTIFY, asked, opened)
        made = clock()
        asked_alone.parts(asked_alone.identify(evidence))
        times.append((made - begin, clock() - made))
    pages, answers = zip(*times[ALONE // 4 :], strict=True)  # the first ones load what stays loaded
    return median(pages), median(answers)


def _row(measured: Sequence[Load], goal: str, reached: Callable[[float, float], bool]) -> Row:
    unit, plain = (next(each for each in measured if (each.page, each.clients) == (page, 16)) for page in ("identification", "table row"))
    what = f"p95 of an identification page with 16 visitors, {unit.data} (elapsed)"
    return row(what, unit.p95, "p95 of a table row's page with 16 visitors", plain.p95, goal=goal, reached=reached(unit.p95, plain.p95))


def _demo_units() -> list[str]:
    """Worn serials of the demo with four marks each: 400 units, none of them twice."""
    found = []
    for n in range(400):
        a, b = str(n % 10), str(n // 10 % 10)
        unit = Evidence(
            serial=SERIALS[n // 100 % 4].format(a, b), marks=[mark.format(digit) for mark, digit in zip(MARKS, a + b + b + a, strict=True)]
        )
        found.append(f"/identify?{urlencode(unit.fields)}")
    return found


def _million() -> tuple[Path, list[str]]:
    path, truth = million()
    units = [Evidence.read(unit.evidence) for unit in draw_units(truth, 6, 1200)]
    return path, [f"/identify?{urlencode(unit.fields)}" for unit in units if unit.serial and unit.marks]


def _parts(path: Path, page: str) -> list[str]:
    book = Book(path)
    numbers = [row.part_number for row in book.rows("select part_number from parts order by rowid limit 1000")]
    book.close()
    return [page.format(step(number)) for number in numbers]


def _ms(seconds: float) -> str:
    return f"{1000 * seconds:.0f} ms"
