"""Parts by their measures: "seal 35 x 52 x 7", '1 3/8" x 2"', "width=7 mm"; how far the measures of a part are from those asked for.

Numbers joined by x belong together and share the last unit named, as the trade writes them; without a unit they are millimetres. What is no
measure is a word of the description. One inch is 25.4 mm exactly (NIST SP 811, appendix B).
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import permutations

from kb.words.errors import DataError
from kb.words.lengths import IN_MM, UNIT, VALUE, measure

MOST_MEASURES = 5  # asked for at once; beyond that trying every order takes too long
_ROW = re.compile(rf"(?<![\w.-])({VALUE}\s*{UNIT}?(?:\s*[x×*]\s*{VALUE}\s*{UNIT}?)+|{VALUE}\s*{UNIT})(?![\w/-])", re.IGNORECASE)
_NAMED = re.compile(rf"\b([a-z][a-z-]*)\s*=\s*({VALUE})\s*({UNIT})?(?![\w/])", re.IGNORECASE)
_ONE = re.compile(rf"({VALUE})\s*({UNIT})?", re.IGNORECASE)


@dataclass(frozen=True)
class Measure:
    """A measure in mm; name "" where nobody said which one it is."""

    mm: float
    name: str = ""


def parse(text: str) -> tuple[list[Measure], list[str]]:
    """The measures in a text, and its other words in lower case.

    Raises:
        DataError: too many measures.

    >>> parse("seal 35 x 52 x 7")
    ([Measure(mm=35.0, name=''), Measure(mm=52.0, name=''), Measure(mm=7.0, name='')], ['seal'])
    >>> parse('1 3/8" rod')[0], parse("2 x 3 in")[0][0].mm, parse("inner=35mm")[0]
    ([Measure(mm=34.925, name='')], 50.8, [Measure(mm=35.0, name='inner')])
    """
    measures = [Measure(_mm(value, unit), name.lower()) for name, value, unit in _NAMED.findall(text)]
    rest = _NAMED.sub(" ", text)
    for row in _ROW.findall(rest):
        pieces = _ONE.findall(row)
        unit = next((unit for _, unit in reversed(pieces) if unit), "")
        measures += [Measure(_mm(value, own or unit)) for value, own in pieces]
    if len(measures) > MOST_MEASURES:
        raise DataError(f"{len(measures)} measures at once.", f"Give at most {MOST_MEASURES}.")
    return measures, re.findall(r"[^\W_]+", _ROW.sub(" ", rest).lower())


def tolerance(text: str) -> float:
    """A tolerance in mm.

    Raises:
        DataError: it is no measure.

    >>> tolerance("0.5"), round(tolerance("1/64 in"), 3)
    (0.5, 0.397)
    """
    found = _ONE.fullmatch(text.strip())
    if not found:
        raise DataError(f'"{text}" is no tolerance.', "Write a measure in mm, or with its unit, as in 0.5 or 1/64in.")
    return _mm(found[1], found[2])


def converted(value: float, unit: str, name: str = "") -> Measure | None:
    """A recorded measure in mm; None if its unit is no length."""
    factor = IN_MM.get(unit.strip().lower())
    return Measure(float(Fraction(repr(value)) * factor), name.lower()) if factor else None


def deviation(asked: Sequence[Measure], recorded: Iterable[Measure], within: float) -> float | None:
    """Sum of the differences in mm between what is asked for and what is recorded, each measure used once, in the best order.

    within: the most that one may differ by. None if there is no such order: a part must have every measure asked for.

    >>> deviation(parse("52 x 35")[0], parse("35 x 52.1 x 7")[0], 0.2) == 52.1 - 52
    True
    >>> deviation(parse("52 x 35")[0], parse("35 x 52.5 x 7")[0], 0.2) is None
    True
    """
    have = list(recorded)[: 2 * MOST_MEASURES]
    best: float | None = None
    for order in permutations(have, len(asked)):
        apart = [abs(want.mm - got.mm) if want.name in ("", got.name) else float("inf") for want, got in zip(asked, order, strict=True)]
        if all(each <= within + 1e-9 for each in apart) and (best is None or sum(apart) < best):  # numeric
            best = sum(apart)
    return best


def _mm(value: str, unit: str | None) -> float:
    found = measure(f"{value} {unit or ''}", "mm")
    if found is None:
        raise DataError(f'"{value}" is no number.', "Write a fraction as in 3/8.")
    return found
