"""Readings made ready for computing: one small weighted automaton per reading (docs/model.md, section 1).

State s of a reading: s tokens other than `*` are used up. A true character either takes the automaton on to the
next state, with the channel's entry for that token as weight, or is taken in by a `*` that stands there, with weight
1. Every path is one alignment, so sums over paths are sums over alignments. The number read upside down is a second
row of states beside the first, so the automaton as a whole is two bands, one above the other.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.channel.reading import Reading
from kb.channel.wear import confusion
from kb.words.errors import DataError
from kb.words.notation import ALPHABET

Floats = NDArray[np.float64]
_CODES = {character: code for code, character in enumerate(ALPHABET)}


@dataclass(frozen=True, eq=False)
class Part:
    """The automaton of one reading, S states.

    Attributes:
        entries: (characters, S) weight with which a true character takes state s on to s + 1; 0 in a last state.
        stay: (S,) 1 where a `*` takes in any character, else 0.
        start: (S,) weight of beginning in a state: the prior of either way up.
        end: (S,) 1 where the reading is used up, else 0.
    """

    entries: Floats
    stay: Floats
    start: Floats
    end: Floats

    @property
    def goes_on(self) -> NDArray[np.bool_]:
        """(S,) whether a token comes after this state, so that it is no last one."""
        return np.asarray((self.entries > 0).any(axis=0), dtype=np.bool_)

    def forward(self, weights: Floats, codes: Iterable[int]) -> Floats:
        """(S,) weights of the states after these true characters."""
        for code in codes:
            moved = weights * self.entries[code]
            weights = weights * self.stay
            weights[1:] += moved[:-1]
        return weights

    def backward(self, weights: Floats, codes: Sequence[int]) -> Floats:
        """(S,) what each state is worth before these true characters, if `weights` is what it is worth after them."""
        for code in reversed(codes):
            moved = self.entries[code, :-1] * weights[1:]
            weights = weights * self.stay
            weights[:-1] += moved
        return weights


@dataclass(frozen=True, eq=False)
class Compiled:
    """Readings of one number, each with its automaton."""

    readings: tuple[Reading, ...]
    parts: tuple[Part, ...]

    def weight(self, text: str) -> float:
        """P(readings | text), the text being A-Z0-9: the product of the single weights, alignments summed."""
        codes = encode(text)
        return float(np.prod([part.forward(part.start, codes) @ part.end for part in self.parts]))


def compile_readings(readings: Sequence[Reading], wears: Sequence[str | None], assumptions: Assumptions) -> Compiled:
    """Several readings of ONE number. They share its wear, so their entries are flattened by a common exponent.

    A wear of None is "clean" for a plainly typed reading, else "worn".

    Raises:
        DataError: there is no such level of wear.
    """
    exponent = assumptions.sharpness / (1 + (len(readings) - 1) * assumptions.reading_correlation)
    parts = tuple(
        _part(reading, confusion(wear or ("clean" if reading.plain else "worn"), assumptions), exponent, assumptions.upside_down)
        for reading, wear in zip(readings, wears, strict=True)
    )
    return Compiled(tuple(readings), parts)


def encode(text: str) -> list[int]:
    """Positions in the alphabet of the characters of a text.

    Raises:
        DataError: a character is neither A-Z nor 0-9.
    """
    try:
        return [_CODES[character] for character in text]
    except KeyError as error:
        raise DataError(f'"{text}" contains {error}.', "Use the normal form: letters A-Z and digits only.") from None


def _part(reading: Reading, table: Floats, exponent: float, upside_down: float) -> Part:
    turned = reading.turned()
    ways = [(reading, 1.0)] if turned is None else [(reading, 1 - upside_down), (turned, upside_down)]
    entries, stay, start, end = [], [], [], []
    for way, prior in ways:
        read = [token for token in way.tokens if token != "*"]
        lost = np.zeros(len(read) + 1)
        used = 0
        for token in way.tokens:
            lost[used] = max(lost[used], token == "*")
            used += token != "*"
        columns = [np.ones(len(ALPHABET)) if token == "?" else table[:, encode(token)].sum(axis=1) ** exponent for token in read]
        entries += [*columns, np.zeros(len(ALPHABET))]
        stay.append(lost)
        start += [prior] + [0.0] * len(read)
        end += [0.0] * len(read) + [1.0]
    return Part(np.ascontiguousarray(np.array(entries).T), np.concatenate(stay), np.array(start), np.array(end))
