"""Readings led through a fixed count of characters: which states are alive before each, and the steps between them.

A state is alive if it can be reached from the beginning and the end can still be reached from it. Without `*` that is
one state a place, so most of what an automaton could do never has to be computed. Several readings of one number go
through it together; the alive states of the product are the pairs of alive states (docs/model.md, section 1).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from math import prod

import numpy as np
from numpy.typing import NDArray

from kb.channel.compiled import Floats, Part
from kb.words.errors import DataError

DIGITS = 10
MOST_STEPS = 8192  # of readings together, at one digit; keeps 2,000 stretches within seconds

Indexes = NDArray[np.intp]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Steps:
    """All steps that one digit can make, ordered by target.

    Attributes:
        source, target: (E,) positions among the alive states before and after the digit.
        weight: (10, E) weight of the step by digit.
        before, after: how many states are alive.
    """

    source: Indexes
    target: Indexes
    weight: Floats
    before: int
    after: int

    def beside(self, other: "Steps") -> "Steps":
        """The steps of two automata taken together; the pair (i, j) is state i * size + j."""
        source = (self.source[:, None] * other.before + other.source).ravel()
        target = (self.target[:, None] * other.after + other.target).ravel()
        weight = (self.weight[:, :, None] * other.weight[:, None, :]).reshape(DIGITS, -1)
        order = np.argsort(target, kind="stable")
        return Steps(source[order], target[order], weight[:, order], self.before * other.before, self.after * other.after)


@dataclass(frozen=True, eq=False)
class Lattice:
    """One reading over a count of digits: alive states at either end (positions in the part), and the steps between."""

    first: Indexes
    last: Indexes
    steps: tuple[Steps, ...]

    @classmethod
    def of(cls, part: Part, begins: Floats, ends: Floats, length: int) -> "Lattice":
        """The alive states of a part between states where the digits can begin and where they can end, (S,) positive there."""
        goes_on, stays = part.goes_on, part.stay > 0
        reached = [begins > 0]
        for _ in range(length):
            reached.append((reached[-1] & stays) | _shift(reached[-1] & goes_on))
        useful = ends > 0
        alive = [reached[length] & useful]
        for before in reversed(reached[:-1]):
            useful = (useful & stays) | (np.append(useful[1:], False) & goes_on)
            alive.insert(0, before & useful)
        steps = tuple(_steps(part, before, after) for before, after in zip(alive, alive[1:], strict=False))
        return cls(np.flatnonzero(alive[0]), np.flatnonzero(alive[-1]), steps)


def together(lattices: Sequence[Lattice], times: int = 1) -> tuple[Steps, ...]:
    """The steps of several readings of one number, digit by digit. `times`: states of what else is kept beside them.

    Raises:
        DataError: the readings leave so much open that too many combinations would have to be weighed.
    """
    if len(lattices) > 1:
        most = max(prod(len(step.source) for step in digit) for digit in zip(*(lattice.steps for lattice in lattices), strict=True))
        if most > MOST_STEPS or most * times > 16 * MOST_STEPS:
            raise DataError(
                f"{len(lattices)} readings of one number leave too much open to be weighed together ({most} ways to go on at one digit).",
                "Give fewer readings of this number, or write ? for each single missing character instead of *.",
            )
    return tuple(reduce(Steps.beside, digit) for digit in zip(*(lattice.steps for lattice in lattices), strict=True))


def _steps(part: Part, before: Flags, after: Flags) -> Steps:
    states = np.flatnonzero(before)
    place = np.cumsum(after) - 1
    staying = states[(part.stay[states] > 0) & after[states]]
    going = states[part.goes_on[states] & np.append(after[1:], False)[states]]
    source = np.searchsorted(states, np.concatenate([staying, going]))
    target = np.concatenate([place[staying], place[going + 1]])
    weight = np.concatenate([np.ones((DIGITS, len(staying))), part.entries[:DIGITS, going]], axis=1)
    order = np.argsort(target, kind="stable")
    return Steps(source[order], target[order], weight[:, order], len(states), int(after.sum()))


def _shift(flags: Flags) -> Flags:
    return np.concatenate([[False], flags[:-1]])
