"""What one visitor may cost: evidence bounded by its cost, questions given up when nobody waits, connections closed that keep others waiting."""

import asyncio
import threading
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from kb import Evidence, KnowledgeBase
from kb.web.guard import _Guard
from kb.web.pool import Busy, Desk, Opened
from kb.web.punctual import Punctual
from kb.words.patience import GivenUp, go_on, while_wanted
from tests.web.conftest import Site

DATES = [f"{place}={11 + n} 31" for n in range(10) for place in ("gear-case", "pump-body", "base-frame")]
LATEST = 20.0  # seconds until a test that hangs fails; none comes near it


def test_more_evidence_than_can_be_weighed_at_once_is_refused(site: Site) -> None:
    few = site.get("/identify.json?" + "&".join(f"cast_date={each}" for each in DATES[:6]))
    many = site.get("/identify.json?" + "&".join(f"cast_date={each}" for each in DATES))
    assert few.status_code == 200
    assert many.status_code == 400 and "more evidence than can be weighed at once" in many.text


class Endless:
    """A question that never ends by itself and tells when it has been given up."""

    def __init__(self) -> None:
        self.begun, self.given_up = threading.Event(), threading.Event()

    def __call__(self, opened: Opened) -> str:
        self.begun.set()
        try:
            while True:
                go_on()
        except GivenUp:
            self.given_up.set()
            raise


def test_a_question_that_takes_too_long_is_given_up_and_leaves_room(demo_db: Path) -> None:
    desk, endless = Desk(demo_db, at_work=1, waiting=0, seconds=0.05), Endless()
    try:
        with pytest.raises(Busy, match="took too long"):
            asyncio.run(desk.ask(endless))
        assert endless.given_up.wait(LATEST)
        while True:
            try:
                assert asyncio.run(desk.ask(lambda opened: len(opened.book.makers))) == 2
                break
            except Busy:  # the thread is just leaving
                continue
    finally:
        desk.close()


@pytest.mark.parametrize("question", [
    lambda kb: kb.identify(Evidence(serial="?1?42", marks={"gear-case": "18-E2?"})),
    lambda kb: kb.identify(Evidence(cast_dates=DATES)),
    lambda kb: kb.identify(Evidence(marks=["1?-E?5"])),
    lambda kb: kb.parts(Evidence(serial="C1542")),
    lambda kb: kb.fits("PE-214", Evidence(serial="?1?42")),
], ids=["serial and mark", "dates", "a mark somewhere", "parts", "fits"])  # fmt: skip
def test_every_long_question_looks_whether_it_is_still_wanted(demo_db: Path, question: Any) -> None:
    """Given up at the first look, the third, the tenth ...: never answered after that, and answered as ever by the same book afterwards."""
    with KnowledgeBase.open(demo_db) as kb:
        looks = [0]

        def count() -> bool:
            looks[0] += 1
            return True

        with while_wanted(count):
            expected = question(kb)
        assert looks[0] >= 5
        for patience in (0, 1, 3, looks[0] // 2):
            with KnowledgeBase.open(demo_db) as fresh:
                left = iter([True] * patience)
                with while_wanted(lambda left=left: next(left, False)), pytest.raises(GivenUp):
                    question(fresh)
                assert question(fresh) == expected


def test_a_visitor_who_leaves_is_not_answered(demo_db: Path) -> None:
    desk, endless, sent = Desk(demo_db, seconds=LATEST), Endless(), []

    async def app(scope: Any, receive: Any, send: Any) -> None:
        await send(await desk.ask(endless))

    async def visit() -> None:
        async def receive() -> Any:
            while not endless.begun.is_set():
                await asyncio.sleep(0.001)
            return {"type": "http.disconnect"}

        async def send(message: Any) -> None:
            sent.append(message)

        guard = _Guard.__new__(_Guard)
        guard.app = app
        await guard._answer({}, receive, send)

    try:
        asyncio.run(visit())
        assert endless.given_up.wait(LATEST) and sent == []
    finally:
        desk.close()


@pytest.mark.parametrize("piece", [b"", b"GET / HT", b"GET / HTTP/1.1\r\nHost: x\r\n"])
def test_a_connection_that_stays_half_open_is_closed(piece: bytes) -> None:
    class Hasty(Punctual):
        seconds = 0.1

    async def app(scope: Any, receive: Any, send: Any) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]})
        await send({"type": "http.response.body", "body": b"ok"})

    async def visit() -> None:
        server = uvicorn.Server(uvicorn.Config(app, port=0, http=Hasty, log_level="error", lifespan="off"))
        serving = asyncio.ensure_future(server.serve())
        while not server.started:
            await asyncio.sleep(0.01)
        port = server.servers[0].sockets[0].getsockname()[1]
        for first in (b"", b"GET / HTTP/1.1\r\nHost: x\r\n\r\n"):  # a fresh connection, and one that has been answered before
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            if first:
                writer.write(first)
                assert (await asyncio.wait_for(reader.readuntil(b"ok"), LATEST)).startswith(b"HTTP/1.1 200")
            writer.write(piece)
            assert b"200 OK" not in await asyncio.wait_for(reader.read(), LATEST)  # it ends: the server has closed it
            writer.close()
        server.should_exit = True
        await serving

    asyncio.run(visit())
