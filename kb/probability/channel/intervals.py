"""Sums over all numbers of an interval, digit by digit, without walking it and without a subtraction.

A number with L digits is a path through L steps. An interval a..b splits into what shares more and more digits
with a (going up from it), what shares more and more with b (going down), and what lies between where the two part;
each piece is a fixed beginning followed by free digits. Only positive terms are added, so an interval of
three numbers is as exact as one of 10^9. The difference of two prefix sums would lose all its digits there.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kb.probability.channel.automaton import Floats, Indexes
from kb.probability.channel.lattice import DIGITS, Steps

_ROOM = 1 << 20  # numbers held at once

Integers = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Counter:
    """A check-digit automaton over the same digits: one state for each beginning.

    Attributes:
        start: state before the digits.
        after: (L, C, 10) state after a digit.
    """

    start: int
    after: Indexes

    @classmethod
    def idle(cls, length: int) -> "Counter":
        """No check digit: one state, and it stays."""
        return cls(0, np.zeros((length, 1, DIGITS), dtype=np.intp))


class Sums:
    """Sums over numbers of one length under one row of steps."""

    def __init__(self, steps: tuple[Steps, ...], counter: Counter, begin: Floats, end: Floats) -> None:
        """Work out the worth of every choice of a digit, from the last digit back.

        Args:
            steps: one per digit.
            counter: the check digit's automaton, C states.
            begin: (S,) weight of the alive states before the digits.
            end: (C, S) what the alive states after the digits are worth.
        """
        self._steps, self._counter, self._begin, self._end = steps, counter, begin, end
        self._choices: list[Floats] = []  # (C, 10, S): taking this digit here, anything after
        worth = end
        for step, after in zip(reversed(steps), reversed(counter.after), strict=True):
            order = np.argsort(step.source, kind="stable")
            gone = worth[after][:, :, step.target[order]] * step.weight[:, order]
            taken = _gathered(gone, step.source[order], step.before, axis=2)
            self._choices.insert(0, taken)
            worth = taken.sum(axis=1)

    def between(self, first: Integers, last: Integers) -> Floats:
        """(K,) sums over first..last inclusive; first <= last, both with as many digits as there are steps (leading zeros count)."""
        room = max(1, _ROOM // max(step.after for step in self._steps))
        return np.concatenate([self._between(first[i : i + room], last[i : i + room]) for i in range(0, len(first), room)])

    def _between(self, first: Integers, last: Integers) -> Floats:
        count = len(first)
        ends = np.concatenate([first, last])  # the lower ends and the upper ends go the same way
        upper = np.arange(2 * count) >= count
        weights = np.repeat(self._begin[:, None], 2 * count, axis=1)  # (S, 2K) of the beginning shared with an end
        state = np.full(2 * count, self._counter.start)
        found = np.zeros(2 * count)
        tied = np.ones(count, dtype=bool)  # both ends have begun alike
        for place, (step, choices, after) in enumerate(zip(self._steps, self._choices, self._counter.after, strict=True)):
            digit = ends // 10 ** (len(self._steps) - 1 - place) % 10
            low, high = digit[:count], digit[count:]
            if not tied.all():
                rest = _beyond(choices).take((upper * len(after) + state) * DIGITS + digit, axis=1)
                found += np.einsum("sk,sk->k", rest, weights) * ~np.concatenate([tied, tied])
            parting = np.flatnonzero(tied & (low + 1 < high))
            more = 1
            while len(parting):
                middle = choices[state[parting], low[parting] + more]
                found[parting] += np.einsum("ks,sk->k", middle, weights[:, parting])
                more += 1
                parting = parting[low[parting] + more < high[parting]]
            tied &= low == high
            weights = _stepped(step, weights, digit)
            state = after[state, digit]
        found += np.einsum("ks,sk->k", self._end[state], weights) * ~(upper & np.concatenate([tied, tied]))
        return found[:count] + found[count:]


def _beyond(choices: Floats) -> Floats:
    """(S, 2 * C * 10): what the digits above (first half) or below (second half) a digit are worth."""
    above = np.zeros_like(choices)
    above[:, :-1] = np.cumsum(choices[:, :0:-1], axis=1)[:, ::-1]
    below = np.zeros_like(choices)
    below[:, 1:] = np.cumsum(choices[:, :-1], axis=1)
    return np.ascontiguousarray(np.concatenate([above, below]).reshape(-1, choices.shape[2]).T)


def _stepped(step: Steps, weights: Floats, digit: Integers) -> Floats:
    """(S', K) weights after one more digit."""
    return _gathered(weights[step.source] * step.weight.T.take(digit, axis=1), step.target, step.after, axis=0)


def _gathered(values: Floats, state: Indexes, count: int, axis: int) -> Floats:
    """Sums along an axis of what belongs to one state; states stand in order, and each occurs."""
    if len(state) == count:
        return values
    return np.asarray(np.add.reduceat(values, np.searchsorted(state, np.arange(count)), axis=axis), dtype=np.float64)
