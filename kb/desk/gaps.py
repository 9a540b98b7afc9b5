"""Numbers that nobody recorded between recorded ones: where a worn reading cannot tell them from their neighbours, the answer says so.

Makers gave casting numbers in runs, and hardly a list has all of a run. A reading that suits V2141 and V2151 alike suits V2131 as well, which may
have been cast and never been recorded. "Not in this knowledge base" weighs strangers of every kind; it does not know of this one.
"""

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kb.channel.compiled import Compiled
from kb.channel.marks import MarkIndex
from kb.words.notation import ALPHABET

AROUND = 50  # numbers to either side that are looked at
FEWEST = 5  # recorded among those, before they count as a run ...
DENSE = 0.25  # ... and so large a share of the numbers between the first and the last of them
AS_WELL = 0.5  # of the weight of the recorded mark that suits best
DIGITS = ALPHABET[:10]


@dataclass(frozen=True)
class Gaps:
    """Unrecorded texts that a reading suits as well as recorded ones. The run they lie in: first, last, how many of its numbers are recorded."""

    texts: tuple[str, ...]
    first: str
    last: str
    recorded: int
    numbers: int


def gaps(compiled: Compiled, best: str, recorded: Sequence[str]) -> Gaps | None:
    """The unrecorded neighbours of the text that a worn reading suits best, if it suits them as well.

    Args:
        best: a recorded text.
        recorded: all of them, in order.
    """
    known = frozenset(recorded)
    places = {text: run.span() for run in re.finditer(r"[0-9]+", best) for text in _others(best, *run.span()) if text not in known}
    if not places:
        return None
    weights = MarkIndex.of([best, *places]).weights(compiled)
    as_well = sorted(text for text, weight in zip(places, weights[1:], strict=True) if weight >= AS_WELL * weights[0] > 0)
    families = {span: _family(best, *span, recorded) for span in {places[text] for text in as_well}}
    runs = {text: inside for text in as_well if (inside := _run(text, *places[text], families[places[text]]))}
    return Gaps(tuple(runs), *next(iter(runs.values()))) if runs else None


def _others(text: str, start: int, end: int) -> Iterator[str]:
    """The texts with another digit at one place of the stretch."""
    for place in range(start, end):
        for digit in DIGITS:
            if digit != text[place]:
                yield text[:place] + digit + text[place + 1 :]


def _family(text: str, start: int, end: int, recorded: Sequence[str]) -> list[int]:
    """The recorded numbers in the place of that of a text, all else being as in the text."""
    alike = (each for each in recorded if len(each) == len(text) and each[:start] == text[:start] and each[end:] == text[end:])
    return sorted(int(each[start:end]) for each in alike if each[start:end].isdigit())


def _run(text: str, start: int, end: int, family: Sequence[int]) -> tuple[str, str, int, int] | None:
    """The run of recorded numbers that a text lies within: first, last, recorded ones, numbers; None if there is no such run."""
    number = int(text[start:end])
    inside = family[bisect_left(family, number - AROUND) : bisect_right(family, number + AROUND)]
    if len(inside) < FEWEST or not inside[0] < number < inside[-1] or len(inside) < DENSE * (inside[-1] - inside[0] + 1):
        return None
    first, last = (f"{text[:start]}{n:0{end - start}d}{text[end:]}" for n in (inside[0], inside[-1]))
    return first, last, len(inside), inside[-1] - inside[0] + 1
