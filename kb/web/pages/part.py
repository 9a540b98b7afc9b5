"""A part: what it is, what can be bought today, which units it fits."""

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
    row = book.one("select * from parts where part_number = ?", number)
    form = Form()
    values = {
        "found": found,
        "row": row,
        "ranges": by_place(found.units.units),
        "dimensions": book.rows("select * from dimensions where part_number = ? order by rowid", number),
        "holds": book.rows(
            "select c.part_number, c.quantity, p.description from contents c join parts p using (part_number)"
            " where c.kit_number = ? order by c.rowid",
            number,
        ),
        "held_by": book.rows(
            "select c.kit_number, c.quantity, p.description from contents c join parts p on p.part_number = c.kit_number"
            " where c.part_number = ? order by c.rowid",
            number,
        ),
        "fitments": book.rows("select * from fitments where part_number = ? and retracted is null order by rowid", number),
        "before": book.rows("select old_part, source_id from supersessions where new_part = ? and retracted is null order by rowid", number),
        "used_in": book.rows(
            "select s.step_id, s.text, p.title, p.procedure_id from step_parts sp join steps s using (step_id) join procedures p using (procedure_id)"
            " where sp.part_number = ? order by p.procedure_id, s.position",
            number,
        ),
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
