"""What every page is: an address, an answer for `.json`, and a sheet for people."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel

from kb.probability.inference.costs import Costs
from kb.web.address import Query
from kb.web.form import Form, read_form
from kb.web.pool import Opened
from kb.words.errors import DataError, QuestionError
from kb.words.evidence import Evidence

COSTS = ("return_cost", "sale_value")
Answer = BaseModel | Sequence[BaseModel]


class NotHere(QuestionError):
    """The address names something that this knowledge base does not have."""


@dataclass(frozen=True)
class Request:
    """One request: its path without `.json`, the steps of the path that vary, its query, and the site's own address in full."""

    path: str
    steps: dict[str, str]
    query: Query
    home: str = ""


@dataclass(frozen=True)
class Shown:
    """A page to be shown: its template and what stands in it. answers: there is an answer on it, which the `.json` twin gives, too."""

    template: str
    values: dict[str, Any] = field(default_factory=dict)
    status: int = 200
    answers: bool = True


@dataclass(frozen=True)
class Printed:
    """A page that is complete in itself, with a style sheet inside, as it would be written to a file."""

    text: str


@dataclass(frozen=True)
class Elsewhere:
    """The page is at another address."""

    path: str


@dataclass(frozen=True)
class Page:
    """A page of the site.

    pattern: of its path; answer: what `.json` gives, if there is one; sheet: what a browser gets.
    """

    pattern: str
    sheet: Callable[[Opened, Request], Shown | Printed | Elsewhere]
    answer: Callable[[Opened, Request], Answer] | None = None


def evidence_of(opened: Opened, asked: Request) -> Evidence:
    """The evidence that an address carries.

    Raises:
        KbError: a piece of it cannot be understood.
    """
    return read_form(opened.book, asked.query).evidence()


def complete_form(opened: Opened, asked: Request) -> tuple[Form, Evidence | None]:
    """The form as it came, and its evidence if nothing is wrong with it and no further rows are wanted."""
    form = read_form(opened.book, asked.query)
    return form, None if form.wrong or form.more else form.evidence()


def rate_of(asked: Request) -> float | None:
    """How often castings were replaced, if the address says so.

    Raises:
        DataError: not a share.
    """
    text = asked.query.one("replaced_rate")
    if not text:
        return None
    try:
        rate = float(text)
    except ValueError:
        rate = -1.0
    if not 0 <= rate <= 1:
        raise DataError(f'"{text[:40]}" is not a share.', "Write replaced_rate as a number from 0 to 1, as in 0.1.")
    return rate


def costs_of(asked: Request) -> Costs | None:
    """What a return costs and what a sale brings, if the address says so.

    Raises:
        DataError: only one of them, or one that is no amount above 0.
    """
    texts = [asked.query.one(name) for name in COSTS]
    if not any(texts):
        return None
    amounts = []
    for text in texts:
        try:
            amount = float(text.replace(",", "."))
        except ValueError:
            amount = 0.0
        if not 0 < amount < float("inf"):
            problem = f'"{text[:40]}" is no amount.' if text else "Only one of the two costs is stated."
            raise DataError(problem, "State what a return costs (return_cost) and what a sale brings (sale_value), both above 0, in one currency.")
        amounts.append(amount)
    return Costs(*amounts)


def choice_of(asked: Request, name: str, allowed: Sequence[str]) -> str:
    """One of several words; the first if nothing is said.

    Raises:
        DataError: another word.
    """
    text = asked.query.one(name) or allowed[0]
    if text not in allowed:
        raise DataError(f'"{text[:40]}" is no choice for {name}.', f"Write {' or '.join(allowed)}.")
    return text
