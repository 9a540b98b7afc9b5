"""Handing the chunks of a run to processes on this machine.

Each process computes on one core (numpy's own threads would only get in each other's way), opens the knowledge base itself (the file never
changes, so all share its pages in memory), and ends when the process that started it is gone. If a process dies, for lack of memory say,
only its current chunk is lost, and is handed out again.
"""

import multiprocessing
import os
import threading
import time
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool

from kb.batch.answering import Answers, Task, answer_chunk
from kb.batch.journal import Journal
from kb.words.errors import FileError

CHUNK = 25  # inquiries in a chunk: about a second of work
WAITING_EACH = 2  # chunks handed out for each worker, so that none has to wait for the next
MOST_DEATHS = 3  # crashes of workers without a finished chunk in between
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")

Progress = Callable[[int], None]  # called with the number of inquiries answered so far


def answer_here(job: Task, journal: Journal, progress: Progress) -> None:
    """Answer all unfinished chunks in this process."""
    for index in journal.left:
        journal.keep(index, answer_chunk(job, journal.asked(index)))
        progress(journal.answered)


def answer_by_processes(job: Task, journal: Journal, workers: int, progress: Progress) -> None:
    """Answer all unfinished chunks with several processes.

    Raises:
        FileError: the processes keep dying.
    """
    deaths = 0
    while journal.left:
        before = len(journal.done)
        try:
            _by_a_pool(job, journal, workers, progress)
        except BrokenProcessPool as error:
            deaths = 0 if len(journal.done) > before else deaths + 1
            if deaths >= MOST_DEATHS:
                problem = "The workers are stopped again and again by the system, probably for want of memory."
                raise FileError(problem, "Use fewer --workers; the same command goes on where it was.") from error


def _by_a_pool(job: Task, journal: Journal, workers: int, progress: Progress) -> None:
    left = iter(journal.left)
    running: dict[Future[Answers], int] = {}
    saved = {name: os.environ.get(name) for name in _ONE_THREAD}
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))  # before a worker imports numpy
    try:
        pool = ProcessPoolExecutor(workers, multiprocessing.get_context("spawn"), initializer=_end_with, initargs=(os.getpid(),))
        with pool:
            while True:
                while len(running) < WAITING_EACH * workers and (index := next(left, None)) is not None:
                    running[pool.submit(answer_chunk, job, journal.asked(index))] = index
                if not running:
                    return
                for future in wait(running, return_when=FIRST_COMPLETED).done:
                    journal.keep(running.pop(future), future.result())
                    progress(journal.answered)
    finally:
        for name, value in saved.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _end_with(starter: int) -> None:
    """Make this process end when the one that started it is gone."""

    def watch() -> None:
        while os.getppid() == starter:
            time.sleep(0.5)  # numeric
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
