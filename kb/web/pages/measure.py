"""Is a measure of a step within its limits, and which shims would bring it there."""

from itertools import groupby
from typing import Any

from kb.desk.workshop.measure import at_hand, shims_of
from kb.store import procedures as stored
from kb.store.book import Book
from kb.web.address import Pairs
from kb.web.form import MOST_OFFERED
from kb.web.pages.page import Elsewhere, Page, Request, Shown, evidence_of
from kb.web.pool import Opened
from kb.words.addresses import address
from kb.words.answers.workshop import MeasureAnswer
from kb.words.errors import DataError, KbError
from kb.words.evidence import Evidence


def answer(opened: Opened, asked: Request) -> MeasureAnswer:
    """What `kb measure` answers."""
    step, value = asked.query.one("step"), asked.query.one("value")
    if not step or not value:
        problem = "No step is named." if not step else f'It is not said what was found in step "{step[:60]}".'
        raise DataError(problem, "Name both: /measure.json?step=arbor-10&value=0.35mm.")
    unit = evidence_of(opened, asked)
    return opened.kb.measure(step, value, at_hand(_counts(asked)), None if unit.empty else unit)


def sheet(opened: Opened, asked: Request) -> Shown | Elsewhere:
    """The form, with the judgement above it once a measure is given."""
    step, value = asked.query.one("step"), asked.query.one("value")
    shims = shims_of(opened.book, step) if step else []
    if "shim" in asked.query:
        counts = _counts(asked)
        usual = [f"{shim.name}={shim.count}" for shim in shims]
        kept = [("at_hand", count) for count in counts] if counts != usual else []
        return Elsewhere(address("/measure", [("step", step), ("value", value), *kept, *_unit(opened, asked)]))
    row = stored.step(opened.book, step) if step else None
    shown = shims if row is not None and row.shims else []
    values: dict[str, Any] = {"answer": None, "error": None, "steps": _steps(opened.book), "shims": shown, "step": row}
    try:
        values["unit_pairs"] = _unit(opened, asked)
        if value or (step and row is None):
            values["answer"] = answer(opened, asked)
    except KbError as error:
        return Shown("measure.html", {"unit_pairs": [], **values, "error": error}, 400)
    return Shown("measure.html", values, answers=values["answer"] is not None)


def _unit(opened: Opened, asked: Request) -> Pairs:
    unit: Evidence = evidence_of(opened, asked)
    return unit.fields


def _counts(asked: Request) -> list[str]:
    """The shims at hand in the notation of the command line: from the address, or from the two columns of the form."""
    return asked.query.all("at_hand") + [f"{s}={n or 0}" for s, n in zip(asked.query.all("shim"), asked.query.all("count"), strict=False)]


def _steps(book: Book) -> list[tuple[str, list[Any]]] | None:
    """The steps that have limits, by procedure; None if they are more than a list can hold."""
    rows = stored.steps_with_limits(book, MOST_OFFERED + 1)
    return None if len(rows) > MOST_OFFERED else [(title, list(mine)) for title, mine in groupby(rows, lambda row: row.title)]


MEASURE = Page("/measure", sheet, answer)
