"""The reading channel written down as the plain recursion that defines it (docs/model.md, sections 1 and 2).

Slow and obvious: one alignment after the other. It reads the notation by itself and shares nothing with the program but the assumptions.
"""

from collections.abc import Sequence
from functools import cache
from itertools import product
from math import fsum, prod

from kb.assumptions import Assumptions
from kb.channel.digits import PrintedForm

A = Assumptions()
UPSIDE_DOWN = {"0": "0", "1": "1", "6": "9", "8": "8", "9": "6", "H": "H", "I": "I", "M": "W", "N": "N"}
UPSIDE_DOWN |= {"O": "O", "S": "S", "W": "M", "X": "X", "Z": "Z", "?": "?", "*": "*"}


def tokens_of(text: str) -> tuple[str, ...]:
    """Tokens of a reading in upper case without separators; `**` counts as `*`."""
    found: list[str] = []
    while text:
        token, text = (text[1:].split("]", 1)) if text[0] == "[" else (text[0], text[1:])
        if not (token == "*" and found[-1:] == ["*"]):
            found.append(token)
    return tuple(found)


def entry(token: str, true: str, misread: float, exponent: float) -> float:
    if token == "?":
        return 1.0
    return float(fsum(1 - misread if seen == true else misread / 35 for seen in set(token)) ** exponent)


def aligned(tokens: tuple[str, ...], text: str, misread: float, exponent: float = 1.0) -> float:
    @cache
    def rest(used: int, taken: int) -> float:
        if used == len(tokens):
            return float(taken == len(text))
        if tokens[used] == "*":
            return rest(used + 1, taken) + (rest(used, taken + 1) if taken < len(text) else 0)
        return entry(tokens[used], text[taken], misread, exponent) * rest(used + 1, taken + 1) if taken < len(text) else 0.0

    return rest(0, 0)


def ways_up(tokens: tuple[str, ...]) -> list[tuple[float, tuple[str, ...]]]:
    if any(character not in UPSIDE_DOWN for token in tokens for character in token):
        return [(1.0, tokens)]
    turned = tuple("".join(UPSIDE_DOWN[character] for character in token) for token in reversed(tokens))
    if [set(token) for token in turned] == [set(token) for token in tokens]:
        return [(1.0, tokens)]
    return [(1 - A.upside_down, tokens), (A.upside_down, turned)]


def misread_of(reading: str, wear: str | None) -> float:
    return A.misread[wear or ("worn" if set(reading) & set("?[]*") else "clean")]


def exponent_of(count: int) -> float:
    return A.sharpness / (1 + (count - 1) * A.reading_correlation)


def text_weight(readings: Sequence[str], wears: Sequence[str | None], text: str) -> float:
    """P(readings of one number | text)."""
    return prod(
        fsum(share * aligned(way, text, misread_of(reading, wear), exponent_of(len(readings))) for share, way in ways_up(tokens_of(reading)))
        for reading, wear in zip(readings, wears, strict=True)
    )


def serial_weight(readings: Sequence[str], form: PrintedForm, digits: str, check: str = "") -> float:
    """P(readings | serial), the digits as printed; which check characters belong there is the caller's business."""
    total = []
    for (front, p), (back, q) in product(_affixes(form.affixes_before), _affixes(form.affixes_after)):
        before, after = front + form.prefix, check + form.suffix + back
        total.append(p * q * prod(_one(reading, before, digits, after, exponent_of(len(readings))) for reading in readings))
    return fsum(total)


def _affixes(affixes: tuple[str, ...]) -> list[tuple[str, float]]:
    return [("", 0.9), *((affix, 0.1 / len(affixes)) for affix in affixes)] if affixes else [("", 1.0)]


def _one(reading: str, before: str, digits: str, after: str, exponent: float) -> float:
    misread, total = misread_of(reading, None), []
    zeros = min(len(digits) - len(digits.lstrip("0")), len(digits) - 1)
    for share, way in ways_up(tokens_of(reading)):
        total.append(share * aligned(way, before + digits + after, misread, exponent))
        for missing in range(1, zeros + 1):
            for spot in range(len(way) + 1):
                if "*" not in way[max(0, spot - 1) : spot + 1]:
                    first = aligned(way[:spot], before, misread, exponent)
                    total.append(share * first * aligned(way[spot:], digits[missing:] + after, misread, exponent))
    return fsum(total)
