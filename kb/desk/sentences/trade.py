"""What is said over the counter: the question to the customer, what goes with a part, a number nobody knows here, how sales turned out."""

from collections.abc import Iterable, Sequence
from datetime import date

from kb.desk.sentences.numbers import number
from kb.store import shop as stored
from kb.store.book import Book
from kb.words import edtf

DAYS_A_MONTH = 30.44
MOST_REASONS = 3

NUMBER_AGAIN = "What exactly is stamped on the machine, letter for letter, and who made it? What you gave me suits no unit recorded here."
NO_PART_FOR_UNIT = "No part is recorded that fits this unit."


def told_apart(seen: str, then: str, probability: float, clear: bool) -> str:
    """What one answer of the customer would mean, short.

    >>> told_apart("narrow", "it fits", 0.964, clear=True), told_apart("worn away", "it fits", 0.6, clear=False)
    ('narrow: it fits (0.96)', 'worn away: still open')
    """
    return f"{seen}: {then} ({number(probability)})" if clear else f"{seen}: still open"


def measure_before(measures: Sequence[str]) -> str:
    """What the customer must measure first."""
    return f"Measure before ordering: {' '.join(measures)}"


def ask_customer(check: str, meanings: Sequence[str], same_for: Sequence[str]) -> str:
    """The one question to put to the customer, with what each answer would mean.

    >>> ask_customer("Look at the cover: how many ribs?", ["5: it fits (0.96)"], ["cover (left)"])
    'Look at the cover: how many ribs? 5: it fits (0.96). The same goes for: cover (left).'
    """
    same = f" The same goes for: {', '.join(same_for)}." if same_for else ""
    return f"{check}{'' if check.endswith('?') else '.'} {'; '.join(meanings)}.{same}"


def needs_it(number: str) -> str:
    """Why a part goes with one: it is needed."""
    return f"{number} needs it"


def same_step(procedure: str) -> str:
    """Why a part goes with one: the work needs both."""
    return f"used in the same step: {procedure}"


def same_casting(role: str, casting: bool) -> str:
    """Why a part goes with one: they sit together."""
    return f"{role} of the same {'casting' if casting else 'assembly'}"


def theirs(part_number: str, description: str, supplier: str) -> str:
    """A number that is a supplier's own."""
    return f"{supplier} uses it for {part_number} ({description})."


def theirs_in_list(part_number: str, supplier: str, asked: str) -> str:
    """The same, as an entry of a list."""
    return f"{part_number} ({supplier} uses {asked} for it)"


def is_casting_number(castings: str) -> str:
    """A number that somebody read off a casting and took for a part number."""
    return f"It is a casting number: {castings}."


def lines_of_list(count: int, written: Sequence[str]) -> str:
    """One part on several lines of a stock list."""
    return f"{count} lines of this list" + (f": {', '.join(written)}" if len(written) > 1 else "")


def of_another_maker(part_number: str, made_by: str) -> str:
    """Another maker's part of the same number."""
    return f"{part_number} ({made_by}; another maker's part of the same number)"


def both_today(numbers: Sequence[str]) -> str:
    """Why two numbers are one thing."""
    return f"both are {' + '.join(numbers)} today"


def tally(results: Iterable[tuple[str, str]]) -> str:
    """How sales turned out, with the reasons counted.

    >>> tally([("fitted", ""), ("fitted", ""), ("returned", "wrong shaft"), ("returned", "wrong shaft"), ("returned", "")])
    'fitted 2, returned 3: wrong shaft (2)'
    """
    counted: dict[str, int] = {"fitted": 0, "returned": 0}
    reasons: dict[str, int] = {}
    for result, reason in results:
        counted[result] += 1
        if result == "returned" and reason:
            reasons[reason] = reasons.get(reason, 0) + 1
    said = ", ".join(f"{result} {count}" for result, count in counted.items() if count)
    listed = [f"{reason} ({count})" if count > 1 else reason for reason, count in sorted(reasons.items(), key=lambda each: -each[1])]
    more = f"; {len(listed) - MOST_REASONS} other reasons" if len(listed) > MOST_REASONS else ""
    return f"{said}: {'; '.join(listed[:MOST_REASONS])}{more}" if listed else said


def age(as_of: str, today: date) -> str:
    """How old an offer is, at least, in words.

    >>> age("2024-03", date(2024, 4, 2)), age("2023-01-05", date(2024, 4, 2)), age("2024-04-02", date(2024, 4, 2))
    ('2 days old', '14 months old', "today's")
    """
    days = (today - edtf.parse(as_of).last).days
    if days <= 0:
        return "today's" if days == 0 else "current"
    if days < 60:
        return f"{days} days old" if days > 1 else "a day old"
    months = int(days / DAYS_A_MONTH)
    return f"{months} months old" if months < 24 else f"{months // 12} years old"


def outcomes(book: Book, part_numbers: Iterable[str]) -> str:
    """What came of sales of some numbers, in words: "fitted 14, returned 1: wrong shaft"; "" if nothing is recorded."""
    numbers = list(dict.fromkeys(part_numbers))
    rows = [row for number in numbers for row in stored.outcomes(book, number)]
    return tally([(row.result, row.reason or "") for row in rows])
