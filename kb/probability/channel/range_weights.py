"""All stretches of all blocks under the readings of one number, at once (docs/model.md, section 2).

A stretch first..last is walked digit by digit from the left, with three rows of weights: for the beginnings of the lower end,
of the upper end, and strictly between the two, after which any digits may follow. What lies between grows only by sums of
positive terms; nothing is subtracted, so three numbers are as exact as 10^9. Stretches of different blocks differ only
in the states of the readings before and after the digits, so they are walked together.

Blocks whose series has a check digit are weighed by `kb.probability.channel.digits.stretch_weights`, which gives the same sums where there is none.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, reduce

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import Floats, ReadingAutomata, encode
from kb.probability.channel.digits import PrintedForm, outermost, past_zeros, stretch_weights
from kb.probability.channel.intervals import Integers
from kb.probability.channel.lattice import DIGITS, Lattice, Steps, together
from kb.words.notation import simplify

_ROOM = 1 << 20  # numbers held at once
Way = tuple[tuple[Floats, ...], float]  # the states of every reading at one end of the digits, and the share of units that look so


class Weigher:
    """Stretches of certain blocks under the readings of one number. It keeps what it finds out about the blocks, so use the same one again."""

    def __init__(self, compiled: ReadingAutomata, forms: Sequence[PrintedForm], assumptions: Assumptions) -> None:
        """forms: how the numbers of each block are printed."""
        kinds: dict[PrintedForm, int] = {}
        self._kind_of = np.array([kinds.setdefault(form, len(kinds)) for form in forms], dtype=np.intp)
        self.kinds = tuple(kinds)
        self._compiled, self._assumptions, self.affix_share = compiled, assumptions, assumptions.affix_share
        self._looks = _Looks(compiled, assumptions.affix_share)
        self._keys: dict[tuple[int, int], object | None] = {}
        self._steps: dict[object, tuple[tuple[Steps, ...], Floats, Floats]] = {}

    def weights(self, which: NDArray[np.integer], first: Integers, last: Integers) -> Floats:
        """(K,) sums over the numbers first..last (both included) of P(readings | serial), each stretch printed as forms[which].

        Raises:
            DataError: as `stretch_weights`.
        """
        found = np.zeros(len(which))
        kind = self._kind_of[which]
        for number, form in enumerate(self.kinds):
            if form.check is not None and len(mine := np.flatnonzero(kind == number)):
                found[mine] = stretch_weights(self._compiled, form, first[mine], last[mine], self._assumptions)
        for job in self.jobs(which, first, last):
            steps, begin, end = self.through(job)
            found[job.at] += _walk(steps, begin[:, job.look], end[:, job.look], job.low, job.high)
        return found

    def jobs(self, which: NDArray[np.integer], first: Integers, last: Integers) -> "Iterator[Job]":
        """The stretches of series without a check digit, by what goes together."""
        kind = self._kind_of[which]
        by_kind = np.argsort(kind, kind="stable")
        starts = np.searchsorted(kind[by_kind], np.arange(len(self.kinds) + 1))
        groups: dict[object, list[tuple[int, int, NDArray[np.intp]]]] = {}
        for number in np.flatnonzero(np.diff(starts)).tolist():
            mine = by_kind[starts[number] : starts[number + 1]]
            mine = mine[first[mine] <= last[mine]]
            if len(mine) and self.kinds[number].check is None:
                for length in range(len(str(first[mine].min())), len(str(last[mine].max())) + 1):
                    key = self._key(number, length)
                    if key is not None:
                        groups.setdefault(key, []).append((number, length, mine))
        for key, group in groups.items():
            length = group[0][1]
            at = np.concatenate([mine for _, _, mine in group])
            low, high = _of_length(first[at], last[at], length)
            look = np.repeat(np.arange(len(group)), [len(mine) for _, _, mine in group])
            live = np.flatnonzero(low <= high)
            if len(live):
                yield Job(key, length, tuple(number for number, _, _ in group), at[live], look[live], low[live], high[live])

    def checked(self, which: NDArray[np.integer], first: Integers, last: Integers) -> "Iterator[Job]":
        """The stretches of series with a check digit, those of one form and length together; nothing is found out about them beforehand."""
        for number, form in enumerate(self.kinds):
            mine = np.flatnonzero((self._kind_of[which] == number) & (first <= last) & (form.check is not None))
            for length in range(len(str(first[mine].min())), len(str(last[mine].max())) + 1) if len(mine) else ():
                low, high = _of_length(first[mine], last[mine], length)
                live = np.flatnonzero(low <= high)
                if len(live):
                    yield Job(None, length, (number,), mine[live], np.zeros(len(live), dtype=np.intp), low[live], high[live])

    def lattices(self, job: "Job") -> list[Lattice]:
        """The lattices of the readings."""
        return self._looks.lattices(job.key)

    def _key(self, number: int, length: int) -> object | None:
        if (number, length) not in self._keys:
            self._keys[number, length] = self._looks.alike(self.kinds[number], length)
        return self._keys[number, length]

    def through(self, job: "Job") -> tuple[tuple[Steps, ...], Floats, Floats]:
        """The steps through the digits, and (S, looks) weights before them and worth after them."""
        key = (job.key, job.kinds)
        if key not in self._steps:
            self._steps[key] = self._looks.steps(job.key, [self.kinds[number] for number in job.kinds], job.length)
        return self._steps[key]


def weigh_stretches(
    compiled: ReadingAutomata, forms: Sequence[PrintedForm], which: NDArray[np.integer], first: Integers, last: Integers, assumptions: Assumptions
) -> Floats:
    """(K,) as `Weigher.weights`, for a single use."""
    return Weigher(compiled, forms, assumptions).weights(which, first, last)


@dataclass(frozen=True, eq=False)
class Job:
    """Stretches (or pieces of them, with numbers of one length) that go together: which they are, their ends, and how each looks (among `kinds`)."""

    key: object
    length: int
    kinds: tuple[int, ...]
    at: NDArray[np.intp]
    look: NDArray[np.intp]
    low: Integers
    high: Integers

    def some(self, which: slice) -> "Job":
        """Some of the stretches."""
        return replace(self, at=self.at[which], look=self.look[which], low=self.low[which], high=self.high[which])


@dataclass(frozen=True, eq=False)
class _Side:
    """How the readings stand before or after the digits; a unit bears one affix, so they are joined affix by affix."""

    ways: tuple[Way, ...]

    @cached_property
    def states(self) -> tuple[Floats, ...]:
        """(S,) of every reading: positive where it may stand."""
        return tuple(np.sum(each, axis=0) for each in zip(*(weights for weights, _ in self.ways), strict=True))

    @cached_property
    def support(self) -> tuple[bytes, ...]:
        """Of every reading, where it may stand; for comparing."""
        return tuple((states > 0).tobytes() for states in self.states)

    def joint(self, states: Sequence[NDArray[np.intp]]) -> Floats:
        """(product of S,) weights of some states of every reading."""
        by_way = [share * reduce(np.outer, (w[s] for w, s in zip(weights, states, strict=True))).ravel() for weights, share in self.ways]
        return np.asarray(np.sum(by_way, axis=0), dtype=np.float64)


class _Looks:
    """How the readings stand before and after the digits of a form, and which of their states can get from here to there."""

    def __init__(self, compiled: ReadingAutomata, affix_share: float) -> None:
        self._parts, self._affix_share = compiled.parts, affix_share
        self._begins: dict[tuple[tuple[str, ...], str, int], _Side] = {}
        self._ends: dict[tuple[tuple[str, ...], str], _Side] = {}
        self._lattices: dict[object, list[Lattice]] = {}

    def alike(self, form: PrintedForm, length: int) -> object | None:
        """A key for what can be weighed together, None where the readings cannot be of numbers with so many digits."""
        begin, end = self._before(form, length), self._after(form)
        key = (length, *begin.support, *end.support)
        if key not in self._lattices:
            ends = zip(self._parts, begin.states, end.states, strict=True)
            self._lattices[key] = [Lattice.of(part, before, after, length) for part, before, after in ends]
        return key if all(len(lattice.first) for lattice in self._lattices[key]) else None

    def lattices(self, key: object) -> list[Lattice]:
        """The lattices of the readings."""
        return self._lattices[key]

    def steps(self, key: object, forms: Sequence[PrintedForm], length: int) -> tuple[tuple[Steps, ...], Floats, Floats]:
        """The steps through the digits, and (S, forms) weights before them and worth after them, of forms that are alike."""
        lattices = self._lattices[key]
        joined = together(lattices)
        before = self.before(forms, length, *(lattice.first for lattice in lattices))
        return joined, before, self.after(forms, *(lattice.last for lattice in lattices))

    def before(self, forms: Sequence[PrintedForm], length: int, *states: NDArray[np.intp]) -> Floats:
        """(S, forms) weights of states before the digits."""
        return np.array([self._before(form, length).joint(states) for form in forms]).T

    def after(self, forms: Sequence[PrintedForm], *states: NDArray[np.intp]) -> Floats:
        """(S, forms) what states after the digits are worth."""
        return np.array([self._after(form).joint(states) for form in forms]).T

    def _before(self, form: PrintedForm, length: int) -> _Side:
        zeros = max(0, (form.width or 0) - length)
        key = (form.affixes_before, form.prefix, zeros)
        if key not in self._begins:
            self._begins[key] = _Side(
                tuple(
                    (tuple(past_zeros(p, p.forward(p.start, encode(affix + simplify(form.prefix))), zeros) for p in self._parts), share)
                    for affix, share in outermost(form.affixes_before, self._affix_share)
                )
            )
        return self._begins[key]

    def _after(self, form: PrintedForm) -> _Side:
        key = (form.affixes_after, form.suffix)
        if key not in self._ends:
            self._ends[key] = _Side(
                tuple(
                    (tuple(p.backward(p.end, encode(simplify(form.suffix) + affix)) for p in self._parts), share)
                    for affix, share in outermost(form.affixes_after, self._affix_share)
                )
            )
        return self._ends[key]


def _of_length(first: Integers, last: Integers, length: int) -> tuple[Integers, Integers]:
    """The stretches between the numbers with so many digits; empty where the first is greater than the last."""
    return np.maximum(first, 10 ** (length - 1) if length > 1 else 0), np.minimum(last, 10**length - 1)


def _walk(steps: tuple[Steps, ...], begin: Floats, end: Floats, first: Integers, last: Integers) -> Floats:
    """(K,) sums over first..last inclusive, both with as many digits as there are steps; begin, end (S, K)."""
    room = max(1, _ROOM // max(len(step.source) for step in steps))
    pieces = [slice(i, i + room) for i in range(0, len(first), room)]
    return np.concatenate([_walked(steps, begin[:, p], end[:, p], first[p], last[p]) for p in pieces])


def _walked(steps: tuple[Steps, ...], begin: Floats, end: Floats, first: Integers, last: Integers) -> Floats:
    """As `_walk`."""
    low, high, free = begin, np.zeros_like(begin), np.zeros_like(begin)
    tied = np.ones(len(first), dtype=np.bool_)  # both ends have begun alike: `low` is of both, the others are empty
    parted = False
    for place, step in enumerate(steps):
        power = 10 ** (len(steps) - 1 - place)
        a, b = first // power % DIGITS, last // power % DIGITS
        tables, weight = step.tables, step.tables.weight
        along = low[step.source]
        if parted:
            up = high[step.source]
            between = free[step.source] * tables.all[:, None] + up * tables.below[:, b]
            between += along * tables.above[:, a] * ~tied if tied.any() else along * tables.above[:, a]
            free, high = step.gathered(between), step.gathered(up * weight[:, b])
        else:
            free, high = np.zeros((step.after, len(first))), np.zeros((step.after, len(first)))
        parting = np.flatnonzero(tied & (a != b))
        if len(parting):
            mine = along[:, parting]
            free[:, parting] = step.gathered(mine * tables.between[:, a[parting], b[parting]])
            high[:, parting] = step.gathered(mine * weight[:, b[parting]])
            tied[parting] = False
            parted = True
        low = step.gathered(along * weight[:, a])
    return np.asarray(((low + high + free) * end).sum(axis=0), dtype=np.float64)
