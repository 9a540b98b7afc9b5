"""Numbers that nobody recorded between recorded ones: where a worn reading cannot tell them from their neighbours, the answer says so.

Makers gave casting numbers in runs, and hardly any list has all of a run. A reading that suits V2141 and V2151 equally suits V2131 too, which may
have been cast and never recorded. "Not in this knowledge base" weighs strangers of every kind, but not this particular one.
"""

import re
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import ReadingAutomata
from kb.probability.channel.marks import MarkIndex
from kb.words.notation import ALPHABET

AROUND = 50  # how many numbers to either side are considered
FEWEST = 5  # how many of those must be recorded before they count as a run
CLUB = 500  # up to this many texts they are examined one by one
DIGITS = ALPHABET[:10]


@dataclass(frozen=True)
class Gaps:
    """Unrecorded texts that a reading suits as well as recorded ones. The run they lie in: first, last, how many of its numbers are recorded."""

    texts: tuple[str, ...]
    first: str
    last: str
    recorded: int
    numbers: int


def gaps(compiled: ReadingAutomata, best: str, recorded: Sequence[str], assumptions: Assumptions) -> Gaps | None:
    """The unrecorded neighbours of the text that a worn reading suits best, if it suits them as well.

    Args:
        best: a recorded text.
        recorded: all of them, in order.
    """
    runs = [run.span() for run in re.finditer(r"[0-9]+", best)]
    if len(recorded) < CLUB:  # most lists of a club have no run at all, which is quickly seen
        runs = [(a, b) for a, b in runs if sum(len(t) == len(best) and t.startswith(best[:a]) and t.endswith(best[b:]) for t in recorded) >= FEWEST]
    places = {text: span for span in runs for text in _others(best, *span) if not _holds(recorded, text)}
    places = {text: span for text, span in places.items() if len(_around(text, *span, recorded)) >= FEWEST}
    if not places:
        return None
    weights = MarkIndex.of([best, *places]).weights(compiled)
    as_well = sorted(text for text, weight in zip(places, weights[1:], strict=True) if weight >= assumptions.run_suits_as_well * weights[0] > 0)
    found = {text: inside for text in as_well if (inside := _run(text, *places[text], recorded, assumptions.run_share))}
    return Gaps(tuple(found), *next(iter(found.values()))) if found else None


def _others(text: str, start: int, end: int) -> Iterator[str]:
    """The texts with another digit at one position of the number."""
    for place in range(start, end):
        for digit in DIGITS:
            if digit != text[place]:
                yield text[:place] + digit + text[place + 1 :]


def _run(text: str, start: int, end: int, recorded: Sequence[str], share: float) -> tuple[str, str, int, int] | None:
    """The run of recorded numbers that a text lies within: first, last, recorded ones, numbers; None if there is no such run."""
    number, width, tail = int(text[start:end]), end - start, text[end:]
    inside = _around(text, start, end, recorded)
    if len(inside) < FEWEST:
        return None
    first, last = (int(each[start:end]) for each in (inside[0], inside[-1]))
    if not first < number < last or len(inside) < share * (last - first + 1):
        return None
    return f"{text[:start]}{first:0{width}d}{tail}", f"{text[:start]}{last:0{width}d}{tail}", len(inside), last - first + 1


def _around(text: str, start: int, end: int, recorded: Sequence[str]) -> list[str]:
    """The recorded texts that differ from a text by at most AROUND in the number between start and end, and in nothing else."""
    number, width, tail = int(text[start:end]), end - start, text[end:]
    low, high = (f"{text[:start]}{n:0{width}d}" for n in (max(0, number - AROUND), min(10**width - 1, number + AROUND)))
    some = recorded[bisect_left(recorded, low) : bisect_left(recorded, high + "~")]
    return [each for each in some if len(each) == len(text) and each.endswith(tail) and each[start:end].isdigit()]


def _holds(ordered: Sequence[str], text: str) -> bool:
    at = bisect_left(ordered, text)
    return at < len(ordered) and ordered[at] == text
