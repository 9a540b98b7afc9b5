"""Characters as strokes, and strokes as ink on a grid of unit squares (`glyphs.txt` names its sources).

A grid is 36 wide and 28 high; a character is 21 high, with its left edge at column 8 and its foot on a common line.
"""

from math import cos, radians, sin
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Ink = NDArray[np.bool_]
Points = NDArray[np.float64]

HEIGHT, WIDTH = 28, 36
TALL = 21.0  # units from the head to the foot of a character
LEFT, TOP = 8.0, 3.0
_STEP = 0.2  # numeric: units between the points that are marked on the grid
_FILE = Path(__file__).with_name("glyphs.txt")


def styles() -> dict[str, dict[str, list[Points]]]:
    """Style -> character -> strokes, each (n, 2) points x, y: left edge at 0, head at 0, foot at 21."""
    found: dict[str, dict[str, list[Points]]] = {}
    for line in _FILE.read_text(encoding="ascii").splitlines():
        if line.startswith("style "):
            current = found.setdefault(line.split()[1], {})
        elif line and not line.startswith("#"):
            current[line[0]] = [_stroke(piece.split()) for piece in line[1:].split("|")]
    for glyphs in found.values():
        head, foot = (bound(glyphs["H"])[i] for i in (1, 3))
        for character, strokes in glyphs.items():
            left = bound(strokes)[0]
            glyphs[character] = [(stroke - (left, head)) * (TALL / (foot - head)) for stroke in strokes]
    return found


def bound(strokes: list[Points]) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of what the strokes cover."""
    points = np.concatenate(strokes)
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    return float(left), float(top), float(right), float(bottom)


def ink(points: Points, shift: float = 0.0) -> Ink:
    """(HEIGHT * WIDTH,) the squares that points `along` strokes lie in, moved to the right by `shift` units."""
    grid = np.zeros((HEIGHT, WIDTH), dtype=np.bool_)
    rows, columns = np.floor(points[:, 1] + TOP + 0.5), np.floor(points[:, 0] + LEFT + shift + 0.5)  # numeric
    grid[rows.astype(np.intp), columns.astype(np.intp)] = True
    return grid.ravel()


def along(strokes: list[Points]) -> Points:
    """(n, 2) points on the middle lines of strokes, close enough for every square they run through."""
    return np.concatenate([_dense(stroke) for stroke in strokes])


def spread(ink: Ink, radius: float) -> Ink:
    """(..., HEIGHT * WIDTH) the squares within `radius` of an inked one: where a reader accepts a stroke as being in its place."""
    grid = ink.reshape(-1, HEIGHT, WIDTH)
    wide = np.zeros_like(grid)
    reach = int(radius)
    for dy in range(-reach, reach + 1):
        for dx in range(-reach, reach + 1):
            if dx * dx + dy * dy <= radius * radius:
                wide[:, max(0, dy) : HEIGHT + min(0, dy), max(0, dx) : WIDTH + min(0, dx)] |= grid[
                    :, max(0, -dy) : HEIGHT + min(0, -dy), max(0, -dx) : WIDTH + min(0, -dx)
                ]
    return wide.reshape(ink.shape)


def _dense(stroke: Points) -> Points:
    """Points along a stroke, close enough for every square it runs through."""
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(stroke, axis=0).T))])
    at = np.linspace(0, length[-1], max(2, int(np.ceil(length[-1] / _STEP)) + 1))
    return np.column_stack([np.interp(at, length, stroke[:, 0]), np.interp(at, length, stroke[:, 1])])


def _stroke(words: list[str]) -> Points:
    if words[0] != "arc":
        return np.array([_pair(word) for word in words])
    (cx, cy), (rx, ry) = _pair(words[1]), _pair(words[2])
    begin, end = (float(angle) for angle in words[3].split(".."))
    angles = np.linspace(begin, end, max(2, int(abs(end - begin) / 6) + 1))
    return np.array([(cx + rx * cos(radians(a)), cy + ry * sin(radians(a))) for a in angles])


def _pair(word: str) -> tuple[float, float]:
    x, y = word.split(",")
    return float(x), float(y)
