"""Readings and the weight of a text under them (docs/model.md, section 1).

A token is "A" (a plain character), "?" (one that cannot be read), "*" (any number of missing ones), or several characters in a row
such as "38" (one of these). Behind it may stand what a second look at it showed: "38>8".
"""

import unicodedata
from collections.abc import Callable, Iterator
from functools import cache
from math import prod
from pathlib import Path
from typing import NamedTuple

from kb.assumptions import Assumptions

CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
TURNED = {**{c: c for c in "018HINOSXZ?*"}, "6": "9", "9": "6", "M": "W", "W": "M"}

Tokens = tuple[str, ...]


class Slips(NamedTuple):
    """What can have gone unnoticed in a worn reading, at most once in all of it: its weights."""

    lost: float
    doubled: float
    end_lost: float
    end_lost_more: float


class Seen(NamedTuple):
    """A reading with what each true character is taken for where it is as worn as this, the exponent on its entries, its slips, and what each
    true character is taken for on a second look."""

    tokens: Tokens
    taken_for: dict[tuple[str, str], float]
    exponent: float
    slips: Slips | None
    again: dict[tuple[str, str], float]


def simplify(text: str) -> str:
    """Upper case, without accents, spaces, dashes, dots and slashes."""
    plain = [c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c)]
    return "".join(c for c in plain if not (c.isspace() or unicodedata.category(c) == "Pd" or c in "./\\\u2212")).upper()


def normalise(text: str) -> str:
    """The normal form of a text that is no reading."""
    simple = simplify(text)
    if not simple or any(c not in CHARACTERS for c in simple):
        raise ValueError(f'"{text}" is not made of A-Z and 0-9')
    return simple


def parse(text: str) -> Tokens:
    """The tokens of a reading; `>` and a character tell what a second look at the token before showed.

    >>> parse("2?5 [83]6**1"), parse("2?>85")
    (('2', '?', '5', '38', '6', '*', '1'), ('2', '?>8', '5'))
    """
    tokens: list[str] = []
    left = simplify(text)
    while left:
        if left[0] == "[":
            members, closed, left = left[1:].partition("]")
            if not closed or not members or any(c not in CHARACTERS for c in members):
                raise ValueError(f'"{text}": expected characters A-Z and 0-9 between [ and ]')
            tokens.append("".join(sorted(set(members))))
        elif left[0] == ">" and tokens and left[1:2] in CHARACTERS:
            tokens[-1] += left[:2]
            left = left[2:]
        elif left[0] == "*" or left[0] == "?" or left[0] in CHARACTERS:
            if not (left[0] == "*" and tokens and tokens[-1] == "*"):
                tokens.append(left[0])
            left = left[1:]
        else:
            raise ValueError(f'"{text}": "{left[0]}" is no token')
    if not tokens or len(text) > 64:
        raise ValueError(f'"{text}" is empty or longer than 64 characters')
    return tuple(tokens)


def see(text: str, wear: str | None, assumptions: Assumptions, readings_of_it: int = 1) -> Seen:
    """A reading as typed; `readings_of_it` is how many readings there are of the same number."""
    level = wear or ("worn" if any(c in text for c in "?[]*") else "clean")
    exponent = (assumptions.sharpness if level != "clean" else 1) / (1 + (readings_of_it - 1) * assumptions.reading_correlation)
    tokens = parse(text)
    unnoticed = assumptions.lost[level], assumptions.doubled[level], assumptions.end_lost[level]
    slips = None
    if any(unnoticed) and "*" not in tokens:
        slips = Slips(*(w**exponent for w in (*unnoticed, assumptions.end_lost_more)))
    first, again = (taken_for(wear, assumptions.misread[wear], assumptions.uniform_share) for wear in (level, "clean"))
    return Seen(tokens, first, exponent, slips, again)


@cache
def taken_for(level: str, misread: float, uniform: float) -> dict[tuple[str, str], float]:
    """M(seen | true) by (true, seen). The table of shapes, made to misread as often as assumed on the average, and a share spread evenly."""
    shapes: dict[tuple[str, str], float] = {}
    found_level = ""
    for line in (Path(__file__).parents[2] / "kb" / "probability" / "channel" / "wear.txt").read_text(encoding="ascii").splitlines():
        words = line.split()
        if words[:1] == ["level"]:
            found_level = words[1]
        elif words and words[0] != "#" and found_level == level:
            counts = [int(word) for word in words[1:]]
            shapes |= {(words[0], seen): count / sum(counts) for seen, count in zip(CHARACTERS, counts, strict=True)}
    average = sum(share for (true, seen), share in shapes.items() if true != seen) / 36
    found = {
        (true, seen): misread * ((1 - uniform) * share / average + uniform / 35) for (true, seen), share in shapes.items() if true != seen
    }
    for true in CHARACTERS:
        found[true, true] = 1 - sum(found[true, seen] for seen in CHARACTERS if seen != true)
    return found


def entry(token: str, true: str, seen: Seen) -> float:
    """What one token other than `*` weighs for one true character. A second look at what has no turned form is as rare as any misreading."""
    token, _, look = token.partition(">")
    second = min(seen.again.values()) if look == "-" else seen.again[true, look] if look else 1.0
    return second if token == "?" else float(sum(seen.taken_for[true, t] for t in token) ** seen.exponent) * second


def turn(tokens: Tokens) -> Tokens | None:
    """The tokens read upside down, or None where a character has no turned form or nothing changes."""
    pairs = [token.partition(">") for token in tokens]
    if any(c not in TURNED for token, _, _ in pairs for c in token):
        return None
    turned = ["".join(sorted(TURNED[c] for c in token)) for token, _, _ in reversed(pairs)]
    if turned == [token for token, _, _ in pairs]:
        return None
    return tuple(token + sign + (TURNED.get(look, "-") if look else "") for token, (_, sign, look) in zip(turned, reversed(pairs), strict=True))


def both_ways_up(seen: Seen, assumptions: Assumptions, weight: Callable[[Tokens], float]) -> float:
    """.99 of the weight as read and .01 of it upside down, where that is possible."""
    turned = turn(seen.tokens)
    if turned is None:
        return weight(seen.tokens)
    return (1 - assumptions.upside_down) * weight(seen.tokens) + assumptions.upside_down * weight(turned)


Column = Callable[[str], float]


def unnoticed(tokens: Tokens, seen: Seen) -> Iterator[tuple[float, list[Column]]]:
    """The ways in which tokens without `*` can stand for characters one by one, the ends complete: a weight, and what each true character weighs."""
    each: list[Column] = [lambda true, token=token: entry(token, true, seen) for token in tokens]  # type: ignore[misc]
    yield 1.0, each
    if seen.slips:
        for i in range(1, len(each)):
            yield seen.slips.lost, [*each[:i], lambda true: 1.0, *each[i:]]
            both: Column = lambda true, i=i: each[i - 1](true) * each[i](true)  # type: ignore[misc]  # noqa: E731
            yield seen.slips.doubled, [*each[: i - 1], both, *each[i + 1 :]]


def text_weight(tokens: Tokens, text: str, seen: Seen) -> float:
    """Sum over alignments; a worn reading without `*` may have one slip, or have lost an end."""
    if not seen.slips:
        return alignments(tokens, text, seen)
    total = 0.0
    for weight, columns in unnoticed(tokens, seen):
        if len(columns) == len(text):
            total += weight * prod(column(c) for column, c in zip(columns, text, strict=True))
    more = len(text) - len(tokens)
    if more > 0:
        broken = seen.slips.end_lost * seen.slips.end_lost_more ** (more - 1)
        total += broken * (alignments(tokens, text[more:], seen) + alignments(tokens, text[:-more], seen))
    return total


def alignments(tokens: Tokens, text: str, seen: Seen) -> float:
    """Sum over all alignments of tokens and text of the product of entries.

    taken[j] is the weight of all ways in which the tokens so far take exactly the first j characters.
    """
    taken = [1.0] + [0.0] * len(text)
    for token in tokens:
        if token == "*":
            taken = [sum(taken[: j + 1]) for j in range(len(taken))]
        else:
            taken = [0.0] + [taken[j] * entry(token, text[j], seen) for j in range(len(text))]
    return taken[-1]


def weight(seen: Seen, text: str, assumptions: Assumptions) -> float:
    """P(reading | text)."""
    return both_ways_up(seen, assumptions, lambda tokens: text_weight(tokens, text, seen))


def spare_zeros(digits: str) -> int:
    """How many leading zeros may be missing; one digit always remains."""
    return min(len(digits) - len(digits.lstrip("0")), len(digits) - 1)


def number_weight(seen: Seen, before: str, digits: str, after: str, assumptions: Assumptions) -> float:
    """P(reading | serial) where leading zeros of the digits may be missing at no cost.

    With zeros missing the spot before the digits must lie between two tokens none of which is `*`, or at the very start.
    """

    def with_missing_zeros(tokens: Tokens) -> float:
        total = text_weight(tokens, before + digits + after, seen)
        for missing in range(1, spare_zeros(digits) + 1):
            rest = digits[missing:] + after
            if "*" not in tokens:
                total += text_weight(tokens, before + rest, seen)
                continue
            for i in range(len(tokens)):
                if tokens[i] != "*" and (i == 0 or tokens[i - 1] != "*"):
                    total += alignments(tokens[:i], before, seen) * alignments(tokens[i:], rest, seen)
        return total

    return both_ways_up(seen, assumptions, with_missing_zeros)
