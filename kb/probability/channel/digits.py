"""Serials as they are printed, and how well readings agree with whole stretches of serials (docs/model.md, section 2).

A serial prints as prefix + digits + check characters + suffix; an affix with a meaning may come outermost at either end;
leading zeros may be left out when the number is written down.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import Automaton, Floats, ReadingAutomata, encode
from kb.probability.channel.checkdigits import GUESS, walk
from kb.probability.channel.intervals import Counter, Integers, Sums
from kb.probability.channel.lattice import Lattice, together
from kb.words.errors import DataError
from kb.words.notation import simplify

LARGEST = 10**18 - 1


@dataclass(frozen=True)
class PrintedForm:
    """How the serials of a block are printed. `width` None: the number is not padded. `check`: a name in `SCHEMES`.

    For a scheme whose check character is inside (49 CFR 565.15), the prefix has `#` at its position.
    """

    prefix: str = ""
    suffix: str = ""
    width: int | None = None
    check: str | None = None
    affixes_before: tuple[str, ...] = ()
    affixes_after: tuple[str, ...] = ()


def format_serial(form: PrintedForm, number: int) -> str:
    """The serial in normal form, with its check characters and without affixes.

    Raises:
        DataError: the number is negative or beyond 10^18 - 1, or the form does not suit its check-digit scheme.

    >>> format_serial(PrintedForm("H-", "B", width=5), 412)
    'H00412B'
    """
    if not 0 <= number <= LARGEST:
        raise DataError(f"{number} is not a serial number.", "Numbers run from 0 to 10^18 - 1.")
    digits = str(number).zfill(form.width or 0)
    prefix, suffix = simplify(form.prefix), simplify(form.suffix)
    if form.check is None:
        encode(prefix + suffix)
        return prefix + digits + suffix
    walked = walk(form.check, prefix, digits, 0, suffix)
    check = walked.written[walked.start]
    return prefix.replace(GUESS, check) + digits + suffix if GUESS in prefix else prefix + digits + check + suffix


def stretch_weights(compiled: ReadingAutomata, form: PrintedForm, first: Integers, last: Integers, assumptions: Assumptions) -> Floats:
    """(K,) sums over the numbers first..last (both included) of P(readings | serial); 0 where first > last.

    Args:
        compiled: the readings of one number.
        form: how all these numbers are printed.
        first, last: (K,) int64, 0 .. 10^18 - 1.

    Raises:
        DataError: a number is out of range, the form does not suit its check-digit scheme, or several readings leave
            too much open to be weighed together.
    """
    first, last = np.asarray(first, dtype=np.int64), np.asarray(last, dtype=np.int64)
    found = np.zeros(len(first))
    asked = first <= last
    if (asked & ((first < 0) | (last > LARGEST))).any():
        raise DataError("A stretch of serials runs below 0 or beyond 10^18 - 1.", "Numbers have at most 18 digits.")
    for length in range(1, 19):
        low, high = np.maximum(first, 10 ** (length - 1) if length > 1 else 0), np.minimum(last, 10**length - 1)
        mine = np.flatnonzero(low <= high)
        if len(mine):
            for sums in _sums(compiled, form, length, assumptions.affix_share):
                found[mine] += sums.between(low[mine], high[mine])
    return found


def _sums(compiled: ReadingAutomata, form: PrintedForm, length: int, affix_share: float) -> Iterator[Sums]:
    """Sums over the numbers of one length, to be added up. There is more than one where a check character inside is guessed."""
    prefix, suffix = simplify(form.prefix), simplify(form.suffix)
    zeros = max(0, (form.width or 0) - length)
    counter = Counter.idle(length)
    written: tuple[str, ...] = ("",)  # by state of the counter
    if form.check is not None:
        walked = walk(form.check, prefix, "0" * zeros, length, suffix)
        counter, written = Counter(walked.start, walked.after), walked.written
    before, after = outermost(form.affixes_before, affix_share), outermost(form.affixes_after, affix_share)
    guesses = sorted(set(written)) if form.check and GUESS in prefix else [None]
    for guess in guesses:
        heads = [affix + (prefix.replace(GUESS, guess) if guess else prefix) for affix, _ in before]
        tails = [(check, affix, share) for check in sorted({guess} if guess else set(written)) for affix, share in after]
        begins = [np.array([past_zeros(part, part.forward(part.start, encode(head)), zeros) for head in heads]) for part in compiled.parts]
        ends = [
            np.array([part.backward(part.end, encode(("" if guess else check) + suffix + affix)) for check, affix, _ in tails])
            for part in compiled.parts
        ]
        lattices = [
            Lattice.of(part, begin.sum(axis=0), end.sum(axis=0), length) for part, begin, end in zip(compiled.parts, begins, ends, strict=True)
        ]
        if all(len(lattice.first) for lattice in lattices):
            steps = together(lattices, len(written))
            begin = np.array([share for _, share in before]) @ _side_by_side([each[:, x.first] for each, x in zip(begins, lattices, strict=True)])
            belongs = np.array([[share * (check == state) for check, _, share in tails] for state in written])
            end = belongs @ _side_by_side([each[:, x.last] for each, x in zip(ends, lattices, strict=True)])
            yield Sums(steps, counter, begin, end)


def outermost(affixes: Sequence[str], share: float) -> list[tuple[str, float]]:
    """What may come outermost at one end, with its share."""
    return [("", 1 - share), *((simplify(affix), share / len(affixes)) for affix in affixes)] if affixes else [("", 1.0)]


def past_zeros(part: Automaton, weights: Floats, zeros: int) -> Floats:
    """(S,) weights after leading zeros, any number of which may have been left out unless there is a `*` (which covers them)."""
    left_out = weights * ~part.covers
    for _ in range(zeros):
        weights = part.forward(weights, [0]) + left_out
    return weights


def _side_by_side(rows: Sequence[Floats]) -> Floats:
    """(R, product of S) joint weights of the readings, row by row: a unit bears one affix, so each row is one way it may look."""
    return reduce(lambda one, other: (one[:, :, None] * other[:, None, :]).reshape(len(one), -1), rows)
