"""A stock list with what the knowledge base says of it, as text and as columns (`kb stock`)."""

from collections.abc import Sequence

from rich.console import Console

from kb.cli.views.layout import columns, heading, line
from kb.desk.sentences.numbers import many
from kb.words.answers.trade import Stocked

TITLES = {
    "superseded": "Superseded",
    "unavailable": "No longer available, and nothing replaces it",
    "current": "Current",
    "unknown": "Unknown here",
}


def stocked(answers: Sequence[Stocked], console: Console) -> None:
    """By status: what has to be looked at first. A number that stands on several lines is shown once."""
    numbers = list({answer.asked: answer for answer in answers if answer.asked}.values())
    for status, title in TITLES.items():
        mine = [answer for answer in numbers if answer.status == status]
        if mine:
            heading(console, f"{title} ({len(mine)})")
            columns(console, ("", "", ""), [_row(answer) for answer in mine])
    same = [answer for answer in numbers if answer.same_as and answer.part_number]
    if same:
        heading(console, "The same thing under other numbers of this list")
        for answer in same:
            line(console, f"{answer.asked}: {'; '.join(answer.same_as)}")
    fitting = [answer for answer in numbers if answer.fits]
    if fitting:
        heading(console, "Fits")
        columns(console, ("", ""), [(answer.asked, answer.fits) for answer in fitting])
    if empty := sum(not answer.asked for answer in answers):
        console.print()
        line(console, f"{many(empty, 'row')} without a part number.", indent=0)


TELLING = ("part_here", "status", "near", "outcomes")  # columns by which an older answer is known


def columns_of(answer: Stocked) -> dict[str, str]:
    """The answer as columns beside a row of the list."""
    return {
        "part_here": answer.part_number,
        "description": answer.description,
        "status": answer.status,
        "current": "; ".join(_number(each.quantity, each.part_number) for each in answer.current),
        "fits": answer.fits,
        "same_as": "; ".join(answer.same_as),
        "near": _near(answer),
        "outcomes": answer.outcomes,
    }


def _row(answer: Stocked) -> tuple[str, str, str]:
    if not answer.part_number:
        return (answer.asked, "", _near(answer) or "; ".join(answer.same_as) or "nothing near")
    now = ", ".join(_number(each.quantity, each.part_number) for each in answer.current)
    said = f"now {now}" if answer.status == "superseded" else ""
    return (answer.asked, answer.description, "; ".join(filter(None, [said, f"sold before: {answer.outcomes}" if answer.outcomes else ""])))


def _near(answer: Stocked) -> str:
    return f"perhaps {' or '.join(f'{each.part_number} ({each.slip})' for each in answer.near)}" if answer.near else ""


def _number(quantity: float, number: str) -> str:
    return f"{quantity:g} x {number}" if quantity != 1 else number
