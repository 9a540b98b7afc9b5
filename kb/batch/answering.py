"""Answering a chunk of inquiries: what every worker does, in a process on this machine or on a cluster.

A worker opens the knowledge base once and keeps it open. Its answers depend only on the row and the knowledge base, so chunks may be
cut in any way, answered anywhere, and answered again.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from kb.api import KnowledgeBase
from kb.desk.trade.inquiry import refused
from kb.probability.inference.costs import Costs
from kb.words.errors import FileError, KbError


class InquiryRow(NamedTuple):
    """A row to answer; one that could not be read carries its error. number: the number of the row, as a spreadsheet shows it."""

    values: Mapping[str, Any]
    error: str = ""
    number: int = 0


class Task(NamedTuple):
    """What is the same for all chunks of a run. digest: that of the dataset in the knowledge base, so that all workers use the same one."""

    database: str
    digest: str
    costs: Costs | None


Answers = list[list[dict[str, Any]]]  # for each inquiry its rows


def task(database: Path, costs: Costs | None) -> Task:
    """The task for a knowledge base.

    Raises:
        FileError: it cannot be opened.
    """
    with KnowledgeBase.open(database) as book:
        return Task(str(database.absolute()), book.digest, costs)


def answer_chunk(job: Task, inquiries: Sequence[InquiryRow]) -> Answers:
    """The answers to a chunk, in its order.

    Raises:
        FileError: the knowledge base is missing, or is a different one.
    """
    book = _opened(job.database, job.digest)
    return [_answer(book, inquiry, job.costs) for inquiry in inquiries]


def _answer(book: KnowledgeBase, inquiry: InquiryRow, costs: Costs | None) -> list[dict[str, Any]]:
    if inquiry.error:
        return [refused(inquiry.error)]
    try:
        return book.inquire(inquiry.values, costs)
    except KbError as error:
        return [refused(str(error))]
    except Exception as error:  # a bug in this program must not cost the other rows their answers
        return [refused(f"This row could not be answered ({type(error).__name__}: {error}). Please report it with the row.")]


@lru_cache(maxsize=1)
def _opened(database: str, digest: str) -> KnowledgeBase:
    book = KnowledgeBase.open(database)
    if book.digest != digest:
        raise FileError(f'"{database}" is not the knowledge base that the run began with.', "Put the same file in place on every worker.")
    return book
