"""The desk where questions are answered: a few clerks, a short queue, and a plain "busy" for everybody beyond it.

Answers are computed in threads of their own, never in the server's event loop, so that a hard question does not hold up the
page of the next visitor. The threads share the opened file, which never changes: what one has loaded the other need not load. The examined
units each thread keeps for itself.
"""

import asyncio
import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cached_property
from pathlib import Path
from typing import TypeVar

from kb.api import KnowledgeBase
from kb.store.book import Book
from kb.store.parts import fitments_by_maker
from kb.words.patience import while_wanted

Answer = TypeVar("Answer")


class Busy(Exception):
    """Too many questions at once, or one that took too long; asking again later helps."""


class Opened:
    """The knowledge base as one thread has it: `kb` answers, `book` has the rows for names and pictures."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.kb = KnowledgeBase(book)

    @cached_property
    def fitments(self) -> dict[str, int]:
        """How many each maker has."""
        return fitments_by_maker(self.book)


class Desk:
    """At most `at_work` computations at once and `waiting` more in the queue; the next caller is turned away."""

    def __init__(self, path: Path, at_work: int = 2, waiting: int = 14, seconds: float = 20.0) -> None:
        self._path, self._limit, self._seconds = path, at_work + waiting, seconds
        self._book: Book | None = None
        self._pool = ThreadPoolExecutor(at_work, thread_name_prefix="desk")
        self._own = threading.local()
        self._lock = threading.Lock()
        self._inside = 0

    async def ask(self, question: Callable[[Opened], Answer]) -> Answer:
        """The answer to a question.

        Raises:
            Busy: the queue is full, or the answer took longer than allowed. It is given up then, as it is when the caller is cancelled.
            KbError: whatever the question raises.
        """
        with self._lock:
            if self._inside >= self._limit:
                raise Busy("More people are asking at this moment than can be served.")
            self._inside += 1
        nobody_waits = threading.Event()
        running = self._pool.submit(self._work, question, nobody_waits)
        running.add_done_callback(self._left)  # also if it is cancelled while it waits
        try:
            return await asyncio.wait_for(asyncio.wrap_future(running), self._seconds)
        except TimeoutError:
            raise Busy("This question took too long. Say more about the unit, so that less is left open, or ask again later.") from None
        finally:
            nobody_waits.set()

    def close(self) -> None:
        """Let the threads end and close the file."""
        self._pool.shutdown(wait=True, cancel_futures=True)
        if self._book is not None:
            self._book.close()

    def _left(self, _: Future[Answer]) -> None:
        with self._lock:
            self._inside -= 1

    def _work(self, question: Callable[[Opened], Answer], nobody_waits: threading.Event) -> Answer:
        opened: Opened | None = getattr(self._own, "opened", None)
        if opened is None:
            with self._lock:
                self._book = self._book or Book(self._path)
            opened = self._own.opened = Opened(self._book)
        with while_wanted(lambda: not nobody_waits.is_set()):
            return question(opened)
