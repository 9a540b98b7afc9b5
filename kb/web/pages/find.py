"""The one box that takes anything: what a text may mean here, and the way to the answer when it can only mean one thing."""

from kb.web.pages.page import Elsewhere, Page, Request, Shown
from kb.web.pool import Opened
from kb.words.answers.catalogue import Meanings
from kb.words.errors import KbError


def answer(opened: Opened, asked: Request) -> Meanings:
    """What `kb look` answers."""
    return opened.kb.look(asked.query.one("q"))


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


FIND = Page("/find", sheet, answer)
