"""The unit in front of somebody: the form, and what the unit is."""

import json

from kb.desk.workshop.print.page import code
from kb.web.address import Asked
from kb.web.form import Choices, Form
from kb.web.pages.page import Elsewhere, Page, Request, Shown, complete_form, evidence_of, rate_of
from kb.web.pages.partlist import assemblies_of, by_assembly, few_parts, with_procedure
from kb.web.pool import Opened
from kb.words.addresses import address
from kb.words.answers.identification import Identification
from kb.words.errors import DataError, KbError
from kb.words.evidence import Evidence

MOST_UNITS = 6  # on a page; JSON has them all
WORTH_A_LINE = 0.01  # display


def form_sheet(
    opened: Opened, form: Form, action: str = "/identify", status: int = 0, error: KbError | None = None, part: str | None = None
) -> Shown:
    """The form with what was typed in it. part: the part number asked about, where that is asked."""
    if error is not None:
        form.errors[""] = error
    values = {"form": form, "choices": Choices(opened.book, form), "action": action, "part": part}
    return Shown("form.html", values, status or (400 if form.wrong and not form.more else 200), answers=False)


def front(opened: Opened, asked: Request) -> Shown:
    """The front page."""
    form = Form()
    counts = json.loads(opened.book.info["rows"])
    return Shown("front.html", {"form": form, "choices": Choices(opened.book, form), "action": "/identify", "part": None, "counts": counts})


def answer(opened: Opened, asked: Request) -> Identification:
    """What `kb identify` answers."""
    return opened.kb.identify(evidence_of(opened, asked), replaced_rate=rate_of(asked))


def sheet(opened: Opened, asked: Request) -> Shown | Elsewhere:
    """The form, or once it is complete, the identification at the address that carries all of it."""
    form, evidence = complete_form(opened, asked)
    if evidence is None or evidence.empty:
        return form_sheet(opened, form)
    pairs = evidence.fields
    if form.typed:
        return Elsewhere(address("/identify", pairs))
    rate = rate_of(asked)
    try:
        found = opened.kb.identify(evidence, replaced_rate=rate)
        fits = opened.kb.parts(found, replaced_rate=rate) if few_parts(opened, found) else []
    except KbError as error:
        return form_sheet(opened, form, error=error)
    own = address("/identify", pairs)
    shown = [unit for unit in found.units[:MOST_UNITS] if unit is found.units[0] or unit.probability >= WORTH_A_LINE]
    values = {
        "found": found,
        "shown": shown,
        "serials": _serials(found),
        "rest": 1 - found.not_in_knowledge_base - sum(unit.probability for unit in shown),
        "pairs": pairs,
        "known": Asked(pairs),
        "sheets": with_procedure(opened.book, found),
        "assemblies": by_assembly(opened.book, fits)[0],
        "to_choose": [] if few_parts(opened, found) else assemblies_of(opened.book, found),
        "code": code(asked.home + own),
        "own": asked.home + own,
    }
    return Shown("identification.html", values)


def _serials(found: Identification) -> list[tuple[str, float]]:
    """The whole serials worth naming, whatever model each would be."""
    likely: dict[str, float] = {}
    for each in found.serials:
        likely[each.serial] = likely.get(each.serial, 0.0) + each.probability
    return [(serial, probability) for serial, probability in likely.items() if probability >= WORTH_A_LINE]


def require(evidence: Evidence) -> Evidence:
    """Evidence that says something.

    Raises:
        DataError: it says nothing.
    """
    if evidence.empty:
        raise DataError("Nothing is said about the unit.", "Give a serial, a mark or something seen: ?serial=2%3F5, as docs/api.md shows.")
    return evidence


FRONT = Page("/", front)
IDENTIFY = Page("/identify", sheet, answer)
