"""Which answers of a list of questions are not the same in two knowledge bases: in words, by what somebody would act on.

Of a question about a part its verdict at each place and what can be bought; of one about a unit what it is and what is on it. Probabilities
that move without moving any of these are no change.
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Protocol

from kb.desk.trade.inquiry import Heading, Inquiry, heading, parse
from kb.words.answers.fitment import Fit
from kb.words.answers.identification import Identification
from kb.words.answers.review import ChangedAnswer
from kb.words.errors import DataError, KbError
from kb.words.evidence import Evidence


class Answerer(Protocol):
    """What has to answer: `kb.api.KnowledgeBase`."""

    def identify(self, evidence: Evidence) -> Identification:
        """What a unit is."""

    def fits(self, part_number: str, found: Evidence) -> list[Fit]:
        """Whether a part fits it."""


def changed_answers(old: Answerer, new: Answerer, questions: Iterable[tuple[int, Mapping[str, Any]]]) -> Iterator[ChangedAnswer]:
    """The questions whose answers differ.

    Args:
        old, new: the two knowledge bases.
        questions: number of the row and its cells, as `kb batch` reads them.

    Raises:
        DataError: no column is one that is read.
    """
    rows = list(questions)
    headings = {name: found for _, row in rows for name in row if (found := heading(name)) is not None}
    if rows and not headings:
        raise DataError("No column of the questions is one that is read.", "Name them part, maker, model, serial, mark, saw, as for kb batch.")
    for number, row in rows:
        before, after = (_answer(book, row, headings) for book in (old, new))
        if before != after:
            yield ChangedAnswer(row=number, question=_question(row), before=before, after=after)


def _question(row: Mapping[str, Any]) -> str:
    return ", ".join(f"{name} {value}" for name, value in row.items() if value not in (None, ""))


def _answer(book: Answerer, row: Mapping[str, Any], headings: Mapping[str, Heading]) -> str:
    try:
        asked = parse(row, headings)
        return _of_part(book, asked) if asked.part else _of_unit(book, asked)
    except KbError as error:
        return f"no answer: {error.problem}"


def _of_part(book: Answerer, asked: Inquiry) -> str:
    said = []
    for fit in book.fits(asked.part, asked.evidence):
        current = ", ".join(f"{ships.part_number} {ships.verdict}" for ships in fit.current if ships.part_number != fit.part_number)
        said.append(f"{fit.name or fit.part_number}: {fit.verdict}{f' (today: {current})' if current else ''}")
    return "; ".join(said)


def _of_unit(book: Answerer, asked: Inquiry) -> str:
    found = book.identify(asked.evidence)
    if found.unknown or not found.units:
        return "not in this knowledge base"
    fitted = [f"{each.name}: {each.variant_name}{', probably not its first' if each.swapped else ''}" for each in found.fitted]
    return "; ".join([found.units[0].name, *fitted])
