"""Which true characters the tokens of readings stand for on whole stretches of serials: all tokens at once (docs/model.md, sections 2 and 10).

What leads up to a digit and what may follow it are each worked out once, for the beginnings of the lower end of a stretch, of its upper
end, and between them; the weight of a step with a digit is what leads up to it times what follows. Only positive terms are added up.
Several readings of one number go through it together, and with them the automaton of a check digit.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from kb.probability.channel.automaton import Automaton, Floats, Indexes, ReadingAutomata, encode
from kb.probability.channel.checkdigits import GUESS, walk
from kb.probability.channel.digits import PrintedForm, outermost, past_zeros
from kb.probability.channel.intervals import Integers
from kb.probability.channel.lattice import DIGITS, Lattice, Steps, counted, together
from kb.probability.channel.range_weights import Job, Weigher
from kb.words.errors import DataError
from kb.words.notation import ALPHABET, simplify

_ROOM = 1 << 20  # numbers held at once
MOST_STEPS_TAKEN = 600_000  # by all stretches together; about a tenth of a second
_DIGIT = np.arange(DIGITS)[:, None]


def stands_on_stretches(compiled: ReadingAutomata, weigher: Weigher, which: NDArray[np.integer], first: Integers, last: Integers) -> list[Floats]:
    """For each reading (T, 36, K) sums over the numbers first..last of P(readings | serial), apart for each true character of each token.

    Rows are those of `Automaton.using`. The sum over the characters, and both ways up, is `Weigher.weights`, but for a `*`, which is 0.

    Args:
        weigher: of these readings on certain blocks; which: the block of every stretch.

    Raises:
        DataError: the readings leave too much open for that.
    """
    groups = list(_groups(compiled, weigher, which, first, last))
    if sum(len(group.job.at) * len(step.source) for group in groups for step in group.steps) > MOST_STEPS_TAKEN:
        raise DataError("The readings of this number leave too much open to say what each character stands for.", "Give fewer of them.")
    found = [np.zeros((len(part.using), len(ALPHABET), len(which))) for part in compiled.parts]
    for group in groups:
        room = max(1, _ROOM // max(len(step.source) for step in group.steps))
        for begin in range(0, len(group.job.at), room):
            _add(compiled.parts, group, group.job.some(slice(begin, begin + room)), found)
    return found


@dataclass(frozen=True, eq=False)
class _Written:
    """How numbers of one form and length are written.

    Attributes:
        heads: what may stand before the digits and the leading zeros, with its share.
        zeros: how many leading zeros there are.
        tails: what may stand after the digits, with its share and (C,) 1 for each end of the check digit's automaton that it goes with.
    """

    heads: tuple[tuple[str, float], ...]
    zeros: int
    tails: tuple[tuple[str, float, Floats], ...]

    @classmethod
    def of(cls, form: PrintedForm, length: int, affix_share: float, guess: str | None = None, checks: Sequence[str] = ("",)) -> "_Written":
        """guess: the check character in the prefix; checks: the check characters by end of the automaton."""
        prefix, suffix = simplify(form.prefix), simplify(form.suffix)
        before, after = outermost(form.affixes_before, affix_share), outermost(form.affixes_after, affix_share)
        goes = {check: np.array([check == each for each in checks], dtype=np.float64) for check in checks}
        return cls(
            tuple((affix + (prefix if guess is None else prefix.replace(GUESS, guess)), share) for affix, share in before),
            max(0, (form.width or 0) - length),
            tuple(((check if guess is None else "") + suffix + affix, share, ends) for check, ends in goes.items() for affix, share in after),
        )

    def before(self, parts: Sequence[Automaton]) -> list[list[Floats]]:
        """For each head, by reading (S,) how it stands before the digits."""
        return [[past_zeros(part, part.forward(part.start, encode(head)), self.zeros) for part in parts] for head, _ in self.heads]

    def after(self, parts: Sequence[Automaton]) -> list[list[Floats]]:
        """For each tail, by reading (S,) what its states after the digits are worth."""
        return [[part.backward(part.end, encode(tail)) for part in parts] for tail, _, _ in self.tails]


@dataclass(frozen=True, eq=False)
class _Group:
    """Stretches that go the same steps; `written` is by look."""

    job: Job
    lattices: Sequence[Lattice]
    steps: tuple[Steps, ...]
    written: tuple[_Written, ...]


def _groups(compiled: ReadingAutomata, weigher: Weigher, which: NDArray[np.integer], first: Integers, last: Integers) -> Iterator[_Group]:
    for job in weigher.jobs(which, first, last):
        written = tuple(_Written.of(weigher.kinds[number], job.length, weigher.affix_share) for number in job.kinds)
        yield _Group(job, weigher.lattices(job), weigher.through(job)[0], written)
    for job in weigher.checked(which, first, last):
        form = weigher.kinds[job.kinds[0]]
        assert form.check is not None
        zeros = "0" * max(0, (form.width or 0) - job.length)
        walked = walk(form.check, simplify(form.prefix), zeros, job.length, simplify(form.suffix))
        for guess in sorted(set(walked.written)) if GUESS in form.prefix else [None]:
            counter, ends = counted(walked.start, walked.after, np.array([guess in (None, check) for check in walked.written]))
            way = _Written.of(form, job.length, weigher.affix_share, guess, [walked.written[end] for end in ends])
            sides = (way.before(compiled.parts), way.after(compiled.parts))
            begins, worths = ([np.sum(each, axis=0) for each in zip(*side, strict=True)] for side in sides)
            lattices = [Lattice.of(*each, job.length) for each in zip(compiled.parts, begins, worths, strict=True)]
            if len(ends) and all(len(lattice.first) for lattice in lattices):
                joined = together(lattices, len(walked.written))
                steps = tuple(step.beside(count) for step, count in zip(joined, counter, strict=True))
                yield _Group(job, lattices, steps, (way,))


def _add(parts: Sequence[Automaton], group: _Group, job: Job, found: list[Floats]) -> None:
    """Adds what some stretches of a group hold."""
    firsts, lasts = [lattice.first for lattice in group.lattices], [lattice.last for lattice in group.lattices]
    before = [_at(written.before(parts), firsts) for written in group.written]
    after = [_at(written.after(parts), lasts) for written in group.written]
    looks = list(zip(group.written, before, after, strict=True))
    begin = np.array([sum(share * _product(each) for (_, share), each in zip(written.heads, heads, strict=True)) for written, heads, _ in looks]).T
    end = np.array(
        [sum(share * _product([*each, ends]) for (_, share, ends), each in zip(written.tails, tails, strict=True)) for written, _, tails in looks]
    ).T
    digits = _Digits.walked(group.steps, begin[:, job.look], end[:, job.look], job)
    for which, part in enumerate(parts):
        found[which][:, :DIGITS, job.at] += digits.standing(part.using, which)
    for look, (written, heads, tails) in enumerate(looks):
        mine = np.flatnonzero(job.look == look)
        if not len(mine):
            continue  # of its stretches none is among these
        worth = digits.worth[:, mine].reshape(*map(len, firsts), len(mine))
        reached = digits.reached[:, mine].reshape(*map(len, lasts), -1, len(mine))
        for which, part in enumerate(parts):
            for (head, share), states in zip(written.heads, heads, strict=True):
                if not head and not written.zeros:
                    continue
                alone = _spread(_alone(worth, states, which), firsts[which], part)
                found[which][:, :, job.at[mine]] += share * _before(part, encode(head), written.zeros, alone)
            for (tail, share, ends), states in zip(written.tails, tails, strict=True):
                if not tail:
                    continue
                alone = _spread(_alone(np.tensordot(reached, ends, axes=(-2, 0)), states, which), lasts[which], part)
                found[which][:, :, job.at[mine]] += share * _after(part, encode(tail), alone)


def _at(sides: Sequence[Sequence[Floats]], states: Sequence[Indexes]) -> list[list[Floats]]:
    return [[side[some] for side, some in zip(each, states, strict=True)] for each in sides]


def _product(vectors: Sequence[Floats]) -> Floats:
    """(product of S,) weights of the readings together."""
    return np.asarray(reduce(np.multiply.outer, vectors)).ravel()


def _alone(joint: Floats, weights: Sequence[Floats], which: int) -> Floats:
    """(S, K) what the states of one reading are worth, the others taken to stand as they do; joint: an axis for each reading, and K."""
    for other in range(len(weights) - 1, -1, -1):
        if other != which:
            joint = np.tensordot(weights[other], joint, axes=(0, other))
    return joint


def _spread(alone: Floats, states: Indexes, part: Automaton) -> Floats:
    """(S, K) the same for all states of a part, 0 where it cannot be."""
    found = np.zeros((len(part.start), alone.shape[1]))
    found[states] = alone
    return found


@dataclass(frozen=True, eq=False)
class _Digits:
    """The way through the digits of K stretches. While both ends of a stretch have begun alike, they go as its lower end.

    Attributes:
        ahead: by place, (3, S, K) what the beginnings weigh: of the lower end, of the upper end, between them.
        behind: by place, (3, S, K) what it is worth to go on from each of them.
        leads: by place, (5, 10, K) the digits that lead from the lower end to between, to itself and to the upper end, and from the upper end to
            between and to itself.
    """

    steps: tuple[Steps, ...]
    ahead: list[Floats]
    behind: list[Floats]
    leads: list[NDArray[np.bool_]]

    @classmethod
    def walked(cls, steps: tuple[Steps, ...], begin: Floats, end: Floats, job: Job) -> "_Digits":
        """begin: (S, K) weights before the digits; end: (S, K) worth after them."""
        leads = _leads(job.low, job.high, len(steps))
        weights = [np.matmul(step.weight.T, lead.astype(np.float64)) for step, lead in zip(steps, leads, strict=True)]  # (5, E, K)
        none = np.zeros_like(begin)
        ahead, behind = [np.array([begin, none, none])], [np.array([end, end, end])]
        for step, weight in zip(steps, weights, strict=True):
            low, high, free = ahead[-1][:, step.source]  # (E, K)
            between = low * weight[0] + high * weight[3] + free * step.weight.sum(axis=0)[:, None]
            ahead.append(np.array([step.gathered(low * weight[1]), step.gathered(low * weight[2] + high * weight[4]), step.gathered(between)]))
        for step, weight in zip(reversed(steps), reversed(weights), strict=True):
            low, high, free = behind[0][:, step.target]
            from_low = free * weight[0] + low * weight[1] + high * weight[2]
            onward = (from_low, free * weight[3] + high * weight[4], free * step.weight.sum(axis=0)[:, None])
            behind.insert(0, np.array([step.left(each) for each in onward]))
        return cls(steps, ahead, behind, leads)

    @property
    def worth(self) -> Floats:
        """(S, K) what the states before the digits are worth."""
        return np.asarray(self.behind[0][0])

    @property
    def reached(self) -> Floats:
        """(S, K) what the states after the digits weigh."""
        return np.asarray(self.ahead[-1].sum(axis=0))

    def standing(self, using: Floats, which: int) -> Floats:
        """(T, 10, K) the weight of all ways on which a token of one reading stands for a digit; using: of its part."""
        found = np.zeros((len(using), DIGITS, self.worth.shape[1]))
        for place, (step, leads) in enumerate(zip(self.steps, self.leads, strict=True)):
            low, high, free = self.ahead[place][:, step.source]
            to_low, to_high, to_free = self.behind[place + 1][:, step.target]
            here = using[:, step.edges[which]]
            mine = np.flatnonzero(here.any(axis=1))  # the tokens that may be used up at this digit
            if not len(mine):
                continue
            by_token = (here[mine][:, None] * step.weight).reshape(-1, len(step.source))  # (tokens * 10, E)
            added = (by_token @ (free * to_free)).reshape(len(mine), DIGITS, -1)
            for way, digits in zip((low * to_free, low * to_low, low * to_high, high * to_free, high * to_high), leads, strict=True):
                if digits.any():
                    added += (by_token @ way).reshape(added.shape) * digits
            found[mine] += added
        return found


def _leads(low: Integers, high: Integers, length: int) -> list[NDArray[np.bool_]]:
    tied = np.ones(len(low), dtype=np.bool_)  # both ends have begun alike
    found = []
    for place in range(length):
        power = 10 ** (length - 1 - place)
        a, b = low // power % DIGITS, high // power % DIGITS
        above, below = a < _DIGIT, b > _DIGIT
        found.append(np.array([above & (below | ~tied), a == _DIGIT, (b == _DIGIT) & tied & (a != b), below & ~tied, (b == _DIGIT) & ~tied]))
        tied = tied & (a == b)
    return found


def _by_state(values: Floats, state: NDArray[np.intp], size: int) -> Floats:
    return np.asarray((np.arange(size)[:, None] == state).astype(np.float64) @ values, dtype=np.float64)


def _before(part: Automaton, codes: Sequence[int], zeros: int, worth: Floats) -> Floats:
    """(T, 36, K) for the characters in front of the digits. worth: (S, K) of the states before the digits."""
    found = np.zeros((len(part.using), len(ALPHABET), worth.shape[1]))
    ahead = [part.start]
    for code in codes:
        ahead.append(part.forward(ahead[-1], [code]))
    left_out = ahead[-1] * ~part.covers
    reached = [ahead[-1]]  # before each leading zero, those left out before it included
    for _ in range(zeros):
        reached.append(part.forward(reached[-1], [0]) + left_out)
    behind = worth
    skipped = np.zeros_like(worth)  # what it is worth to go on from here with the next zeros left out
    for weights in reversed(reached[:-1]):
        skipped = skipped + behind
        behind = _taken(part, 0, weights, behind, found)
    behind = behind + skipped * ~part.covers[:, None]
    for code, weights in zip(reversed(codes), reversed(ahead[:-1]), strict=True):
        behind = _taken(part, code, weights, behind, found)
    return found


def _after(part: Automaton, codes: Sequence[int], reached: Floats) -> Floats:
    """(T, 36, K) for the characters behind the digits. reached: (S, K) weights of the states after the digits."""
    found = np.zeros((len(part.using), len(ALPHABET), reached.shape[1]))
    for place, code in enumerate(codes):
        behind = part.backward(part.end, codes[place + 1 :])
        flow = reached[part.source] * part.entries[code][:, None]
        found[:, code] += part.using @ (flow * behind[part.target][:, None])
        reached = _by_state(flow, part.target, len(part.start))
    return found


def _taken(part: Automaton, code: int, weights: Floats, behind: Floats, found: Floats) -> Floats:
    """Adds what a character takes part in; returns (S, K) what the states before it are worth. weights: (S,) before it; behind: (S, K) after it."""
    onward = part.entries[code][:, None] * behind[part.target]
    found[:, code] += part.using @ (weights[part.source][:, None] * onward)
    return _by_state(onward, part.source, len(part.start))
