"""The chunks of a run handed to a Dask cluster that somebody runs already (https://distributed.dask.org; extra `casting-kb[dask]`).

Every worker of the cluster needs this program and the same knowledge base file at the same path. A worker that is lost costs nothing but the
time for its chunk: the scheduler hands it to another one.
"""

from collections.abc import Sequence
from importlib import import_module
from typing import Any

from kb.batch.answering import Inquiry, Task, answer_chunk
from kb.batch.journal import Journal
from kb.batch.workers import Progress
from kb.words.errors import FileError

RETRIES = 3
SECONDS_TO_CONNECT = 15


def answer_on_cluster(job: Task, inquiries: Sequence[Inquiry], journal: Journal, scheduler: str, progress: Progress) -> None:
    """Answer all chunks that are not done yet on the cluster of a scheduler (`tcp://host:8786`).

    Raises:
        FileError: the cluster cannot be reached, Dask is not installed, or the cluster gives a chunk up.
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
        futures = {
            client.submit(answer_chunk, job, list(inquiries[journal.part(index)]), pure=False, retries=RETRIES): index
            for index in range(journal.chunks)
            if index not in journal.done
        }
        try:
            for future, answers in distributed.as_completed(list(futures), loop=client.loop, with_results=True):
                journal.keep(futures[future], answers)
                progress(min(len(journal.done) * journal.chunk, journal.inquiries))
        except distributed.KilledWorker as error:
            remedy = "Look at the memory of the workers; the same command goes on where it was."
            raise FileError("The cluster gave a chunk up: workers died over it.", remedy) from error
