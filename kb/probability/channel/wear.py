"""Wear: how often a character that looks plain is really another (docs/model.md, section 1; where the table comes from: docs/wear.md).

`wear.txt` says how worn characters are read, from the geometry of their strokes. How often a character is misread at all is an
assumption by level; a share of it is spread evenly, because no table of shapes foresees everything. What confirmed readings of the dataset showed
is added as counts (Dirichlet).
"""

from functools import cache, lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.words.errors import DataError
from kb.words.notation import ALPHABET

Floats = NDArray[np.float64]
_SIZE = len(ALPHABET)
_FILE = Path(__file__).with_name("wear.txt")


def confusion(level: str, assumptions: Assumptions) -> Floats:
    """M[true, seen], shape (36, 36), rows sum to 1, characters in the order of `kb.words.notation.ALPHABET`.

    Raises:
        DataError: there is no such level of wear, or it is so high that a character would never be read rightly.
    """
    if level not in assumptions.misread:
        raise DataError(f'"{level}" is not a level of wear.', f"Use one of: {', '.join(assumptions.misread)}.")
    shipped = _shipped(level, assumptions.misread[level], assumptions.uniform_share)
    seen = [(key.split()[1], count) for key, count in assumptions.confirmed.items() if key.split()[0] == level]
    return _learned(shipped, tuple(seen), assumptions.table_weight) if seen else shipped


@lru_cache(maxsize=16)
def _shipped(level: str, misread: float, uniform_share: float) -> Floats:
    table = shapes(level if level in LEVELS else LEVELS[-1]).copy()
    np.fill_diagonal(table, 0)
    table *= misread * (1 - uniform_share) / table.sum(axis=1).mean()
    table += misread * uniform_share / (_SIZE - 1)
    np.fill_diagonal(table, 0)
    right = 1 - table.sum(axis=1)
    if right.min() <= 0:
        raise DataError(f'A misreading rate of {misread:g} for "{level}" leaves no chance of reading some characters rightly.', "Assume less.")
    np.fill_diagonal(table, right)
    table.flags.writeable = False
    return table


@lru_cache(maxsize=16)
def _learned_rows(table: bytes, seen: tuple[tuple[str, float], ...], weight: float) -> Floats:
    found = np.frombuffer(table).reshape(_SIZE, _SIZE) * weight
    for pair, count in seen:
        found[ALPHABET.index(pair[0]), ALPHABET.index(pair[2])] += count
    found /= found.sum(axis=1, keepdims=True)
    found.flags.writeable = False
    return found


def _learned(table: Floats, seen: tuple[tuple[str, float], ...], weight: float) -> Floats:
    return _learned_rows(table.tobytes(), seen, weight)


LEVELS = ("clean", "worn", "badly-worn")


@cache
def shapes(level: str) -> Floats:
    """(36, 36) P(read as | true) of one level as shipped, including what is not misread."""
    section = _FILE.read_text(encoding="ascii").split(f"\nlevel {level}\n")[1].split("\nlevel ")[0]
    rows = [line.split()[1:] for line in section.splitlines() if line and not line.startswith("#")]
    table = np.array(rows, dtype=np.float64)
    return np.asarray(table / table.sum(axis=1, keepdims=True), dtype=np.float64)
