"""Serial ranges as parts lists and bulletins print them: "4500 and lower", "N & up", "prior to N", "B0850 thru B1200", "all".

Notation: common practice of printed parts lists. Both ends of a range belong to it, so "4500 and lower" and "4501 and higher" meet
without a gap. What can be meant in two ways is refused, giving both. The caller keeps the words themselves, in `as_printed`.

    312,400 and higher      one number: three figures after a comma without a space
    100, 200 and up         two: 100 only, and 200 and up
    up to 4500              refused: with or without 4500?
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import NoReturn

from kb.words.errors import DataError
from kb.words.notation import simplify
from kb.words.records import TABLES

REMEDY = 'Write it as "4501 and higher", "4500 and lower", "prior to 4500", "B0850 to B1200", "4500 only" or "all"; several separated by ";".'


@dataclass(frozen=True)
class SerialRange:
    """Serials from `first` to `last`, both included; None is an open end."""

    first: str | None
    last: str | None


def parse(phrase: str) -> tuple[SerialRange, ...]:
    """Read a range of serials, or a list of ranges, as printed.

    Serials come out without spaces, dashes and thousands separators, with their letters and zeros.

    Raises:
        DataError: the whole phrase is not a known way to print ranges, or can be meant in more than one way.

    >>> parse("312,400 and higher")
    (SerialRange(first='312400', last=None),)
    >>> parse("B0850 thru B1200; prior to B0700")
    (SerialRange(first='B0850', last='B1200'), SerialRange(first=None, last='B0699'))
    >>> parse("up to 4500")
    Traceback (most recent call last):
    kb.words.errors.DataError: "up to 4500" can mean "4500 and lower" or "prior to 4500". Look at the source, and write the one that is meant.
    """
    words = _JOINED.sub(" ", _plain(phrase))
    words = _one_number(phrase, words)
    ranges: list[SerialRange] = []
    for item in re.split(r"[;,]", words):
        if item := _AND.sub("", item.strip()):
            ranges += _item(phrase, item)
    if not ranges:
        raise DataError(f'"{phrase}" is not a range of serials.', REMEDY)
    for one, other in combinations(ranges, 2):
        if _meet(one, other):
            raise DataError(f'"{phrase}": "{format(one)}" and "{format(other)}" have serials in common.', "Correct one of the two.")
    return tuple(ranges)


def format(ranges: SerialRange | Sequence[SerialRange]) -> str:
    """Ranges in the words that `parse` reads back.

    >>> format([SerialRange("312400", None), SerialRange("100", "100")])
    '312400 and higher; 100 only'
    """
    if not isinstance(ranges, SerialRange):
        return "; ".join(format(each) for each in ranges)
    match ranges.first, ranges.last:
        case None, None:
            return "all"
        case None, last:
            return f"{last} and lower"
        case first, None:
            return f"{first} and higher"
        case first, last:
            return f"{first} only" if first == last else f"{first} to {last}"


def split(serial: str) -> tuple[str, str, str]:
    """The letters before the digits, the digits, and what comes after: "B0850X" is ("B", "0850", "X"). Without digits everything is in the first.

    >>> split("B 0850-X")
    ('B', '0850', 'X')
    """
    simple = simplify(serial)
    found = re.fullmatch(r"(\D*)(\d+)(.*)", simple)
    return (found[1], found[2], found[3]) if found else (simple, "", "")


def ungroup(text: str) -> str:
    """A number without its thousands separators; any other text unchanged.

    >>> ungroup("B 312,400"), ungroup("312,40")
    ('B 312400', '312,40')
    """
    return re.sub(r"[,.']", "", text) if re.fullmatch(rf"[A-Za-z -]*{_GROUPED}[A-Za-z]*", text) else text


# What is printed, and what it means. S is a serial; words are in upper case, "&" is AND, every dash is "-".

_GROUPED = r"\d{1,3}(?:[,.']\d{3})+(?!\d)"
_NO_PREFIX = "NOT|TO|UP|ON|AND|OR|ALL|NO|CA|C|BY|FOR|TILL|OF|AT"
S = rf"((?:[A-Z]{{1,5}}-?|(?!(?:{_NO_PREFIX}) )[A-Z]{{1,3}} )?\d+(?:-?[A-Z]{{1,3}})?)"
_UP = "HIGHER|LATER|ABOVE|UP|UPWARDS?|ON|ONWARDS?|NEWER|AFTER|OVER|SUBSEQUENT|FOLLOWING|GREATER"
_DOWN = "LOWER|EARLIER|BELOW|PRIOR|PREVIOUS|BEFORE|UNDER|OLDER|DOWN|LESS|SMALLER"
_INCLUDED = "UP TO AND INCLUDING|UP TO (?:AND )?INCL\\.?|TO AND INCLUDING|THROUGH|THRU"

_PRINTED: tuple[tuple[str, Callable[..., SerialRange]], ...] = (
    (r"(?:ALL|ANY|EVERY)(?: SERIALS?| UNITS?| MACHINES?| NUMBERS?)?", lambda: SerialRange(None, None)),
    (rf"{S} ?(?:-|,)? ?(?:AND |OR )?(?:{_DOWN})", lambda last: SerialRange(None, last)),
    (rf"(?:ALL )?(?:UP )?TO {S} INCL(?:\.|USIVE)?", lambda last: SerialRange(None, last)),
    (rf"(?:ALL )?(?:{_INCLUDED}|ENDING (?:WITH|AT)) {S}", lambda last: SerialRange(None, last)),
    (rf"{S} ?(?:\+|(?:-|,)? ?(?:AND |OR )?(?:{_UP}))", lambda first: SerialRange(first, None)),
    (rf"(?:ALL )?FROM {S}(?: (?:AND )?(?:{_UP}))?", lambda first: SerialRange(first, None)),
    (rf"(?:SINCE|(?:STARTING|BEGINNING|COMMENCING|BEGINS?|STARTS?|EFFECTIVE)(?: WITH| AT| FROM)?) {S}", lambda first: SerialRange(first, None)),
    (rf"(?:ALL )?(?:PRIOR TO|BEFORE|BELOW|UNDER|(?:EARLIER|LOWER|LESS|SMALLER|OLDER) THAN) {S}", lambda n: SerialRange(None, _step(n, -1))),
    (rf"(?:ALL )?(?:AFTER|ABOVE|OVER|(?:LATER|HIGHER|GREATER|NEWER) THAN) {S}", lambda n: SerialRange(_step(n, +1), None)),
    (rf"(?:ONLY {S}|{S} ONLY)", lambda one, other: SerialRange(one or other, one or other)),
    (rf"(?:FROM )?{S} ?(?:-| TO | {_INCLUDED.replace('|', ' | ')} ) ?{S}(?: INCLUSIVE| INCL\.?)?", SerialRange),
    (S, lambda only: SerialRange(only, only)),
)

# What can be meant in two ways, with both.
_EITHER: tuple[tuple[str, Callable[..., tuple[str, str]]], ...] = (
    (rf"(?:ALL )?(?:UP TO|TO|UNTIL|TILL|UP UNTIL|-) ?{S}", lambda n: (f"{n} and lower", f"prior to {n}")),
    (rf"(?:FROM )?{S} (?:UP TO|UNTIL|TILL|UP UNTIL) {S}", lambda a, b: (f"{a} to {b}", f"from {a} on, but prior to {b}")),
    (rf"BETWEEN {S} AND {S}", lambda a, b: (f"{a} to {b}", f"after {a}, but prior to {b}")),
    (rf"{S} ?/ ?{S}", lambda a, b: (f"{a} to {b}", f"{a}; {b}")),
    (r"(.*\d) (\d+)( .*)?", lambda a, b, rest: (f"{a}{b}{rest or ''}".lower(), f"{a}; {b}{rest or ''}".lower())),
)

# What comes before the digits may be a word or the letters of a serial; "ab" and "bis" are "from" and "to" in German lists.
_WORD_OR_LETTERS: tuple[tuple[str, str], ...] = (
    (r"PRE[ -](\d+)", "prior to {}"),
    (r"(?:POST[ -]|OVER-)(\d+)", "after {}"),
    (r"(?:FROM-|AB |VON |MIN )(\d+)", "from {} on"),
    (r"(?:BIS |MAX |THRU-)(\d+)", "{} and lower"),
)
_ABOUT = rf"(?:ABOUT|APPROX(?:\.|IMATELY)?|CIRCA|CA\.?|C\.|AROUND|ROUGHLY|NEAR) ?{S}.*|{S} (?:OR SO|APPROX(?:\.|IMATELY)?|CIRCA)"

_DASHES = re.compile(r"\s*[‐-―−]\s*")
_CALLED = re.compile(
    r"(?<![A-Z0-9])(?:SERIAL|SER\.?|S/N|SN(?= )|NUMBERS?|NOS?\.?(?!T )(?=[ #:]*[A-Z]{0,3}[ -]?\d)|UNITS? (?=[A-Z]{0,3} ?\d)|#)[ .:#]*", re.ASCII
)
_JOINED = re.compile(rf",(?= ?(?:AND |OR )?(?:{_UP}|{_DOWN})\b)")  # "4500, and lower"
_AND = re.compile(r"^(?:AND|OR) ")


def _plain(phrase: str) -> str:
    words = _DASHES.sub("-", " ".join(phrase.upper().replace("&", " AND ").split()))
    words = re.sub(r"\bALL (?:SERIAL )?(?:NUMBERS|NOS\.?|SERIALS)$", "ALL", words)
    words = " ".join(_CALLED.sub(" ", words.removesuffix(".")).split())
    return re.sub(r" ?- ?", "-", words)


def _one_number(phrase: str, words: str) -> str:
    """Remove thousands separators; refuse commas that could be one or could separate a list."""

    def joined(found: re.Match[str]) -> str:
        groups = re.split("[,.']", found[0])
        if len(groups) > 2 and len(groups[0]) == 3 and groups == sorted(groups) and "," in found[0]:
            _either(phrase, "".join(groups), "; ".join(groups))
        return "".join(groups)

    words = re.sub(rf"(?<![\d,.']){_GROUPED}(?![,.']\d)", joined, words)
    for one, other in re.findall(r"(\d+),(?=(\d+))", words):
        if len(one) != len(other):
            _either(phrase, one + other, f"{one}; {other}")
    return words


def _item(phrase: str, item: str) -> list[SerialRange]:
    """One item of a list; it may still be several joined by AND."""
    for pattern, meaning in _WORD_OR_LETTERS:
        if found := re.fullmatch(pattern, item):
            _either(phrase, meaning.format(found[1]), f"{simplify(item)} only")
    for pattern, build in _PRINTED:
        if found := re.fullmatch(pattern, item):
            return [_sound(phrase, build(*found.groups()))]
    for pattern, meanings in _EITHER:
        if found := re.fullmatch(pattern, item):
            _either(phrase, *meanings(*found.groups()))
    if re.fullmatch(_ABOUT, item):
        remedy = 'In a breakpoint write the number in first_new, "yes" in about, and the words in as_printed.'
        raise DataError(f'"{phrase}" does not say exactly where the range ends.', remedy)
    for joint in re.finditer(" AND ", item):
        try:
            return [*_item(phrase, item[: joint.start()]), *_item(phrase, item[joint.end() :])]
        except DataError:
            continue
    raise DataError(f'"{phrase}" is not a range of serials.', REMEDY)


def _sound(phrase: str, found: SerialRange) -> SerialRange:
    """The range with its serials in normal form; refuse ends that do not go together."""
    first, last = (simplify(each) if each is not None else None for each in (found.first, found.last))
    if first is None or last is None or first == last:
        return SerialRange(first, last)
    (before, low, after), (before_last, high, after_last) = split(first), split(last)
    if before and not before_last:
        _either(phrase, f"{first} to {before}{last}", f"{first}; {last}")
    if (before, after) == (before_last, after_last):
        if int(high) < int(low) and len(high) < len(low):
            _either(phrase, f"{first} to {before}{low[: len(low) - len(high)]}{high}{after}", f"{first}{last}")
        if int(high) < int(low):
            raise DataError(f'"{phrase}" ends before it begins.', f'Write "{format(SerialRange(last, first))}" if that is meant.')
    return SerialRange(first, last)


def _step(serial: str, by: int) -> str:
    """The serial before or after, if only its digits change."""
    before, digits, after = split(serial)
    number = int(digits) + by
    if after or number < 1 or (before and len(str(number)) > len(digits)):
        which = "before" if by < 0 else "after"
        raise DataError(
            f"Which serial comes {which} {simplify(serial)} is not in its digits.", "Write the last or first serial that is meant itself."
        )
    width = len(digits) if before or digits.startswith("0") else 0
    return f"{before}{number:0{width}d}"


def _meet(one: SerialRange, other: SerialRange) -> bool:
    """Whether two ranges certainly have a serial in common; judged only if their letters are the same."""
    ends = [split(end) for each in (one, other) for end in (each.first, each.last) if end is not None]
    if len({(before, after) for before, _, after in ends}) > 1:
        return False
    (low, high), (other_low, other_high) = _numbers(one), _numbers(other)
    return low <= other_high and other_low <= high


def _numbers(each: SerialRange) -> tuple[float, float]:
    low = float("-inf") if each.first is None else int(split(each.first)[1])
    high = float("inf") if each.last is None else int(split(each.last)[1])
    return low, high


def _either(phrase: str, *meanings: str) -> NoReturn:
    both = " or ".join(f'"{meaning}"' for meaning in meanings)
    raise DataError(f'"{phrase}" can mean {both}.', "Look at the source, and write the one that is meant.")


_WORDS_INTO = {"breakpoints": "as_printed", "supersessions": "condition", "fitments": "note"}


def rows(table: str, phrase: str) -> list[dict[str, str]]:
    """The cells that a printed phrase fills in, a row for each range; where the file has a column for the words, they are kept.

    Raises:
        DataError: the phrase is not clear, the file has no columns for a range, or the phrase names no breakpoint.

    >>> rows("breakpoints", "312,400 and higher")
    [{'as_printed': '312,400 and higher', 'first_new': '312400'}]
    >>> rows("fitments", "4500 only")
    [{'note': '4500 only', 'serial_from': '4500', 'serial_to': '4500'}]
    """
    names = ("first_new", "last_old") if table == "breakpoints" else ("serial_from", "serial_to")
    if names[0] not in TABLES[table].model_fields:
        raise DataError(f"{table}.csv has no columns for a range of serials.", "Leave the printed wording out.")
    words = {_WORDS_INTO[table]: phrase} if table in _WORDS_INTO else {}
    ranges = parse(phrase)
    if table == "breakpoints":
        return [words | _change(phrase, ranges)]
    return [words | {name: end for name, end in zip(names, (each.first, each.last), strict=True) if end is not None} for each in ranges]


def _change(phrase: str, ranges: Sequence[SerialRange]) -> dict[str, str]:
    """Where a new variant begins, an old one ends, or both: "4500 and lower; 4501 and higher"."""
    new = [each.first for each in ranges if each.first is not None and each.last is None]
    old = [each.last for each in ranges if each.first is None and each.last is not None]
    if len(new) > 1 or len(old) > 1 or len(new) + len(old) != len(ranges):
        remedy = 'Write where the new variant begins, as in "4501 and higher", or where the old one ends.'
        raise DataError(f'"{phrase}" is no break between an old and a new variant.', remedy)
    return dict([("first_new", serial) for serial in new] + [("last_old", serial) for serial in old])
