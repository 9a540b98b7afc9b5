"""The variants of a component side by side: what they look like, how to tell them apart, when each was fitted."""

from kb.desk.sentences.numbers import fitted_between
from kb.desk.workshop.comparison import pictures_of
from kb.web.pages.page import NotHere, Page, Request, Shown
from kb.web.pool import Opened
from kb.words.answers.catalogue import Comparison
from kb.words.errors import QuestionError


def answer(opened: Opened, asked: Request) -> Comparison:
    """What `kb compare` answers."""
    try:
        return opened.kb.compare(asked.steps["component"][:60])
    except QuestionError as error:
        raise NotHere(error.problem, error.remedy) from error


def sheet(opened: Opened, asked: Request) -> Shown:
    """The page."""
    found = answer(opened, asked)
    component = opened.book.components[found.component]
    pictures = pictures_of(opened.book, "component", found.component)
    return Shown("compare.html", {"found": found, "component": component, "pictures": pictures, "span_words": fitted_between})


COMPARE = Page("/compare/(?P<component>[^/]+?)", sheet, answer)
