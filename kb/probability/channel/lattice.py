"""Readings taken through a fixed count of characters: which states are alive before each, and the steps between them.

A state is alive if it can be reached from the beginning and the end can still be reached from it. Without `*` that is
one state at each position, so most of what an automaton could do need never be computed. Several readings of one number go
through it together; the alive states of the product are the pairs of alive states (docs/model.md, section 1).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, reduce
from math import prod

import numpy as np
from numpy.typing import NDArray

from kb.probability.channel.automaton import Automaton, Floats, Indexes
from kb.words.errors import DataError

DIGITS = 10
MOST_STEPS = 8192  # of readings together, at one digit; keeps 2,000 stretches within seconds

Flags = NDArray[np.bool_]

_BELOW = np.triu(np.ones((DIGITS, DIGITS)), 1)  # [digit, end]: the digit is less than the end
_BETWEEN = (_BELOW.T[:, :, None] * _BELOW[:, None, :]).reshape(DIGITS, DIGITS * DIGITS)  # [digit, (low, high)]: strictly between the two


class Tables:
    """Weights of steps by digit, (E, 10), and their sums over digits; `all`: (E,)."""

    def __init__(self, weight: Floats) -> None:
        self.weight, self.all = weight, weight.sum(axis=-1)

    @cached_property
    def below(self) -> Floats:
        """(E, 10) over the digits below one."""
        return np.asarray(self.weight @ _BELOW, dtype=np.float64)

    @cached_property
    def above(self) -> Floats:
        """(E, 10) over the digits above one."""
        return np.asarray(self.weight @ _BELOW.T, dtype=np.float64)

    @cached_property
    def between(self) -> Floats:
        """(E, 10, 10) over the digits strictly between two."""
        return np.asarray((self.weight @ _BETWEEN).reshape(*self.weight.shape, DIGITS), dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Steps:
    """All steps that one digit can make, ordered by target.

    Attributes:
        source, target: (E,) positions among the alive states before and after the digit.
        weight: (10, E) weight of the step by digit.
        before, after: how many states are alive.
        edges: (E,) for each reading that they are steps of, the edge of its part.
    """

    source: Indexes
    target: Indexes
    weight: Floats
    before: int
    after: int
    edges: tuple[Indexes, ...] = ()

    def gathered(self, values: Floats) -> Floats:
        """(after, K) sums of (E, K) values by the state they lead to; each alive state is led to."""
        if len(self.target) == self.after:
            return values
        return np.asarray(np.add.reduceat(values, self._begins, axis=0), dtype=np.float64)

    @cached_property
    def _begins(self) -> Indexes:
        return np.searchsorted(self.target, np.arange(self.after))

    def left(self, values: Floats) -> Floats:
        """(before, K) sums of (E, K) values by the state they leave; each alive state is left."""
        order, begins = self._by_source
        return np.asarray(np.add.reduceat(values[order], begins, axis=0), dtype=np.float64)

    @cached_property
    def _by_source(self) -> tuple[Indexes, Indexes]:
        order = np.argsort(self.source, kind="stable")
        return order, np.searchsorted(self.source[order], np.arange(self.before))

    @cached_property
    def tables(self) -> "Tables":
        """The weights of its digits, added up in the ways that a walk needs."""
        return Tables(self.weight.T)

    def beside(self, other: "Steps") -> "Steps":
        """The steps of two automata taken together; the pair (i, j) is state i * size + j."""
        source = (self.source[:, None] * other.before + other.source).ravel()
        target = (self.target[:, None] * other.after + other.target).ravel()
        weight = (self.weight[:, :, None] * other.weight[:, None, :]).reshape(DIGITS, -1)
        order = np.argsort(target, kind="stable")
        mine, theirs = np.divmod(order, len(other.source))
        edges = (*(each[mine] for each in self.edges), *(each[theirs] for each in other.edges))
        return Steps(source[order], target[order], weight[:, order], self.before * other.before, self.after * other.after, edges)


@dataclass(frozen=True, eq=False)
class Lattice:
    """One reading over a count of digits: alive states at either end (positions in the part), and the steps between."""

    first: Indexes
    last: Indexes
    steps: tuple[Steps, ...]

    @classmethod
    def of(cls, part: Automaton, begins: Floats, ends: Floats, length: int) -> "Lattice":
        """The alive states of a part between states where the digits can begin and where they can end, (S,) positive there."""
        reached = [begins > 0]
        for _ in range(length):
            reached.append(_marked(part.target[reached[-1][part.source]], len(begins)))
        useful = ends > 0
        alive = [reached[length] & useful]
        for before in reversed(reached[:-1]):
            useful = _marked(part.source[useful[part.target]], len(begins))
            alive.insert(0, before & useful)
        pairs = list(zip(alive, alive[1:], strict=False))
        steps = tuple(_steps(part, np.flatnonzero(before[part.source] & after[part.target]), before, after) for before, after in pairs)
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


def counted(start: int, after: Indexes, wanted: Flags) -> tuple[tuple[Steps, ...], Indexes]:
    """The steps of a check digit's automaton, digit by digit, between its start and the states that are wanted; and (C,) those it ends in.

    Args:
        after: (L, states, 10) state after a digit. wanted: (states,).
    """
    reached = [np.arange(after.shape[1]) == start]
    for each in after:
        reached.append(_marked(each[reached[-1]].ravel(), len(wanted)))
    useful = wanted
    alive = [reached[-1] & useful]
    for before, each in zip(reversed(reached[:-1]), reversed(after), strict=True):
        useful = useful[each].any(axis=1)
        alive.insert(0, before & useful)
    found = []
    for each, before, behind in zip(after, alive, alive[1:], strict=False):
        source, digit = np.nonzero(before[:, None] & behind[each])
        target = each[source, digit]
        order = np.argsort(target, kind="stable")
        weight = (np.arange(DIGITS)[:, None] == digit[order]).astype(np.float64)
        numbers = [np.cumsum(flags) - 1 for flags in (before, behind)]
        found.append(Steps(numbers[0][source[order]], numbers[1][target[order]], weight, int(before.sum()), int(behind.sum())))
    return tuple(found), np.flatnonzero(alive[-1])


def _steps(part: Automaton, mine: Indexes, before: Flags, after: Flags) -> Steps:
    source = (np.cumsum(before) - 1)[part.source[mine]]
    target = (np.cumsum(after) - 1)[part.target[mine]]
    return Steps(source, target, part.entries[:DIGITS, mine], int(before.sum()), int(after.sum()), (mine,))


def _marked(states: Indexes, size: int) -> Flags:
    flags = np.zeros(size, dtype=np.bool_)
    flags[states] = True
    return flags
