"""Change-overs: when a casting changed in a series, by all that is claimed and seen."""

from collections.abc import Sequence

from kb.store.book import Book
from kb.web.history import DrawnChangeOver, changes_of
from kb.web.pages.page import NotHere, Page, Request, Shown
from kb.web.pool import Opened
from kb.words.answers.review import ChangeOver, ReviewAnswer


def answer(opened: Opened, asked: Request) -> ReviewAnswer:
    """What `kb review` answers."""
    return opened.kb.review(asked.query.one("series") or None, asked.query.one("component") or None)


def sheet(opened: Opened, asked: Request) -> Shown:
    """All change-overs in a list by series; of one component, each with its picture."""
    review = answer(opened, asked)
    series, component = asked.query.one("series"), asked.query.one("component")
    if not component:
        return Shown(
            "changeovers.html",
            {"groups": _by_series(review.changeovers), "disputes": review.disputes, "series": series, "rate": review.replaced_rate},
        )
    of_series = dict.fromkeys(each.series for each in review.changeovers)
    in_full = [review] if series else [opened.kb.review(each, component) for each in of_series]
    changes: list[DrawnChangeOver] = [change for part in in_full for found in part.changeovers for change in changes_of(opened.book, found)]
    component_id = review.changeovers[0].component if review.changeovers else _known(opened.book, component)
    values = {"changes": changes, "component": component_id, "disputes": review.disputes, "series": series}
    return Shown("changeover.html", values)


def _known(book: Book, component: str) -> str:
    if component not in book.components:
        raise NotHere(f'There is no component "{component[:60]}" in this knowledge base.', "The list of change-overs names those that there are.")
    return component


def _by_series(found: Sequence[ChangeOver]) -> list[tuple[str, list[ChangeOver]]]:
    groups: dict[str, list[ChangeOver]] = {}
    for each in found:
        groups.setdefault(each.series, []).append(each)
    return list(groups.items())


CHANGEOVERS = Page("/changeovers", sheet, answer)
