"""Readings made ready for computing: one small weighted automaton per reading (docs/model.md, section 1).

A state says how many tokens other than `*` are used up. A true character takes the automaton along an edge, with the channel's entry as
weight: on to the next token, or round again at a `*`, which takes it. A worn reading has a second band of states, after the
one slip that may have happened unnoticed: a character lost, one taken for two, or an end broken off. Every path is one alignment, so sums over
paths are sums over alignments. The number read upside down is a second automaton beside the first.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.probability.channel.reading import TURNED, Reading
from kb.probability.channel.wear import confusion
from kb.words.errors import DataError
from kb.words.notation import ALPHABET

Floats = NDArray[np.float64]
Indexes = NDArray[np.intp]
_CODES = {character: code for code, character in enumerate(ALPHABET)}


@dataclass(frozen=True, eq=False)
class Automaton:
    """The automaton of one reading: S states, E edges in the order of their targets. No edge leads to an earlier state.

    Attributes:
        source, target: (E,) states.
        entries: (characters, E) weight with which a true character takes the edge. An edge from a state to itself weighs all characters alike.
        start: (S,) weight of beginning in a state: the prior of either way up.
        end: (S,) 1 where the reading is used up, else 0.
        covers: (S,) where there is a `*`, which takes any character.
        takes: (E, 2) the tokens that an edge uses up, by their position in the reading as typed; -1: none.
    """

    source: Indexes
    target: Indexes
    entries: Floats
    start: Floats
    end: Floats
    covers: NDArray[np.bool_]
    takes: Indexes

    def forward(self, weights: Floats, codes: Iterable[int]) -> Floats:
        """(S,) weights of the states after these true characters."""
        for code in codes:
            weights = np.bincount(self.target, weights[self.source] * self.entries[code], len(self.start)).astype(np.float64)
        return weights

    def backward(self, weights: Floats, codes: Sequence[int]) -> Floats:
        """(S,) what each state is worth before these true characters, if `weights` is what the states are worth after them."""
        for code in reversed(codes):
            weights = np.bincount(self.source, self.entries[code] * weights[self.target], len(self.start)).astype(np.float64)
        return weights

    @cached_property
    def turned(self) -> NDArray[np.bool_]:
        """(E,) the edges of the reading upside down."""
        begins = np.flatnonzero(self.start)
        return self.source >= begins[1] if len(begins) > 1 else np.zeros(len(self.source), dtype=np.bool_)

    @property
    def tokens(self) -> int:
        """How many tokens there are, up to the last that is not `*`."""
        return int(self.takes.max(initial=-1)) + 1

    @cached_property
    def using(self) -> Floats:
        """(T, E) 1 where an edge uses up a token, else 0: the tokens in the order of the reading as typed, then again of the reading upside down."""
        using = sum((np.arange(self.tokens)[:, None] == column).astype(np.float64) for column in self.takes.T)
        return np.concatenate([using * ~self.turned, using * self.turned]) if self.turned.any() else np.asarray(using)

    def once(self, stands: Floats) -> Floats:
        """(...) the whole of (T, 36, ...) weights by row of `using` and true character, which each token but `*` has; 1 where there is none."""
        if not self.tokens:
            return np.ones(stands.shape[2:])
        whole: Floats = stands.reshape(-1, self.tokens, *stands.shape[1:]).sum(axis=(0, 2)).max(axis=0)
        return np.where(whole > 0, whole, 1.0)

    @cached_property
    def onward(self) -> dict[int, list[tuple[int, int]]]:
        """state -> (target, edge) of the edges that leave it."""
        leaving: dict[int, list[tuple[int, int]]] = {}
        for edge, (source, target) in enumerate(zip(self.source.tolist(), self.target.tolist(), strict=True)):
            leaving.setdefault(source, []).append((target, edge))
        return leaving

    @cached_property
    def still_to_come(self) -> Indexes:
        """(S,) the least number of characters that a state must still take before the reading is used up."""
        needed = np.where(self.end > 0, 0, len(self.start) + 1)
        for source, target in sorted(zip(self.source.tolist(), self.target.tolist(), strict=True), reverse=True):
            needed[source] = min(needed[source], needed[target] + 1)
        return needed


@dataclass(frozen=True, eq=False)
class ReadingAutomata:
    """Readings of one number, each with its automaton."""

    readings: tuple[Reading, ...]
    parts: tuple[Automaton, ...]

    def weight(self, text: str) -> float:
        """P(readings | text), the text being A-Z0-9: the product of the single weights, alignments summed."""
        codes = encode(text)
        return float(np.prod([part.forward(part.start, codes) @ part.end for part in self.parts]))


def compile_readings(readings: Sequence[Reading], wears: Sequence[str | None], assumptions: Assumptions) -> ReadingAutomata:
    """Several readings of ONE number. They share its wear, so their entries are flattened by a common exponent.

    A wear of None is "clean" for a plainly typed reading, else "worn".

    Raises:
        DataError: there is no such level of wear.
    """
    discount = 1 / (1 + (len(readings) - 1) * assumptions.reading_correlation)
    parts = tuple(_part(reading, level_of(reading, wear), discount, assumptions) for reading, wear in zip(readings, wears, strict=True))
    return ReadingAutomata(tuple(readings), parts)


def looked_again(compiled: ReadingAutomata, which: int, again: Mapping[int, str], assumptions: Assumptions) -> ReadingAutomata:
    """The same, with what a second look showed at some tokens of one reading: as good as a reading of a clean character.

    Args:
        again: position of the token in the reading as typed -> the character seen there.

    Raises:
        DataError: there is no such token, it is `*`, or a character cannot be stamped.
    """
    part, reading = compiled.parts[which], compiled.readings[which]
    clean = confusion("clean", assumptions)
    entries = part.entries.copy()
    turned = part.turned
    for position, character in again.items():
        reading.token_at(position)
        (code,) = encode(character) if len(character) == 1 else [-1]
        if code < 0:
            raise DataError(f'"{character}" is not one character.', 'Say what the second look showed, as in "3=8".')
        takes = (part.takes == position).any(axis=1)
        entries[:, takes & ~turned] *= clean[:, [code]]
        entries[:, takes & turned] *= clean[:, encode(TURNED[character])] if character in TURNED else clean.min()
    parts = [replace(part, entries=entries) if i == which else each for i, each in enumerate(compiled.parts)]
    return ReadingAutomata(compiled.readings, tuple(parts))


def level_of(reading: Reading, wear: str | None) -> str:
    """The level of wear assumed for a reading."""
    return wear or ("clean" if reading.plain else "worn")


def encode(text: str) -> list[int]:
    """Positions in the alphabet of the characters of a text.

    Raises:
        DataError: a character is neither A-Z nor 0-9.
    """
    try:
        return [_CODES[character] for character in text]
    except KeyError as error:
        raise DataError(f'"{text}" contains {error}.', "Use the normal form: letters A-Z and digits only.") from None


@dataclass(frozen=True)
class _Slips:
    """What may have gone unnoticed once in a reading: weights of a character lost, one taken for two, one lost at an end, each further one there."""

    lost: float
    doubled: float
    end_lost: float
    end_lost_more: float


def _part(reading: Reading, level: str, discount: float, assumptions: Assumptions) -> Automaton:
    table = confusion(level, assumptions)
    exponent = discount * (1.0 if level == "clean" else assumptions.sharpness)
    slips = None
    if "*" not in reading.tokens and any(each[level] for each in (assumptions.lost, assumptions.doubled, assumptions.end_lost)):
        weights = (assumptions.lost[level], assumptions.doubled[level], assumptions.end_lost[level], assumptions.end_lost_more)
        slips = _Slips(*(weight**exponent for weight in weights))
    turned = reading.turned()
    upside_down = assumptions.upside_down
    ways = [(reading, 1.0)] if turned is None else [(reading, 1 - upside_down), (turned, upside_down)]
    places = [i for i, token in enumerate(reading.tokens) if token != "*"]
    bands = [_band(way.tokens, prior, table, exponent, slips, places if way is reading else places[::-1]) for way, prior in ways]
    return _side_by_side(bands)


def _band(tokens: tuple[str, ...], prior: float, table: Floats, exponent: float, slips: _Slips | None, places: list[int]) -> Automaton:
    read = [token for token in tokens if token != "*"]
    n, any_one = len(read), np.ones(len(ALPHABET))
    columns = [any_one if token == "?" else table[:, encode(token)].sum(axis=1) ** exponent for token in read]
    covers = np.zeros(n + 1, dtype=np.bool_)
    used = 0
    for token in tokens:
        covers[used] |= token == "*"
        used += token != "*"
    none = (-1, -1)
    edges = [(s, s + 1, column, (places[s], -1)) for s, column in enumerate(columns)]
    edges += [(int(s), int(s), any_one, none) for s in np.flatnonzero(covers)]
    size = n + 1
    ends = [n]
    if slips:
        after, broken = n + 1, 2 * n + 2  # state s after a slip is after + s; the last state has lost its end
        edges += [(after + s, after + s + 1, column, (places[s], -1)) for s, column in enumerate(columns)]
        edges += [(s, after + s, slips.lost * any_one, none) for s in range(1, n)]
        edges += [(s, after + s + 2, slips.doubled * columns[s] * columns[s + 1], (places[s], places[s + 1])) for s in range(n - 1)]
        edges += [(0, after, slips.end_lost * any_one, none), (n, broken, slips.end_lost * any_one, none)]
        edges += [(end, end, slips.end_lost_more * any_one, none) for end in (after, broken)]
        ends += [after + n, broken]
        size = 2 * n + 3
    edges.sort(key=lambda edge: edge[1])
    start, end = np.zeros(size), np.zeros(size)
    start[0], end[ends] = prior, 1.0
    source, target, weights, takes = zip(*edges, strict=True)
    covers = np.concatenate([covers, np.zeros(size - n - 1, dtype=np.bool_)])
    states = np.array([source, target], dtype=np.intp)
    return Automaton(states[0], states[1], np.array(weights).T, start, end, covers, np.array(takes, dtype=np.intp))


def _side_by_side(bands: Sequence[Automaton]) -> Automaton:
    if len(bands) == 1:
        return bands[0]
    shift = np.cumsum([0] + [len(band.start) for band in bands[:-1]])
    return Automaton(
        np.concatenate([band.source + by for band, by in zip(bands, shift, strict=True)]),
        np.concatenate([band.target + by for band, by in zip(bands, shift, strict=True)]),
        np.concatenate([band.entries for band in bands], axis=1),
        np.concatenate([band.start for band in bands]),
        np.concatenate([band.end for band in bands]),
        np.concatenate([band.covers for band in bands]),
        np.concatenate([band.takes for band in bands]),
    )
