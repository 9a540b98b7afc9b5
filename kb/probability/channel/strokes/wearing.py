"""The ways in which wear takes ink from a character, all enumerated: nothing is random, so the table is the same every time.

Three modes: patches eaten out of the strokes anywhere; one whole side not struck or filed off (this turns 8 into 3, B into E, 0 into C);
and nothing lost. How often each happens is an assumption, by level of wear.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from kb.probability.channel.strokes.glyphs import HEIGHT, LEFT, TALL, TOP, WIDTH, Ink

_ROWS, _COLUMNS = np.divmod(np.arange(HEIGHT * WIDTH), WIDTH)
SPACING = 3.5  # units between the places where a patch may lie


@dataclass(frozen=True)
class WearLevel:
    """One level of wear: how many patches of which radius (units of 1/21 of the height), how much of a side, and how often a side is lost."""

    patches: int
    radius: float
    sides: tuple[float, ...]
    side_share: float


LEVELS = {
    "clean": WearLevel(1, 3.0, (0.12,), 0.3),  # numeric
    "worn": WearLevel(2, 3.5, (0.12, 0.20, 0.28, 0.36), 0.4),  # numeric
    "badly-worn": WearLevel(2, 5.0, (0.20, 0.28, 0.36), 0.4),  # numeric
}


def worn(ink: Ink, width: float, level: WearLevel) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """(P, squares) what is left of a character `width` units wide, and (P,) how often; the patterns that lost nothing are left out."""
    eaten = [ink & ~hole for hole in _patches(ink, width, level)]
    filed = [ink & ~edge for edge in _sides(width, level)]
    weight = [(1 - level.side_share) / len(eaten)] * len(eaten) + [level.side_share / len(filed)] * len(filed)
    patterns, which = np.unique(np.packbits(np.array(eaten + filed), axis=1), axis=0, return_inverse=True)
    return np.unpackbits(patterns, axis=1).astype(np.bool_), np.bincount(which.ravel(), weight).astype(np.float64)


def _patches(ink: Ink, width: float, level: WearLevel) -> Iterator[NDArray[np.bool_]]:
    """Discs, or unions of several, that each take some ink."""
    discs = []
    for y in np.arange(TOP, TOP + TALL + 0.1, SPACING):  # numeric
        for x in np.arange(LEFT, LEFT + width + 0.1, SPACING):  # numeric
            disc = (_COLUMNS - x) ** 2 + (_ROWS - y) ** 2 <= level.radius**2
            if (ink & disc).any():
                discs.append(disc)
    for chosen in combinations(discs, level.patches) if len(discs) >= level.patches else combinations_with_replacement(discs, level.patches):
        yield np.logical_or.reduce(chosen)


def _sides(width: float, level: WearLevel) -> Iterator[NDArray[np.bool_]]:
    """Left, right, head and foot of the character, a share of its width or height each."""
    for share in level.sides:
        yield LEFT - 0.5 + share * width > _COLUMNS  # numeric
        yield LEFT + 0.5 + (1 - share) * width < _COLUMNS  # numeric
        yield TOP - 0.5 + share * TALL > _ROWS  # numeric
        yield TOP + 0.5 + (1 - share) * TALL < _ROWS  # numeric
