"""Which true characters the tokens of a reading stand for on whole stretches of serials: all tokens at once (docs/model.md, sections 2 and 10).

What leads up to a digit and what may follow it are worked out once each, for the beginnings that the lower end of a stretch has, that its upper
end has, and that lie between; the weight of a step with a digit is what leads up to it times what follows. Only positive terms are added up.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kb.channel.compiled import Compiled, Floats, Part, encode
from kb.channel.digits import PrintedForm, outermost
from kb.channel.intervals import Integers
from kb.channel.lattice import DIGITS, Lattice
from kb.channel.stretches import Job, Weigher
from kb.words.notation import ALPHABET, simplify

_DIGIT = np.arange(DIGITS)[:, None]


def stands_on_stretches(compiled: Compiled, weigher: Weigher, which: NDArray[np.integer], first: Integers, last: Integers) -> Floats:
    """(tokens, 36, K) sums over the numbers first..last of P(reading | serial), apart for each true character that each token may stand for.

    Of the one reading; their sum over the characters is `Weigher.weights`, but for a `*`, which is 0, and for series with a check digit, likewise.

    Args:
        weigher: of that reading on certain blocks; which: the block of every stretch.
    """
    (part,) = compiled.parts
    found = np.zeros((int(part.takes.max(initial=-1)) + 1, len(ALPHABET), len(which)))
    using = sum((np.arange(len(found))[:, None] == column).astype(np.float64) for column in part.takes.T)  # (tokens, E)
    for job in weigher.jobs(which, first, last):
        _, begin, end = weigher.through(job)
        digits = _Digits.walked(weigher.lattice(job), begin[:, job.look], end[:, job.look], job)
        found[:, :DIGITS, job.at] += digits.standing(using)
        for look, number in enumerate(job.kinds):
            mine = np.flatnonzero(job.look == look)
            worth, reached = np.zeros((2, len(part.start), len(mine)))
            worth[digits.lattice.first], reached[digits.lattice.last] = digits.worth[:, mine], digits.reached[:, mine]
            form = weigher.kinds[number]
            found[:, :, job.at[mine]] += _before(part, using, form, job.length, worth, weigher.affix_share)
            found[:, :, job.at[mine]] += _after(part, using, form, reached, weigher.affix_share)
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

    lattice: Lattice
    ahead: list[Floats]
    behind: list[Floats]
    leads: list[NDArray[np.bool_]]

    @classmethod
    def walked(cls, lattice: Lattice, begin: Floats, end: Floats, job: Job) -> "_Digits":
        """begin: (S, K) weights before the digits; end: (S, K) worth after them."""
        leads = _leads(job.low, job.high, len(lattice.steps))
        weights = [np.matmul(step.weight.T, lead.astype(np.float64)) for step, lead in zip(lattice.steps, leads, strict=True)]  # (5, E, K)
        none = np.zeros_like(begin)
        ahead, behind = [np.array([begin, none, none])], [np.array([end, end, end])]
        for step, weight in zip(lattice.steps, weights, strict=True):
            low, high, free = ahead[-1][:, step.source]  # (E, K)
            between = low * weight[0] + high * weight[3] + free * step.weight.sum(axis=0)[:, None]
            ahead.append(np.array([step.gathered(low * weight[1]), step.gathered(low * weight[2] + high * weight[4]), step.gathered(between)]))
        for step, weight in zip(reversed(lattice.steps), reversed(weights), strict=True):
            low, high, free = behind[0][:, step.target]
            from_low = free * weight[0] + low * weight[1] + high * weight[2]
            onward = (from_low, free * weight[3] + high * weight[4], free * step.weight.sum(axis=0)[:, None])
            behind.insert(0, np.array([_by_state(each, step.source, step.before) for each in onward]))
        return cls(lattice, ahead, behind, leads)

    @property
    def worth(self) -> Floats:
        """(S, K) what the states before the digits are worth."""
        return np.asarray(self.behind[0][0])

    @property
    def reached(self) -> Floats:
        """(S, K) what the states after the digits weigh."""
        return np.asarray(self.ahead[-1].sum(axis=0))

    def standing(self, using: Floats) -> Floats:
        """(tokens, 10, K) the weight of all ways on which a token stands for a digit."""
        found = np.zeros((len(using), DIGITS, self.worth.shape[1]))
        for place, (step, edges, leads) in enumerate(zip(self.lattice.steps, self.lattice.edges, self.leads, strict=True)):
            low, high, free = self.ahead[place][:, step.source]
            to_low, to_high, to_free = self.behind[place + 1][:, step.target]
            by_token = (using[:, None, edges] * step.weight).reshape(-1, len(edges))  # (tokens * 10, E)
            found += (by_token @ (free * to_free)).reshape(found.shape)
            for way, digits in zip((low * to_free, low * to_low, low * to_high, high * to_free, high * to_high), leads, strict=True):
                if digits.any():
                    found += (by_token @ way).reshape(found.shape) * digits
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


def _before(part: Part, using: Floats, form: PrintedForm, length: int, worth: Floats, affix_share: float) -> Floats:
    """(tokens, 36, K) for the characters in front of the digits. worth: (S, K) of the states before the digits."""
    found = np.zeros((len(using), len(ALPHABET), worth.shape[1]))
    zeros = max(0, (form.width or 0) - length)
    for affix, share in outermost(form.affixes_before, affix_share):
        codes = encode(affix + simplify(form.prefix))
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
            behind = _taken(part, using, 0, weights, behind, share, found)
        behind = behind + skipped * ~part.covers[:, None]
        for code, weights in zip(reversed(codes), reversed(ahead[:-1]), strict=True):
            behind = _taken(part, using, code, weights, behind, share, found)
    return found


def _after(part: Part, using: Floats, form: PrintedForm, reached: Floats, affix_share: float) -> Floats:
    """(tokens, 36, K) for the characters behind the digits. reached: (S, K) weights of the states after the digits."""
    found = np.zeros((len(using), len(ALPHABET), reached.shape[1]))
    arriving = (np.arange(len(part.start))[:, None] == part.target).astype(np.float64)
    for affix, share in outermost(form.affixes_after, affix_share):
        codes = encode(simplify(form.suffix) + affix)
        weights = reached
        for place, code in enumerate(codes):
            behind = part.backward(part.end, codes[place + 1 :])
            flow = weights[part.source] * part.entries[code][:, None]
            found[:, code] += share * (using @ (flow * behind[part.target][:, None]))
            weights = arriving @ flow
    return found


def _taken(part: Part, using: Floats, code: int, weights: Floats, behind: Floats, share: float, found: Floats) -> Floats:
    """Adds what a character takes part in; returns (S, K) what the states before it are worth. weights: (S,) before it; behind: (S, K) after it."""
    onward = part.entries[code][:, None] * behind[part.target]
    found[:, code] += share * (using @ (weights[part.source][:, None] * onward))
    return _by_state(onward, part.source, len(part.start))
