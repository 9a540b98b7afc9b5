"""What re-reading one character can tell: every character of every reading, those typed without a doubt too (docs/model.md, section 10).

What a second look would show is worked out as if it had been told: all characters at once, from the true characters that the token may stand for
in each recorded text or stretch of serials, and in a text that nobody recorded.
"""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.desk.sentences.checks import reread, reread_whole
from kb.probability.channel.alignment import rereadable, shown_again
from kb.probability.channel.automaton import Automaton
from kb.probability.channel.background import TextModel
from kb.probability.channel.reading import Reading
from kb.probability.inference.assembly import Spot
from kb.probability.inference.information import entropies, gain
from kb.words.notation import ALPHABET

Floats = NDArray[np.float64]
WORTH_SAYING = 0.01  # display: bits
LEAST_OUTCOME = 0.002  # display: probability of a character from which on it is named


@dataclass(frozen=True)
class Reread:
    """A character to be read again, or `count` of them, all that a number has.

    Attributes:
        joint: (answers, outcomes).
        adds: the evidence that an outcome, by its place, would add.
        position: of the token in the reading.
        of: the place that the answers are of, if the question is put place by place.
    """

    check: str
    bits: float
    outcomes: list[str]
    joint: Floats
    adds: Callable[[int], dict[str, Any]]
    position: int = -1
    count: int = 1
    of: Spot | None = None


Adds = Callable[[int, str], dict[str, Any]]


def characters(tables: Floats, reading: Reading, where: str, adds: Adds, again: Collection[int] = ()) -> Iterator[Reread]:
    """The characters of a reading that are worth reading again.

    Args:
        tables: (positions, answers, 36) joint probabilities of the answer and the character seen on a second look, for every token that can be
            read again, to any scale.
        adds: from a position and the character seen there to the evidence that it is.
        again: positions that were looked at again already; a third look is not proposed.
    """
    if not len(tables):  # nothing but `*`
        return
    tables = tables / tables.sum(axis=(1, 2), keepdims=True)
    gains = entropies(tables.sum(axis=2)) + entropies(tables.sum(axis=1)) - entropies(tables.reshape(len(tables), -1))
    for position, table, bits in zip(rereadable(reading), tables, gains.tolist(), strict=True):
        if bits >= WORTH_SAYING and position not in again:
            likely = np.flatnonzero(table.sum(axis=0) > LEAST_OUTCOME)
            names = [ALPHABET[i] for i in likely]
            rest = np.delete(table, likely, axis=1).sum(axis=1)
            joint, added = np.column_stack([table[:, likely], rest]), _adding(position, names, adds)
            yield Reread(reread(position + 1, reading, where), bits, [*names, "another character"], joint, added, position)


def _adding(position: int, names: Sequence[str], adds: Adds) -> Callable[[int], dict[str, Any]]:
    return lambda outcome: adds(position, names[outcome]) if outcome < len(names) else {}


def whole_number(readings: Sequence[Reading], joint: Floats, where: str) -> Reread:
    """A number that is to be read again as a whole, where it takes too long to find out which character would tell most.

    joint: (answers, numbers) probabilities, of what the number is and what it would mean; it tells that much if nothing is misread.
    """
    longest = max(len(rereadable(reading)) for reading in readings)
    return Reread(reread_whole(readings, where), gain(joint), [], joint[:, :0], lambda _: {}, count=longest)


def unrecorded_again(part: Automaton, reading: Reading, texts: TextModel, assumptions: Assumptions) -> Floats:
    """(positions, 1, 36) what a second look would show on a text that is not in this knowledge base. texts: what such texts look like."""
    stands = texts.standing(part)
    return shown_again(part, reading, (stands / part.once(stands))[:, None], assumptions)
