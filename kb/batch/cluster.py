"""Handing the chunks of a run to a running Dask cluster (https://distributed.dask.org; extra `casting-kb[dask]`).

Every worker of the cluster needs this program and the same knowledge base file at the same path. Losing a worker costs only the
time for its chunk, which the scheduler hands to another one.
"""

from importlib import import_module
from itertools import islice
from typing import Any

from kb.batch.answering import Task, answer_chunk
from kb.batch.journal import Journal
from kb.batch.workers import Progress
from kb.words.errors import FileError

RETRIES = 3
CHUNKS_EACH = 4  # chunks for each thread of the cluster, so that none has to wait for the next
SECONDS_TO_CONNECT = 15


def answer_on_cluster(job: Task, journal: Journal, scheduler: str, progress: Progress) -> None:
    """Answer all unfinished chunks on the cluster of a scheduler (`tcp://host:8786`).

    Raises:
        FileError: the cluster cannot be reached, Dask is not installed, or the cluster gives up on a chunk.
    """
    try:
        distributed: Any = import_module("distributed")
    except ImportError as error:
        raise FileError("Dask is not installed.", "Install it with: pip install 'casting-kb[dask]', or leave --scheduler out.") from error
    try:
        client = distributed.Client(scheduler, timeout=SECONDS_TO_CONNECT, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        raise FileError(f'No scheduler answers at "{scheduler}".', "Name it as dask scheduler prints it, as in tcp://host:8786.") from error
    with client:
        left, running = iter(journal.left), dict[Any, int]()
        arriving = distributed.as_completed(loop=client.loop, with_results=True)

        def hand_out() -> None:
            """Keep as many chunks waiting as the cluster can start at once; workers may come and go."""
            most = CHUNKS_EACH * max(1, sum(client.nthreads().values()))
            for index in islice(left, max(0, most - len(running))):
                future = client.submit(answer_chunk, job, journal.asked(index), pure=False, retries=RETRIES)
                running[future] = index
                arriving.add(future)

        try:
            hand_out()
            for future, answers in arriving:
                journal.keep(running.pop(future), answers)
                progress(journal.answered)
                hand_out()
        except distributed.KilledWorker as error:
            remedy = "Look at the memory of the workers; the same command goes on where it was."
            raise FileError("The cluster gave a chunk up: workers died over it.", remedy) from error
