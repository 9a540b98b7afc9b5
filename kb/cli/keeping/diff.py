"""`kb diff`: what changed between two datasets or databases, and which answers change with it."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.cli.options import json_option

if TYPE_CHECKING:
    from kb.api import KnowledgeBase


@click.command("diff")
@click.argument("old", type=click.Path(path_type=Path))
@click.argument("new", type=click.Path(path_type=Path))
@click.option("--questions", metavar="FILE", type=click.Path(path_type=Path), help="A list as for kb batch, to see which of its answers change.")
@json_option
def command(old: Path, new: Path, questions: Path | None, as_json: bool) -> None:
    """Say what changed from OLD to NEW; each is a dataset folder or a built database.

    First come the change-overs that moved, and why, then supersessions, parts, fitments and sources, and then every other row. A withdrawn row
    counts as gone.
    """
    from kb.cli.show import show
    from kb.cli.views.differences import differences
    from kb.desk.review.answer_changes import changed_answers
    from kb.desk.review.changes import changes
    from kb.store.book import Book
    from kb.words.answers.review import DiffAnswer
    from loaders.inquiries import read

    with tempfile.TemporaryDirectory(prefix="kb-diff-") as room:
        paths = [_built(given, Path(room) / f"{number}.db") for number, given in enumerate((old, new))]
        books = [Book(path) for path in paths]
        found = changes(*books)
        for book in books:
            book.close()
        answers = None
        asked = read(questions).rows if questions else []
        if questions:
            with _open(paths[0]) as before, _open(paths[1]) as after:
                answers = list(changed_answers(before, after, ((row.number, row.values) for row in asked if not row.error)))
    show(DiffAnswer(changes=found, questions=answers, asked=len(asked)), as_json, differences)


@contextmanager
def _open(path: Path) -> Iterator["KnowledgeBase"]:
    from kb.api import KnowledgeBase

    with KnowledgeBase.open(path) as book:
        yield book


def _built(given: Path, target: Path) -> Path:
    """The database itself, or one built from the folder."""
    from kb.store.build import build
    from kb.words.errors import DataError, FileError
    from loaders.folder import load

    if not given.exists():
        raise FileError(f'There is no file or folder "{given}".', "Name a dataset folder or a database that kb build wrote.")
    if not given.is_dir():
        return given
    loaded = load([given])
    if loaded.wrong:
        wrong = next(each for each in loaded.findings if each.severity == "error")
        raise DataError(f'"{given}" has errors. {wrong.file}, row {wrong.row}: {wrong.problem}', "kb check says all of them.")
    build(loaded.dataset, target, extras=loaded.extras, pictures=loaded.pictures, problems=loaded.problems)
    return target
