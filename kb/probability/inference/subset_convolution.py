"""Marks read somewhere on a unit: sums over all the ways of placing them, without walking the ways.

The first axis of an array is of sets of such marks, 2^k of them for k marks (bit i: the mark i). An entry is the sum over all ways of placing just
that set among the places that the array speaks of. An array with one set only speaks of places where no such mark can be, or there are none.
"""

from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Indexes = NDArray[np.intp]


def times(left: Floats, right: Floats, product: Callable[[Floats, Floats], Floats] = np.multiply) -> Floats:
    """(sets, ...) of the places of both together: every set shared out between them in every way.

    Args:
        left, right: (sets, ...), or (1, ...) where no mark can be.
        product: how an entry of the one goes with entries of the other; `np.matmul` sums over an axis as well.

    Formula: subset convolution; Björklund et al., Fourier meets Möbius, STOC 2007, 1.

    >>> times(np.array([1.0, 2.0]), np.array([3.0, 5.0])).tolist()
    [3.0, 11.0]
    """
    if len(left) == 1 or len(right) == 1:
        return product(left, right)
    found = product(left[:1], right)
    for mine, theirs, both in _shared_out(len(left)):
        found[both] += product(left[mine : mine + 1], right[theirs])
    return found


def together(seen: Floats, loose: tuple[Floats, ...]) -> Floats:
    """(sets, ...) what is seen at one place, with every set of the marks placed there. loose: what each of them is worth there.

    >>> together(np.array([0.5]), (np.array([0.1]), np.array([3.0]))).ravel().tolist()
    [0.5, 0.05, 1.5, 0.15000000000000002]
    """
    found = seen[None]
    for mark in loose:
        found = np.concatenate([found, found * mark])
    return found


@cache
def _shared_out(sets: int) -> list[tuple[int, Indexes, Indexes]]:
    """Every set but the empty one, the sets that have none of its marks, and both together."""
    every = np.arange(sets)
    return [(mine, theirs, theirs | mine) for mine in range(1, sets) for theirs in [every[every & mine == 0]]]
