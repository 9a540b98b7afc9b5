"""Stretches of serials under readings that lack no characters: every character has its place, so weights are products over digits.

A reading without `*` can be aligned with a serial in one way only for each affix and each number of missing leading zeros. The sum over a
stretch of numbers of a product over their digits needs no states, and all stretches of all blocks are summed at once. The general
case, with `*` or check digits, is `kb.channel.digits.stretch_weights`; both give the same sums.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.channel.compiled import Compiled, Floats, Part, encode
from kb.channel.digits import PrintedForm, outermost, stretch_weights
from kb.channel.intervals import Integers
from kb.words.notation import simplify

MOST_WAYS = 64  # of several readings to be upside down or not, taken together; beyond that states cost less than ways


def weigh_stretches(
    compiled: Compiled, forms: Sequence[PrintedForm], which: NDArray[np.integer], first: Integers, last: Integers, assumptions: Assumptions
) -> Floats:
    """(K,) sums over the numbers first..last (both included) of P(readings | serial), each stretch printed as forms[which].

    Raises:
        DataError: as `stretch_weights`.
    """
    found = np.zeros(len(which))
    plain = not any(part.stay.any() for part in compiled.parts)
    ways = [_ways(part) for part in compiled.parts] if plain else []
    plain = plain and prod(map(len, ways)) <= MOST_WAYS
    jobs: dict[tuple[object, ...], list[tuple[_Alternative, NDArray[np.intp]]]] = {}
    by_form: dict[PrintedForm, list[int]] = {}
    for number in np.unique(which):
        by_form.setdefault(forms[int(number)], []).append(int(number))
    for form, numbers in by_form.items():
        mine = np.flatnonzero(np.isin(which, numbers))
        if not plain or form.check is not None:
            found[mine] = stretch_weights(compiled, form, first[mine], last[mine], assumptions)
            continue
        for alternative in _alternatives(ways, form, assumptions.affix_share):
            jobs.setdefault(alternative.key, []).append((alternative, mine))
    for alternatives in jobs.values():
        entries = alternatives[0][0].entries
        at = np.concatenate([mine for _, mine in alternatives])
        low = np.concatenate([np.maximum(first[mine], a.low) for a, mine in alternatives])
        high = np.concatenate([np.minimum(last[mine], a.high) for a, mine in alternatives])
        factor = np.concatenate([np.full(len(mine), a.factor) for a, mine in alternatives])
        live = np.flatnonzero((low <= high) & (factor > 0))
        if len(live):
            np.add.at(found, at[live], factor[live] * digit_products(entries, low[live], high[live]))
    return found


def digit_products(entries: Floats, first: Integers, last: Integers) -> Floats:
    """(K,) sums over the numbers first..last of the product over their n zero-padded digits of entries[position, digit]; first <= last < 10^n.

    Nothing is subtracted: the stretch is cut where its ends part, into what lies between, above the first and below the last.

    >>> digit_products(np.ones((3, 10)), np.array([5, 120]), np.array([5, 371])).tolist()
    [1.0, 252.0]
    """
    n = len(entries)
    free = np.ones(n + 1)  # weight of all numbers of the last n - r digits
    for r in range(n - 1, -1, -1):
        free[r] = entries[r].sum() * free[r + 1]
    total = np.zeros(len(first))
    both = np.ones(len(first))  # product of the digits that first and last share
    above, below = np.zeros(len(first)), np.zeros(len(first))  # products of the digits of first and of last, once they have parted
    tied = np.ones(len(first), dtype=bool)
    for r in range(n):
        power = 10 ** (n - 1 - r)
        a, b = first // power % 10, last // power % 10
        column, beyond = entries[r], free[r + 1]
        upto = np.concatenate([[0.0], np.cumsum(column)])  # upto[d]: digits below d
        over = np.concatenate([np.cumsum(column[::-1])[::-1], [0.0]])  # over[d]: digits d and above
        total += beyond * (above * over[a + 1] + below * upto[b])
        above, below = above * column[a], below * column[b]
        parting = np.flatnonzero(tied & (a != b))
        if len(parting):
            total[parting] += both[parting] * beyond * _between(column)[a[parting], b[parting]]
            above[parting], below[parting] = both[parting] * column[a[parting]], both[parting] * column[b[parting]]
            tied[parting] = False
        both = both * column[a]
    return total + np.where(tied, both, above + below)


def _between(column: Floats) -> Floats:
    """(10, 10) sums of the entries of the digits strictly between two digits."""
    table = np.zeros((10, 10))
    for a in range(9):
        table[a, a + 2 :] = np.cumsum(column[a + 1 : 9])
    return table


@dataclass(frozen=True)
class _Alternative:
    """One way in which the serials of a form can be read: the numbers low..high, a factor for all but their digits, and the entries of those."""

    key: tuple[object, ...]
    low: int
    high: int
    factor: float
    entries: Floats


def _ways(part: Part) -> list[tuple[float, Floats]]:
    """The ways up of a reading: prior and (tokens, characters) entries."""
    found, begin = [], 0
    for end in np.flatnonzero(part.end):
        found.append((float(part.start[begin]), part.entries[:, begin:end].T))
        begin = int(end) + 1
    return found


def _alternatives(ways: Sequence[Sequence[tuple[float, Floats]]], form: PrintedForm, affix_share: float) -> Iterator[_Alternative]:
    prefix, suffix = simplify(form.prefix), simplify(form.suffix)
    for before, share_before in outermost(form.affixes_before, affix_share):
        for after, share_after in outermost(form.affixes_after, affix_share):
            head, tail = encode(before + prefix), encode(suffix + after)
            counts = [[len(entries) - len(head) - len(tail) for _, entries in part] for part in ways]
            for chosen in product(*(range(len(part)) for part in ways)):
                printed = [counts[i][way] for i, way in enumerate(chosen)]
                if min(printed) < 1 or max(printed) > 18:
                    continue
                low, high = 0, 10**18 - 1
                for digits in printed:
                    padded = form.width is not None and digits <= form.width
                    low, high = max(low, 0 if padded or digits == 1 else 10 ** (digits - 1)), min(high, 10**digits - 1)
                if low <= high:
                    yield _alternative(ways, chosen, printed, head, tail, low, high, share_before * share_after)


def _alternative(
    ways: Sequence[Sequence[tuple[float, Floats]]],
    chosen: Sequence[int],
    printed: Sequence[int],
    head: list[int],
    tail: list[int],
    low: int,
    high: int,
    share: float,
) -> _Alternative:
    """Several readings may lack different leading zeros; where one has a zero that another lacks, the zero's entry is a factor."""
    fewest, factor = min(printed), share
    together = np.ones((fewest, 10))
    for part, way, digits in zip(ways, chosen, printed, strict=True):
        prior, entries = part[way]
        spare = digits - fewest
        fixed = [entries[i, code] for i, code in enumerate(head)] + [entries[len(head) + i, 0] for i in range(spare)]
        fixed += [entries[len(head) + digits + i, code] for i, code in enumerate(tail)]
        factor *= prior * float(np.prod(fixed))
        together = together * entries[len(head) + spare : len(head) + digits, :10]
    return _Alternative((fewest, len(head), tuple(chosen), tuple(printed)), low, high, factor, together)
