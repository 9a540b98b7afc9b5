"""Numbers, stretches and efforts in plain words: for terminal, page and paper alike. Bits and four decimals stay in the JSON."""

from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from kb.probability.inference.information import entropy
from kb.words.answers.identification import Check, Identification, Outcome

if TYPE_CHECKING:
    from kb.words.answers.catalogue import SpanOf
    from kb.words.answers.fitment import Fit

SETTLED_BITS = 0.05  # display: below this the unit is known, and what is left to ask is what is fitted to it


def number(value: float) -> str:
    """A probability in two digits, and more only where two would say never or always.

    >>> [number(p) for p in (0.914, 0.0004, 0.9996, 1.0, 0.0, 0.99999)]
    ['0.91', '0.0004', '0.9996', '1', '0', 'over 0.9999']
    """
    if value <= 0 or value >= 1:
        return f"{value:.0f}"
    if 0.005 <= value < 0.995:  # display
        return f"{value:.2f}"
    return f"{value:.4f}" if 0.00005 <= value < 0.99995 else "under 0.0001" if value < 0.5 else "over 0.9999"  # display


def figure(value: float) -> str:
    """A probability in two digits and no more; never 0 or 1 where it is neither.

    >>> figure(0.914), figure(0.9996), figure(0.0004), figure(1.0)
    ('0.91', 'over 0.99', 'under 0.01', '1')
    """
    if value <= 0 or value >= 1:
        return f"{value:.0f}"
    return "under 0.01" if value < 0.005 else "over 0.99" if value >= 0.995 else f"{value:.2f}"  # display


def span(first: str, last: str) -> str:
    """A stretch of serials or years.

    >>> span("1930", "1932"), span("1930", ""), span("", "1932")
    ('1930 to 1932', '1930', 'up to 1932')
    """
    return first if first == last or not last else f"{first} to {last}" if first else f"up to {last}"


def fitted_between(each: "SpanOf") -> str:
    """Between which serials a variant was fitted in one line."""
    start = f"from {span(each.from_low, each.from_high)} on" if each.from_low else "from the start"
    return f"{start}, until {span(each.to_low, each.to_high)}" if each.to_low else f"{start}, to the end"


def months(first: str, last: str) -> str:
    """Two days as the stretch of months that holds them; no estimate knows the day.

    >>> months("1928-12-05", "1929-10-30"), months("1931-03-01", "1931-03-20"), months("", "")
    ('December 1928 to October 1929', 'March 1931', '')
    """
    return span(*(f"{date.fromisoformat(day):%B %Y}" if day else "" for day in (first, last)))


def many(count: int, one: str, several: str = "") -> str:
    """A number with its noun.

    >>> many(1, "unit"), many(2000, "unit"), many(2, "entry", "entries")
    ('1 unit', '2,000 units', '2 entries')
    """
    return f"{count:,} {one if count == 1 else several or one + 's'}"


def characters_apart(count: int) -> str:
    """How far two marks are from each other.

    >>> characters_apart(1), characters_apart(2)
    ('1 character apart', '2 characters apart')
    """
    return many(count, "character") + " apart"


def minutes(effort: float) -> str:
    """How long a check takes.

    >>> minutes(1), minutes(5), minutes(60)
    ('a minute', '5 minutes', 'an hour')
    """
    return "a minute" if effort <= 1 else f"{effort:g} minutes" if effort < 60 else "an hour" if effort == 60 else f"{effort / 60:g} hours"


def open_bits(probabilities: Iterable[float]) -> float:
    """How open a question is: the entropy of its answers, in bits."""
    return entropy(np.array(list(probabilities)))


def asked_of_unit(answer: Identification) -> float:
    """How open it is which unit it is; once that is settled, its castings are asked about, and no check settles all of them."""
    bits = open_bits([*(unit.probability for unit in answer.units), answer.not_in_knowledge_base, answer.rest])
    return bits if bits >= SETTLED_BITS else float(len(answer.fitted))


def asked_of_fit(fit: "Fit") -> float:
    """How open it is whether a part fits."""
    return open_bits([fit.probability, fit.against, max(0.0, 1 - fit.probability - fit.against)])


def weight(bits: float) -> str:
    """What a piece of evidence weighs, in words: by how much it favours the answer against all others.

    >>> [weight(bits) for bits in (5.6, 2.0, 0.4)]
    ['speaks strongly for it', 'speaks for it', 'speaks a little for it']
    >>> [weight(bits) for bits in (0.0, -0.5, -4.0)]
    ['tells nothing here', 'speaks a little against it', 'speaks strongly against it']
    """
    size = abs(bits)
    if size < 0.05:  # display
        return "tells nothing here"
    how = "strongly " if size >= 3 else "" if size >= 1 else "a little "
    return f"speaks {how}{'for' if bits > 0 else 'against'} it"


def worth_showing(check: Check, most: int = 6, least: float = 0.01) -> list[Outcome]:  # display
    """The outcomes worth a line on a page; JSON has all of them."""
    return [outcome for outcome in check.outcomes[:most] if outcome.probability >= least]


# Each from the number on that stands before it. A fraction is at most a twentieth away from what it stands for; a test walks over 0..1.
_IN_WORDS = (
    (0.995, "almost certain"),  # display
    (0.965, "very likely"),  # display
    (0.925, "about 19 in 20"),  # display
    (0.85, "about nine in ten"),  # display
    (0.775, "about four in five"),  # display
    (0.71, "about three in four"),  # display
    (0.635, "about two in three"),  # display
    (0.55, "about three in five"),  # display
    (0.45, "about even"),  # display
    (0.365, "about two in five"),  # display
    (0.29, "about one in three"),  # display
    (0.225, "about one in four"),  # display
    (0.18, "about one in five"),  # display
    (0.13, "about one in seven"),  # display
    (0.075, "about one in ten"),  # display
    (0.04, "about one in 20"),  # display
    (0.005, "unlikely"),  # display
    (0.0, "hardly possible"),
)


def chance(probability: float) -> str:
    """A probability in words.

    >>> chance(0.91), chance(0.25), chance(0.001)
    ('about nine in ten', 'about one in four', 'hardly possible')
    """
    return next(words for least, words in _IN_WORDS if probability >= least)


def likely(probability: float) -> str:
    """A probability in words, with the figure behind it where that says more.

    >>> likely(0.91), likely(0.004), likely(0.00001), likely(1.0)
    ('about nine in ten (0.91)', 'hardly possible (0.0040)', 'hardly possible', 'almost certain')
    """
    return f"{chance(probability)} ({number(probability)})" if 0.00005 <= probability < 0.99995 else chance(probability)  # display


def ordinal(number: int) -> str:
    """1st, 2nd, 3rd, 4th ...

    >>> [ordinal(n) for n in (1, 2, 3, 11, 22)]
    ['1st', '2nd', '3rd', '11th', '22nd']
    """
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def stretch_words(first: str, last: str) -> str:
    """A stretch of serials, both ends included; one serial alone is said once."""
    return first if first == last else f"{first} to {last}"
