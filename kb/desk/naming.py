"""What somebody's name for a maker, model, series or component means here, and what was probably meant where it means nothing.

A component may be named by its id or, where that is plain, by its name or the end of its id ("crankcase"); then it is meant of every
maker that has one.
"""

from collections.abc import Iterable

from kb.file.book import Book, Row
from kb.words.errors import QuestionError
from kb.words.notation import simplify

ALIKE = 60  # of 100, from which on a name may have been meant


def named(rows: dict[str, Row], text: str, what: str) -> Row:
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
    makers = tuple(makers)
    spots: dict[str, tuple[str, str]] = {}
    wrong_place: QuestionError | None = None
    for maker in makers:
        mine = [c for c in book.components.values() if c.maker_id == maker]
        found = [c for c in mine if c.component_id == component] or [
            c for c in mine if simplify(c.name) == simplify(component) or c.component_id.endswith("-" + component.lower())
        ]
        if len(found) > 1:
            raise QuestionError(f'"{component}" may be several components.', f"Name it by its id: {listed(c.component_id for c in found)}.")
        if not found:
            continue
        places = found[0].places
        if place in places:
            spots[maker] = (found[0].component_id, place)
        elif not place:
            wrong_place = QuestionError(f'"{text}" does not say which {found[0].name}.', f"Write {listed(f'{component}@{p}' for p in places)}.")
        else:
            here = f"Its places are {listed(places)}." if places != ("",) else "It has one place only: leave out the @."
            wrong_place = QuestionError(f'There is no {found[0].name} at "{place}".', here)
    if spots:
        return spots
    if wrong_place:
        raise wrong_place
    known = [c for c in book.components.values() if c.maker_id in makers]
    raise QuestionError(
        f'There is no component "{component}" in this knowledge base.',
        suggestion(component, [c.component_id for c in known] + [c.name for c in known]),
    )


def listed(names: Iterable[str]) -> str:
    """Names in quotation marks, as alternatives."""
    names = [f'"{name}"' for name in names]
    return " or ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
