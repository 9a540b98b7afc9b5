"""A loose casting by what can still be read of its number."""

from collections.abc import Iterable, Mapping

from kb.desk.sentences.numbers import open_bits
from kb.probability.channel.reading import second_looks
from kb.web.address import Pairs
from kb.web.form import Choices, Form
from kb.web.pages.page import Page, Request, Shown
from kb.web.pool import Opened
from kb.words.addresses import address
from kb.words.answers.identification import CastingAnswer
from kb.words.errors import DataError, KbError
from kb.words.evidence import WEAR_LEVELS
from kb.words.pieces import LONGEST

ORIGIN = ("maker", "component", "model", "serial_from", "serial_to")  # what is known of where it came from
MOST_SHOWN = 25
WORTH_A_LINE = 0.01  # display


def answer(opened: Opened, asked: Request) -> CastingAnswer:
    """What `kb casting` answers."""
    mark, wear = asked.query.one("mark"), asked.query.one("wear")
    if not mark:
        raise DataError("No mark is given.", "Add what can be read: /castings.json?mark=V21%3F1.")
    if len(mark) > LONGEST:
        raise DataError(f'"{mark[:20]}..." is longer than {LONGEST} characters.', "Give one number at a time.")
    if wear and wear not in WEAR_LEVELS:
        raise DataError(f'"{wear[:40]}" is not a degree of wear.', f"Choose one of {', '.join(WEAR_LEVELS)}.")
    again = second_looks(text for text in asked.query.all("again") if text)
    return opened.kb.casting(mark, wear=wear or None, again=again, **{name: asked.query.one(name) or None for name in ORIGIN})


class _SecondLooks:
    """What is asked, to be asked again with one more second look."""

    def __init__(self, pairs: Pairs) -> None:
        self._pairs = pairs

    def adding(self, path: str, adds: Mapping[str, str], further: Iterable[tuple[str, str]] = ()) -> str:
        """The address that an outcome of a second look leads to."""
        return address(path, [*further, *self._pairs, *adds.items()])


def sheet(opened: Opened, asked: Request) -> Shown:
    """The form, with the castings below it once a number is given."""
    form = Form(maker=asked.query.one("maker"), model=asked.query.one("model"), wear=asked.query.one("wear"))
    origin = {name: asked.query.one(name) for name in ORIGIN}
    values = {"form": form, "origin": origin, "choices": Choices(opened.book, Form()), "mark": asked.query.one("mark"), "found": None, "error": None,
              "again": [text for text in asked.query.all("again") if text], "known": _SecondLooks(asked.query.pairs)}  # fmt: skip
    if not values["mark"]:
        return Shown("castings.html", values, answers=False)
    try:
        found = answer(opened, asked)
    except KbError as error:
        return Shown("castings.html", {**values, "error": error}, 400)
    shown = [match for match in found.matches[:MOST_SHOWN] if match is found.matches[0] or match.probability >= WORTH_A_LINE]
    asked_bits = open_bits([*(match.probability for match in found.matches), found.not_in_knowledge_base])
    return Shown("castings.html", {**values, "found": found, "shown": shown, "hidden": len(found.matches) - len(shown), "asked_bits": asked_bits})


CASTINGS = Page("/castings", sheet, answer)
