"""`kb batch`: a list of inquiries answered, each row beside its answer."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.cli.options import cost_options, database_option, force_option
from kb.probability.inference.costs import Costs

if TYPE_CHECKING:
    from kb.batch.answering import Task
    from kb.batch.journal import Journal


@click.command("batch")
@click.argument("inquiries", type=click.Path(path_type=Path))
@click.option("-o", "--output", required=True, metavar="FILE", type=click.Path(path_type=Path), help="The answers: .csv, .xlsx, .jsonl or .parquet.")
@click.option("--workers", type=click.IntRange(min=1), metavar="N", help="The number of processes; all cores if not given.")
@click.option("--chunk", type=click.IntRange(min=1), metavar="N", help="How many inquiries to hand out at a time; the answers do not depend on it.")
@click.option("--scheduler", metavar="ADDRESS", help="Let a Dask cluster answer: tcp://host:8786.")
@cost_options
@force_option
@database_option
def command(
    inquiries: Path, output: Path, workers: int | None, chunk: int | None, scheduler: str | None, costs: Costs | None, force: bool, db: str
) -> None:
    """Answer a list of INQUIRIES (.csv, .xlsx, .jsonl or .parquet): for each row the verdict, what can be bought, and the question to ask.

    The columns read are part, maker, model, serial, mark, saw, cast_date, again, wear, assembly, return_cost, sale_value. A heading such as
    "mark arbor-housing@left" says where its marks are; several marks in one cell are separated by ";". All other columns are carried along.
    Without a part there is one row for each part that fits or may fit. A row that cannot be answered says why in its column "error".

    Finished work is kept: after a crash the same command resumes where it stopped.
    """
    from kb.batch.answering import InquiryRow, task
    from kb.batch.journal import Journal
    from kb.batch.workers import CHUNK
    from kb.cli.progress import counted
    from kb.desk.trade.inquiry import ANSWERS, NUMBERS, heading
    from kb.output.kinds import answers
    from kb.output.writing import refuse
    from kb.words.errors import DataError
    from loaders.answerlist import write
    from loaders.inquiries import fingerprint, kind_of, rows

    kind_of(output)
    kind = answers(("inquiry", *ANSWERS))
    refuse(output, kind, inputs=[inquiries, Path(db)], force=force)
    job = task(Path(db), costs)
    about = {"inquiries": fingerprint(inquiries), "kind": kind_of(inquiries), "digest": job.digest, "costs": costs, "format": 2}
    columns: list[str] = []
    asked = (InquiryRow(row.values, row.error, row.number) for row in rows(inquiries, columns))
    journal = Journal(output.absolute().parent / f".{output.name}.unfinished", _plain(about), asked, columns, chunk or CHUNK)
    if not any(heading(name) for name in journal.columns):
        journal.remove()
        raise DataError(f'No column of "{inquiries}" is one that is read.', "Name them part, serial, mark, saw; the help says which there are.")
    if journal.left_by:
        click.echo(f"{journal.left_by} was at work here and is gone; this run takes over.", err=True)
    if journal.taken_up:
        click.echo(f"Going on: {journal.taken_up} of {journal.chunks} chunks were finished before.", err=True)
    try:
        with counted("answering", journal.inquiries, journal.answered) as progress:
            _answer(job, journal, workers or os.cpu_count() or 1, scheduler, progress)
    except BaseException as stopped:
        journal.release()
        if not isinstance(stopped, KeyboardInterrupt):
            raise
        raise click.ClickException(f"Stopped. {len(journal.done)} of {journal.chunks} chunks are kept: the same command goes on.") from None
    names = {name: name if name not in journal.columns else f"kb_{name}" for name in ("inquiry", *ANSWERS)}
    write(output, [*journal.columns, *names.values()], _rows(journal, names), frozenset(names[n] for n in (*NUMBERS, "inquiry")), kind, force=True)
    journal.remove()
    click.echo(f"{output}: {journal.inquiries} inquiries answered.", err=True)


def _answer(job: "Task", journal: "Journal", workers: int, scheduler: str | None, progress: Any) -> None:
    from kb.batch.workers import answer_by_processes, answer_here

    if scheduler:
        from kb.batch.cluster import answer_on_cluster

        answer_on_cluster(job, journal, scheduler, progress)
    elif workers == 1 or len(journal.left) <= 1:
        answer_here(job, journal, progress)
    else:
        answer_by_processes(job, journal, workers, progress)


def _rows(journal: "Journal", names: dict[str, str]) -> Iterator[dict[str, Any]]:
    """The rows of the answer: the inquiry's own columns, its row number, and the answer's columns."""
    for inquiry, answers in journal.answers():
        for answer in answers:
            yield {**inquiry.values, names["inquiry"]: inquiry.number, **{names[name]: value for name, value in answer.items()}}


def _plain(about: dict[str, Any]) -> dict[str, Any]:
    """As JSON gives it back, so that it can be compared."""
    return {name: list(value) if isinstance(value, tuple) else value for name, value in about.items()}
