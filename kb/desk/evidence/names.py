"""What somebody's name for a maker, model, series or component means here, and what was probably meant where it means nothing.

A component may be named by its id or, where that is plain, by its name or the end of its id ("crankcase"); then it is meant of every
maker that has one.
"""

from collections.abc import Iterable, Mapping
from typing import TypeVar

from kb.store.book import Book
from kb.store.rows import ComponentRow, MakerRow, ModelRow, SeriesRow
from kb.words.errors import QuestionError
from kb.words.notation import simplify

Named = TypeVar("Named", MakerRow, ModelRow, SeriesRow, ComponentRow)
ALIKE = 60  # of 100, from which on a name may have been meant


def named(rows: Mapping[str, Named], text: str, what: str) -> Named:
    """The row with this id or this name.

    Raises:
        QuestionError: there is none, or several have the name.
    """
    if text in rows:
        return rows[text]
    found = [row for row in rows.values() if simplify(row.name) == simplify(text)]
    if len(found) == 1:
        return found[0]
    if found:
        raise QuestionError(f'Several are called "{text}".', f"Name the {what} by its id: {listed(row[0] for row in found)}.")
    raise QuestionError(f'There is no {what} "{text}" in this knowledge base.', suggestion(text, [*rows, *(row.name for row in rows.values())]))


def suggestion(text: str, known: Iterable[str]) -> str:
    """A remedy that offers what was probably meant, else some of what is known."""
    from rapidfuzz import fuzz, process  # only a name that is not known needs it

    known = list(dict.fromkeys(known))
    near = [name for name, _, _ in process.extract(text, known, scorer=fuzz.ratio, processor=simplify, score_cutoff=ALIKE, limit=3)]
    return f"Did you mean {listed(near)}?" if near else f"Known are {listed(known[:12])}{' and more' if len(known) > 12 else ''}." if known else ""


def locate(book: Book, makers: Iterable[str], component: str, place: str, text: str) -> dict[str, tuple[str, str]]:
    """maker_id -> (component_id, place) for every maker that has the component.

    Raises:
        QuestionError: no maker has it, a maker has several, or the place is missing or wrong.
    """
    spots: dict[str, tuple[str, str]] = {}
    wrong_place: QuestionError | None = None
    for maker, row in components_named(book, makers, component).items():
        if place in row.places:
            spots[maker] = (row.component_id, place)
        elif not place:
            wrong_place = QuestionError(f'"{text}" does not say which {row.name}.', f"Write {listed(f'{component}@{p}' for p in row.places)}.")
        else:
            remedy = f"Its places are {listed(row.places)}." if row.places != ("",) else "It has one place only: leave out the @."
            wrong_place = QuestionError(f'There is no {row.name} at "{place}".', remedy)
    if not spots and wrong_place:
        raise wrong_place
    return spots


def components_named(book: Book, makers: Iterable[str], name: str) -> dict[str, ComponentRow]:
    """maker_id -> its component of this id or name, for every maker that has one.

    Raises:
        QuestionError: no maker has it, or a maker has several.
    """
    makers, found = tuple(makers), {}
    for maker in makers:
        mine = [c for c in book.components.values() if c.maker_id == maker]
        meant = [c for c in mine if c.component_id == name] or [
            c for c in mine if simplify(c.name) == simplify(name) or c.component_id.endswith("-" + name.lower())
        ]
        if len(meant) > 1:
            raise QuestionError(f'"{name}" may be several components.', f"Name it by its id: {listed(c.component_id for c in meant)}.")
        if meant:
            found[maker] = meant[0]
    if not found:
        known = [c for c in book.components.values() if c.maker_id in makers]
        problem = f'There is no component "{name}" in this knowledge base.'
        raise QuestionError(problem, suggestion(name, [c.component_id for c in known] + [c.name for c in known]))
    return found


def maker_of(book: Book, maker: str | None, model: str | None) -> tuple[str, str]:
    """The ids of the maker and the model that are named, the maker that of the model where none is; "" where nothing is named.

    Raises:
        QuestionError: one is not known, or the model is by another maker.
    """
    named_model = named(book.models, model, "model") if model else None
    named_maker = named(book.makers, maker, "maker") if maker else None
    if named_model and named_maker and named_model.maker_id != named_maker.maker_id:
        problem = f'The model "{named_model.name}" is not by {named_maker.name}.'
        raise QuestionError(problem, f"Its maker is {book.makers[named_model.maker_id].name}.")
    by = named_model.maker_id if named_model else named_maker.maker_id if named_maker else ""
    return by, named_model.model_id if named_model else ""


def listed(names: Iterable[str]) -> str:
    """Names in quotation marks, as alternatives."""
    names = [f'"{name}"' for name in names]
    return " or ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
