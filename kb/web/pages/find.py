"""The one box that takes anything: what a text may mean here, and the way to the answer when it can only mean one thing."""

from typing import Literal

from pydantic import Field

from kb.desk.sentences.names import model_name
from kb.desk.sentences.numbers import span
from kb.probability.channel.reading import Reading
from kb.store.book import Book, Row
from kb.web.address import address, part_path, step
from kb.web.pages.page import Elsewhere, Page, Request, Shown
from kb.web.pool import Opened
from kb.words.answers.base import Answer
from kb.words.errors import DataError, KbError
from kb.words.evidence import Evidence
from kb.words.notation import simplify
from kb.words.pieces import LONGEST

LIKELY = 0.5  # display: that a number is in this knowledge base at all
MOST_FOUND = 12  # of things found by their words
Kind = Literal["part", "serial", "casting", "model", "component", "variant", "words", "near"]


class Meaning(Answer):
    """One thing that a text may mean, and the page that says more."""

    kind: Kind
    what: str
    address: str
    probability: float | None = Field(
        None, description="That a number so read is in this knowledge base, or that it was meant; null for what is found by name."
    )


class Meanings(Answer):
    """What a text may mean."""

    asked: str
    meanings: list[Meaning]


def answer(opened: Opened, asked: Request) -> Meanings:
    """Everything that the text may mean: names and numbers first, then readings, then words and measures, then what may have been meant by it."""
    text = asked.query.one("q")
    if not text:
        raise DataError("Nothing was typed.", "Type a serial, a casting number, a part number or a name: /find.json?q=6104.")
    if len(text) > 200:
        raise DataError("That is longer than 200 characters.", "Type one number or name at a time.")
    named = [*_parts(opened.book, text), *_named(opened.book, text)]
    return Meanings(asked=text, meanings=named + _readings(opened, text) or _words(opened.book, text) or _parts_looked_for(opened, text))


def sheet(opened: Opened, asked: Request) -> Shown | Elsewhere:
    """Straight to the answer, or the meanings to choose from."""
    if not asked.query.one("q"):
        return Elsewhere("/")
    try:
        found = answer(opened, asked)
    except KbError as error:
        return Shown("find.html", {"text": asked.query.one("q"), "meanings": [], "error": error}, 400)
    if len(found.meanings) == 1 and found.meanings[0].kind not in ("words", "near"):
        return Elsewhere(found.meanings[0].address)
    return Shown("find.html", {"text": found.asked, "meanings": found.meanings, "error": None})


def _parts(book: Book, text: str) -> list[Meaning]:
    rows = book.rows("select part_number, description from parts where normal = ? order by rowid limit ?", simplify(text), MOST_FOUND)
    return [Meaning(kind="part", what=f"{row.part_number}, {row.description}", address=part_path(row.part_number)) for row in rows]


def _named(book: Book, text: str) -> list[Meaning]:
    wanted = simplify(text)
    found = []
    for model in book.models.values():
        if wanted in (simplify(model.name), simplify(model.model_id)):
            what = model_name(book, model.maker_id, model.model_id)
            found.append(Meaning(kind="model", what=what, address=f"/models/{step(model.model_id)}"))
    for component in book.components.values():
        if wanted in (simplify(component.name), simplify(component.component_id)):
            maker = str(book.makers[component.maker_id].name).split(",")[0]
            found.append(Meaning(kind="component", what=f"{component.name}, {maker}", address=f"/compare/{step(component.component_id)}"))
    return found


def _readings(opened: Opened, text: str) -> list[Meaning]:
    """What the text is as a worn number: of a unit, of a casting."""
    if len(text) > LONGEST or not any(character.isalnum() for character in text):
        return []
    try:
        reading = Reading.parse(text)
    except KbError:
        return []
    if not any(len(token) == 1 and token.isalnum() for token in reading.tokens) or not any(c.isdigit() for c in text):
        return []
    found = []
    try:
        unit = opened.kb.identify(Evidence(serial=(text,)))
        known = 1 - unit.not_in_knowledge_base
        if known >= LIKELY and unit.units:
            first = unit.units[0]
            what = f"{model_name(opened.book, first.maker, first.model)}, no. {span(first.serial_first, first.serial_last)}"
            found.append(Meaning(kind="serial", what=what, address=address("/identify", [("serial", text)]), probability=known))
    except KbError:
        pass
    try:
        casting = opened.kb.casting(text)
        known = 1 - casting.not_in_knowledge_base
        if known >= LIKELY and casting.matches:
            match = casting.matches[0]
            found.append(
                Meaning(kind="casting", what=f"{match.text}, {match.name}", address=address("/castings", [("mark", text)]), probability=known)
            )
    except KbError:
        pass
    return sorted(found, key=lambda meaning: -(meaning.probability or 0))


def _words(book: Book, text: str) -> list[Meaning]:
    """Parts, models, components and variants whose description has all the words; the last word may be a beginning."""
    words = [word for word in "".join(c if c.isalnum() else " " for c in text).split() if word]
    if not words:
        return []
    match = " ".join(f'"{word}"' for word in words) + "*"
    found: list[Meaning] = []
    for row in _search(book, "parts", "t.part_number, t.description", match):
        found.append(Meaning(kind="words", what=f"part {row.part_number}, {row.description}", address=part_path(row.part_number)))
    for row in _search(book, "components", "t.component_id, t.name, t.maker_id", match):
        found.append(
            Meaning(kind="words", what=f"component {row.name}, {book.makers[row.maker_id].name}", address=f"/compare/{step(row.component_id)}")
        )
    for row in _search(book, "variants", "t.name, t.component_id", match):
        what = f"variant {row.name} of the {book.components[row.component_id].name}"
        found.append(Meaning(kind="words", what=what, address=f"/compare/{step(row.component_id)}"))
    for row in _search(book, "models", "t.model_id, t.name", match):
        found.append(Meaning(kind="words", what=f"model {row.name}", address=f"/models/{step(row.model_id)}"))
    return found


def _parts_looked_for(opened: Opened, text: str) -> list[Meaning]:
    """Parts of such measures ("35 x 52 x 7"); else those whose number is a slip away: what may have been meant, never taken for it."""
    found = opened.kb.find(text)
    by_measure = [Meaning(kind="words", what=f"part {p.part_number}, {p.description}", address=part_path(p.part_number)) for p in found.parts]
    return by_measure[:MOST_FOUND] or [
        Meaning(kind="near", what=f"{n.part_number}, {n.description} ({n.slip})", address=part_path(n.part_number), probability=n.probability)
        for n in found.near
    ]


def _search(book: Book, table: str, columns: str, match: str) -> list[Row]:
    sql = f"select {columns} from {table}_fts f join {table} t on t.rowid = f.rowid where {table}_fts match ? order by rank, t.rowid limit ?"
    return book.rows(sql, match, MOST_FOUND)


FIND = Page("/find", sheet, answer)
