"""What confirmed readings taught, with the diagram of stated against right."""

from kb.web.desk import Opened
from kb.web.pages.page import Asked, Page, Sheet
from kb.words.readings import ReadingsReview


def answer(opened: Opened, asked: Asked) -> ReadingsReview:
    """What `kb review --readings` answers."""
    return opened.kb.review_readings()


def sheet(opened: Opened, asked: Asked) -> Sheet:
    """The same as a page."""
    return Sheet("readings.html", {"found": answer(opened, asked)})


READINGS = Page("/readings", sheet, answer)
