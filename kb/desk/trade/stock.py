"""A stock list against the knowledge base: which numbers are superseded, which are one thing under two numbers, which nobody knows here."""

from collections.abc import Callable, Sequence

from kb.desk.fitment.rulebook import Rulebook
from kb.desk.sentences.trade import both_today, lines_of_list, of_another_maker, outcomes, theirs_in_list
from kb.desk.trade import shop
from kb.desk.trade.search import carries
from kb.store.book import Book
from kb.store.rows import PartRow
from kb.words.answers.fitment import TraceAnswer
from kb.words.answers.trade import NearPart, Stocked


def stock(book: Book, parts: Rulebook, traced: Callable[[str], TraceAnswer], sentence: Callable[[str], str], numbers: Sequence[str]) -> list[Stocked]:
    """One entry for each number of the list, in its order.

    traced: what a number has become. sentence: the units it fits, as for a listing.
    """
    meant = [parts.asked_for(number) for number in numbers]
    known = {row.part_number: traced(row.part_number) for rows in meant for row in rows[:1]}
    lines: dict[str, list[str]] = {}
    for number, rows in zip(numbers, meant, strict=True):
        if rows:
            lines.setdefault(rows[0].part_number, []).append(number)
    same = _same(parts, known)
    said = {number: sentence(number) for number in known}
    return [_entry(book, parts, number, rows, known, lines, same, said) for number, rows in zip(numbers, meant, strict=True)]


def _entry(
    book: Book, parts: Rulebook, asked: str, rows: list[PartRow], known: dict[str, TraceAnswer], lines: dict[str, list[str]],
    same: dict[str, dict[str, str]], said: dict[str, str],
) -> Stocked:  # fmt: skip
    if not rows:
        near = [
            NearPart(part_number=each.part_number, description=part.description, slip=each.slip, probability=each.probability)
            for each in parts.numbers.near(asked)
            if (part := parts.part(each.part_number)) is not None
        ]
        said_by = [theirs_in_list(part.part_number, supplier, asked) for part, supplier in shop.under_their_number(book, parts, asked)] or (
            [f"a casting number: {what}" for what in carries(book, asked)[:1]] if asked else []
        )
        return Stocked(asked=asked, part_number="", description="", status="unknown", current=[], fits="", same_as=said_by, near=near, outcomes="")
    part = rows[0]
    now = known[part.part_number]
    others = [f"{number} ({why})" for number, why in same[part.part_number].items()]
    if len(lines[part.part_number]) > 1:
        written = list(dict.fromkeys(lines[part.part_number]))
        others.insert(0, lines_of_list(len(lines[part.part_number]), written))
    others += [of_another_maker(row.part_number, row.made_by or row.description) for row in rows[1:]]
    return Stocked(
        asked=asked,
        part_number=part.part_number,
        description=part.description,
        status=_status(part.part_number, now),
        current=now.current,
        fits=said[part.part_number],
        same_as=others,
        near=[],
        outcomes=outcomes(book, [part.part_number]),
    )


def _status(number: str, now: TraceAnswer) -> str:
    if any(each.part_number == number for each in now.current):
        return "current"
    return "superseded" if now.current else "unavailable"


def _same(parts: Rulebook, known: dict[str, TraceAnswer]) -> dict[str, dict[str, str]]:
    """For each number of the list the others that do for it: interchangeable, or replaced by the same ones."""
    becomes: dict[tuple[tuple[str, float], ...], list[str]] = {}
    for number, now in known.items():
        becomes.setdefault(tuple(sorted((each.part_number, each.quantity) for each in now.current)), []).append(number)
    found: dict[str, dict[str, str]] = {number: {} for number in known}
    for current, numbers in becomes.items():
        for number in numbers if current else []:
            for other in numbers:
                if other != number:
                    found[number][other] = both_today([name for name, _ in current])
    for number in known:
        for arrow in parts.arrows(number):
            if arrow.both_ways and arrow.group is None and number in (arrow.old, arrow.new):
                other = arrow.new if number == arrow.old else arrow.old
                if other in known:
                    found[number][other] = "interchangeable"
    return found
