"""What confirmed readings taught, with the diagram of stated against right."""

from kb.web.pages.page import Page, Request, Shown
from kb.web.pool import Opened
from kb.words.answers.review import ReadingsReview


def answer(opened: Opened, asked: Request) -> ReadingsReview:
    """What `kb review --readings` answers."""
    return opened.kb.review_readings()


def sheet(opened: Opened, asked: Request) -> Shown:
    """The same as a page."""
    return Shown("readings.html", {"found": answer(opened, asked)})


READINGS = Page("/readings", sheet, answer)
