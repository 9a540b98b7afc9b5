"""A part: what it is, what can be bought today, which units it fits."""

from kb.store.book import Row
from kb.web.form import Choices, Form
from kb.web.pages.page import NotHere, Page, Request, Shown
from kb.web.pool import Opened
from kb.words.answers.base import Answer
from kb.words.answers.fitment import TraceAnswer, UnitRange, UnitsAnswer
from kb.words.errors import KbError


class PartAnswer(Answer):
    """A part number: what it is, what it has become (`kb trace`), which units it fits (`kb units`)."""

    part_number: str
    description: str
    kind: str
    unit: str
    available: str
    trace: TraceAnswer
    units: UnitsAnswer


def find_part(opened: Opened, number: str) -> tuple[Row, TraceAnswer]:
    """The row of a part by its number, however it is written, and what it has become.

    Raises:
        NotHere: no such part.
    """
    try:
        trace = opened.kb.current(number)
    except KbError as error:
        raise NotHere(error.problem, error.remedy) from error
    row = opened.book.one("select * from parts where part_number = ?", trace.asked)
    assert row is not None
    return row, trace


def answer(opened: Opened, asked: Request) -> PartAnswer:
    """The part with both answers about it."""
    row, trace = find_part(opened, asked.steps["number"])
    return PartAnswer(
        part_number=row.part_number,
        description=row.description,
        kind=row.kind,
        unit=row.unit,
        available=row.available,
        trace=trace,
        units=opened.kb.units(row.part_number),
    )


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
