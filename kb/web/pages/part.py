"""A part: what it is, what can be bought today, which units it fits."""

from kb.store import parts as stored
from kb.store.procedures import uses_of
from kb.web.form import Choices, Form
from kb.web.pages.page import NotHere, Page, Request, Shown
from kb.web.pool import Opened
from kb.words.answers.catalogue import PartAnswer
from kb.words.answers.fitment import UnitRange
from kb.words.errors import KbError


def answer(opened: Opened, asked: Request) -> PartAnswer:
    """The part, what it has become, and which units it fits."""
    try:
        return opened.kb.part(asked.steps["number"])
    except KbError as error:
        raise NotHere(error.problem, error.remedy) from error


def sheet(opened: Opened, asked: Request) -> Shown:
    """The page of a part."""
    found, book = answer(opened, asked), opened.book
    number = found.part_number
    form = Form()
    values = {
        "found": found,
        "row": stored.part(book, number),
        "ranges": by_place(found.units.units),
        "dimensions": stored.dimensions(book, number),
        "holds": stored.contents(book, number),
        "held_by": stored.kits_with(book, number),
        "fitments": stored.fitments_named(book, number),
        "before": stored.replaced_by(book, number),
        "used_in": uses_of(book, number),
        "form": form,
        "choices": Choices(book, form),
        "action": "/fits",
        "part": number,
    }
    return Shown("part.html", values)


def by_place(ranges: list[UnitRange]) -> list[tuple[UnitRange, str]]:
    """The ranges, those that differ only in the place together, with their places."""
    places: dict[str, list[str]] = {}
    kinds: dict[str, UnitRange] = {}
    for each in ranges:
        kind = each.model_copy(update={"place": ""}).model_dump_json()
        places.setdefault(kinds.setdefault(kind, each).model_dump_json(), []).append(each.place)
    return [(each, ", ".join(filter(None, places[each.model_dump_json()]))) for each in kinds.values()]


PART = Page("/parts/(?P<number>[^/]+?)", sheet, answer)
