"""From strokes to P(seen | true): every worn pattern of every character in every style, shown to the reader."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from kb.probability.channel.strokes.glyphs import Points, along, bound, ink, spread, styles
from kb.probability.channel.strokes.reader import Reader
from kb.probability.channel.strokes.wearing import WearLevel, worn
from kb.words.notation import ALPHABET

Floats = NDArray[np.float64]

READER = Reader(missing=1.0, doubt=1.0)  # missing ink counts as much as extra ink; docs/wear.md says what other readers would do
NEAR = 2.0  # units within which a stroke counts as being in its place
SCALE = 100_000
HEAD = """\
# How worn characters are read. Made by `python -m kb.probability.channel.strokes` from strokes/glyphs.txt; change that, not this.
# A line: the true character, then of 100,000 worn ones how many are read as each character (in the order of the line above).
# docs/wear.md explains it; kb/probability/channel/wear.py sets how often a character is misread at all and adds a uniform share.
#
# The Hershey Fonts, from which part of this was computed, were originally created by Dr. A. V. Hershey while working at the
# U. S. National Bureau of Standards."""


def table(level: WearLevel, reader: Reader = READER, known: dict[str, dict[str, list[Points]]] | None = None) -> Floats:
    """(36, 36) P(read as | true) before any uniform share, rows sum to 1. Each style is worn as often as the others; the reader knows them all."""
    known = known or styles()
    letters = templates(known)
    found = np.zeros((len(ALPHABET), len(ALPHABET)))
    for glyphs in known.values():
        for row, character in enumerate(ALPHABET):
            width = bound(glyphs[character])[2]
            patterns, weight = worn(ink(along(glyphs[character])), width, level)
            found[row] += weight @ reader.reads(costs(patterns, width, reader, letters)) / len(known)
    return found


Templates = list[list[tuple[Points, float]]]


def templates(known: dict[str, dict[str, list[Points]]]) -> Templates:
    """Style by style, the characters a reader knows: points along their strokes, and their width."""
    return [[(along(glyphs[character]), bound(glyphs[character])[2]) for character in ALPHABET] for glyphs in known.values()]


def costs(patterns: NDArray[np.bool_], width: float, reader: Reader, known: Templates) -> Floats:
    """(P, 36) the least cost of each character, over the styles, set to the left, the middle or the right of where the worn one stood."""
    letters = np.array([ink(points, part * (width - wide)) for glyphs in known for part in (0.0, 0.5, 1.0) for points, wide in glyphs])  # numeric
    each = reader.cost(patterns, spread(patterns, NEAR), letters, spread(letters, NEAR))
    return np.asarray(each.reshape(len(patterns), -1, len(ALPHABET)).min(axis=1), dtype=np.float64)


def as_text(tables: Mapping[str, Floats]) -> str:
    """The shipped file: for every level a line per true character, how often of 100,000 times what is left of it is read as each character."""
    lines = [HEAD]
    for name, found in tables.items():
        lines.append(f"\nlevel {name}\n# " + " ".join(f"{character:>5}" for character in ALPHABET))
        lines += [f"{character} " + " ".join(f"{round(value * SCALE):>5}" for value in row) for character, row in zip(ALPHABET, found, strict=True)]
    return "\n".join(lines) + "\n"
