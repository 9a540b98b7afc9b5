"""What re-reading one character can tell: every character of every reading, those typed without a doubt too (docs/model.md, section 10).

A second look at one place is taken to be as good as a reading of a clean character. What it would show follows from what may stand
there: for each recorded text that the reading may be, the share of every alignment; for a text nobody recorded, what the wear table has.
"""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.channel.alignment import rereadable, stands_for, usual
from kb.channel.compiled import Part, level_of
from kb.channel.reading import Reading
from kb.channel.wear import confusion
from kb.desk import explain
from kb.inference.advice import entropies
from kb.words.notation import ALPHABET

Floats = NDArray[np.float64]
WORTH_SAYING = 0.01  # bits
LEAST_OUTCOME = 0.002  # probability of a character from which on it is named


@dataclass(frozen=True)
class Reread:
    """A character to be read again. joint: (answers, outcomes); adds: the evidence that an outcome, by its place, would add."""

    check: str
    bits: float
    outcomes: list[str]
    joint: Floats
    adds: Callable[[int], dict[str, Any]]


Adds = Callable[[int, str], dict[str, Any]]


def characters(tables: Floats, reading: Reading, where: str, adds: Adds, again: Collection[int] = ()) -> Iterator[Reread]:
    """The characters of a reading that are worth reading again.

    Args:
        tables: (positions, answers, 36) joint probabilities of the answer and the character seen on a second look, for every token that can be
            read again; each sums to 1.
        adds: from a position and the character seen there to the evidence that it is.
        again: positions that were looked at again already; a third look is not proposed.
    """
    if not len(tables):  # nothing but `*`
        return
    gains = entropies(tables.sum(axis=2)) + entropies(tables.sum(axis=1)) - entropies(tables.reshape(len(tables), -1))
    for position, table, bits in zip(rereadable(reading), tables, gains.tolist(), strict=True):
        if bits >= WORTH_SAYING and position not in again:
            likely = np.flatnonzero(table.sum(axis=0) > LEAST_OUTCOME)
            names = [ALPHABET[i] for i in likely]
            rest = np.delete(table, likely, axis=1).sum(axis=1)
            joint, added = np.column_stack([table[:, likely], rest]), _adding(position, names, adds)
            yield Reread(explain.reread(position + 1, reading, where), bits, [*names, "another character"], joint, added)


def _adding(position: int, names: Sequence[str], adds: Adds) -> Callable[[int], dict[str, Any]]:
    return lambda outcome: adds(position, names[outcome]) if outcome < len(names) else {}


def seen_again(part: Part, reading: Reading, texts: Sequence[str], assumptions: Assumptions) -> tuple[Floats, Floats]:
    """What a second look would show, by text that the reading may be of.

    Returns:
        (N,) weight of each text; (positions, N, 36) P(character seen | text), 0 where the text cannot be it.
    """
    weights, stands = stands_for(part, texts)
    return weights, np.ascontiguousarray(np.moveaxis(stands, 1, 0)[rereadable(reading)]) @ confusion("clean", assumptions)


def unrecorded_again(reading: Reading, wear: str | None, assumptions: Assumptions) -> Floats:
    """(positions, 1, 36) what a second look would show on a text of which nothing is known, at places not looked at again yet."""
    table, clean = confusion(level_of(reading, wear), assumptions), confusion("clean", assumptions)
    stands = np.array([usual(reading.tokens[place], table) for place in rereadable(reading)]).reshape(-1, 1, len(ALPHABET))
    return np.asarray(stands @ clean, dtype=np.float64)
