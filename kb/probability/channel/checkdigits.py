"""Check digits: the characters that a maker adds to a number to reveal slips of the pen.

Every scheme is a finite automaton that reads the characters from the left and at the end gives the check characters
that belong there. So it can run beside a reading over all numbers of a stretch at once. Sources:

    luhn               H. P. Luhn, US patent 2,950,048 (1960); ISO/IEC 7812-1
    verhoeff           J. Verhoeff, Error Detecting Decimal Codes (1969): the dihedral group of the pentagon
    damm               H. M. Damm, Total anti-symmetrische Quasigruppen (2004): a quasigroup of order 10
    iso7064-...        ISO/IEC 7064: pure systems (11-2, 37-2, 97-10) and hybrid systems (11-10, 37-36)
    weighted-11-17     49 CFR 565.15(c): 17 characters, weighted sum modulo 11 at position 9

Letters of a serial count in 37-2, 37-36 and weighted-11-17; the other schemes ignore them.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kb.words.errors import DataError
from kb.words.notation import ALPHABET

GUESS = "#"  # in a prefix: the position of the check character
_DIGITS = ALPHABET[:10]
_INSIDE = 8  # position 9 of 17, counted from 0
_WEIGHTS = np.array([8, 7, 6, 5, 4, 3, 2, 10, 9, 8, 7, 6, 5, 4, 3, 2])  # without position 9
_VALUES_565 = dict(zip("0123456789ABCDEFGHJKLMNPRSTUVWXYZ", [*range(10), *range(1, 9), *range(1, 6), 7, 9, *range(2, 10)], strict=True))
_DOUBLED = np.array([0, 2, 4, 6, 8, 1, 3, 5, 7, 9])  # twice the digit, digits added up
_PENTAGON = np.array(  # turns 0-4 and mirrored turns 5-9 of a pentagon, one after the other
    [[(i % 5 + (k if i < 5 else -k)) % 5 + 5 * ((i < 5) != (k < 5)) for k in range(10)] for i in range(10)]
)
_TURN = np.array([1, 5, 7, 6, 2, 8, 3, 0, 9, 4])
_TURNS = np.array([[*range(10)]] + [[0] * 10] * 7)
for _power in range(1, 8):
    _TURNS[_power] = _TURN[_TURNS[_power - 1]]
_INVERSE = np.argmin(_PENTAGON, axis=1)
_QUASIGROUP = np.array(
    [
        [0, 3, 1, 7, 5, 9, 8, 6, 4, 2],
        [7, 0, 9, 2, 1, 5, 4, 8, 6, 3],
        [4, 2, 0, 6, 8, 7, 1, 3, 5, 9],
        [1, 7, 5, 0, 9, 8, 3, 4, 2, 6],
        [6, 1, 2, 3, 0, 4, 5, 9, 7, 8],
        [3, 6, 7, 4, 2, 0, 9, 5, 8, 1],
        [5, 8, 6, 9, 7, 2, 0, 1, 3, 4],
        [8, 9, 4, 5, 3, 6, 2, 0, 1, 7],
        [9, 4, 3, 8, 6, 1, 7, 2, 0, 5],
        [2, 5, 8, 1, 4, 3, 6, 7, 9, 0],
    ]
)


@dataclass(frozen=True)
class Scheme:
    """One way to make check characters.

    Attributes:
        alphabet: characters that take part, in the order of their values unless `values` says otherwise.
        states, start: states of the automaton, and the one it begins in.
        step: (state, value, characters still to come) -> state; works on arrays.
        written: state after the last character -> check characters.
        length: how many check characters.
    """

    alphabet: str
    states: int
    start: int
    step: Callable[[Any, Any, int], Any]
    written: Callable[[int], str]
    length: int = 1

    def value(self, character: str) -> int:
        """The value of a character."""
        return _VALUES_565[character] if self is SCHEMES["weighted-11-17"] else self.alphabet.index(character)

    def run(self, state: Any, text: str, to_come: int) -> Any:
        """The state after a text, if `to_come` characters follow it."""
        for place, character in enumerate(text):
            state = self.step(state, self.value(character), to_come + len(text) - 1 - place)
        return state


def _pure(modulus: int, radix: int, alphabet: str) -> Scheme:
    """ISO/IEC 7064, pure system with one check character: the weighted sum is 1 modulo the modulus."""
    return Scheme(alphabet[: modulus - 1], modulus, 0, lambda p, a, _: (p + a) * radix % modulus, lambda p: alphabet[(1 - p) % modulus])


def _hybrid(modulus: int) -> Scheme:
    """ISO/IEC 7064, hybrid system modulo M + 1 and M."""
    characters = ALPHABET[:modulus]
    return Scheme(
        characters, modulus + 1, modulus, lambda p, a, _: ((p + a - 1) % modulus + 1) * 2 % (modulus + 1), lambda p: characters[(1 - p) % modulus]
    )


SCHEMES: dict[str, Scheme] = {
    "luhn": Scheme(_DIGITS, 10, 0, lambda s, a, left: (s + (a if left % 2 else _DOUBLED[a])) % 10, lambda s: str(-s % 10)),
    "verhoeff": Scheme(_DIGITS, 10, 0, lambda s, a, left: _PENTAGON[_TURNS[(left + 1) % 8][a], s], lambda s: str(_INVERSE[s])),
    "damm": Scheme(_DIGITS, 10, 0, lambda s, a, _: _QUASIGROUP[s, a], str),
    "iso7064-11-2": _pure(11, 2, _DIGITS + "X"),
    "iso7064-11-10": _hybrid(10),
    "iso7064-37-2": _pure(37, 2, ALPHABET + "*"),
    "iso7064-37-36": _hybrid(36),
    "iso7064-97-10": Scheme(_DIGITS, 97, 0, lambda s, a, _: (s * 10 + a) % 97, lambda s: f"{98 - s * 100 % 97:02d}", 2),
    "weighted-11-17": Scheme("".join(_VALUES_565), 11, 0, lambda s, a, left: (s + a * _WEIGHTS[15 - left]) % 11, lambda s: "0123456789X"[s]),
}


@dataclass(frozen=True, eq=False)
class Walk:
    """A scheme led through the serials of one printed form: a fixed beginning, then free digits.

    Attributes:
        start: state before the free digits.
        after: (L, states, 10) state after a digit.
        written: check characters by state after the last digit, as a normal form shows them.
    """

    start: int
    after: NDArray[np.intp]
    written: tuple[str, ...]


def walk(name: str, prefix: str, digits: str, free: int, suffix: str) -> Walk:
    """The automaton over serials of prefix, these digits, `free` more of them, and suffix.

    The `*` that ISO/IEC 7064 uses as the 37th character is not part of a normal form: it is written as nothing.

    Raises:
        DataError: there is no such scheme, or it is not made for this form.
    """
    scheme = _scheme(name)
    inside = GUESS in prefix
    _check_form(name, prefix, len(digits) + free, suffix)
    before = "".join(character for character in prefix if character in scheme.alphabet) + digits
    behind = suffix if inside else ""
    states = np.arange(scheme.states)[:, None]
    after = [scheme.step(states, np.arange(10), free - 1 - place + len(behind)) for place in range(free)]
    written = [scheme.written(int(scheme.run(state, behind, 0))).replace("*", "") for state in range(scheme.states)]
    return Walk(
        int(scheme.run(scheme.start, before, free + len(behind))), np.array(after, dtype=np.intp).reshape(free, scheme.states, 10), tuple(written)
    )


def check_characters(scheme: str, payload: str) -> str:
    """The check characters that belong to a payload (for weighted-11-17 the 16 characters other than position 9).

    Raises:
        DataError: there is no such scheme, or a character or the length does not belong to it.

    >>> check_characters("luhn", "7992739871"), check_characters("weighted-11-17", "1M8GDM9AKP042788")
    ('3', 'X')
    """
    rule = _scheme(scheme)
    for character in payload:
        if character not in rule.alphabet:
            raise DataError(f'"{payload}" contains "{character}".', f"The check-digit scheme {scheme} knows only {rule.alphabet}.")
    if not payload or (scheme == "weighted-11-17" and len(payload) != len(_WEIGHTS)):
        raise DataError(f'"{payload}" has {len(payload)} characters.', "Give 16 characters, without position 9." if payload else "Give the number.")
    return rule.written(int(rule.run(rule.start, payload, 0)))


def is_valid(scheme: str, text: str) -> bool:
    """Whether the check characters of a whole number are right. A text that does not suit the scheme is not valid.

    Raises:
        DataError: there is no such scheme.

    >>> is_valid("verhoeff", "2363"), is_valid("verhoeff", "2336")
    (True, False)
    """
    length = _scheme(scheme).length
    cut = (_INSIDE, _INSIDE + 1) if scheme == "weighted-11-17" else (max(0, len(text) - length), len(text))
    try:
        return check_characters(scheme, text[: cut[0]] + text[cut[1] :]) == text[cut[0] : cut[1]]
    except DataError:
        return False


def _scheme(name: str) -> Scheme:
    if name not in SCHEMES:
        raise DataError(f'"{name}" is not a check-digit scheme.', f"Use one of: {', '.join(SCHEMES)}.")
    return SCHEMES[name]


def _check_form(name: str, prefix: str, digits: int, suffix: str) -> None:
    inside = name == "weighted-11-17"
    if not inside and GUESS in prefix:
        raise DataError(f'The prefix "{prefix}" holds {GUESS}, but {name} puts its check characters after the digits.', f"Leave {GUESS} out.")
    if inside and (prefix.find(GUESS) != _INSIDE or prefix.count(GUESS) != 1):
        raise DataError(f'The prefix "{prefix}" does not hold {GUESS} at position 9.', f"Write {GUESS} where {name} has its check character.")
    if inside and len(prefix) + digits + len(suffix) != len(_WEIGHTS) + 1:
        raise DataError(
            f'Serials "{prefix}" + {digits} digits + "{suffix}" have not 17 characters.', f"{name} needs 17: correct prefix, width or suffix."
        )
    for character in (prefix + suffix).replace(GUESS, "") if inside else "":
        if character not in _VALUES_565:
            raise DataError(f'"{character}" does not occur in numbers of 17 characters.', f"Correct the prefix or suffix, or leave {name} out.")
