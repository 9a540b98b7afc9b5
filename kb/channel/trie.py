"""Many texts held against one automaton at once: texts with the same beginning share its work.

The tree is kept level by level as arrays: for every node the node above it and the character that leads to it.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kb.channel.compiled import Floats, Part
from kb.words.errors import DataError


class Trie:
    """Texts over an alphabet, in the order given; the same text may stand there twice."""

    def __init__(self, texts: Sequence[str], alphabet: str) -> None:
        """Build the tree.

        Raises:
            DataError: a text has a character outside the alphabet.
        """
        codes = _codes(texts, alphabet)  # (N, longest), -1 after the end
        self._count, self._depth = codes.shape
        order = np.lexsort(codes.T[::-1]) if codes.size else np.arange(self._count)
        codes = codes[order]
        fresh = np.zeros(self._count, dtype=bool)
        fresh[:1] = True
        node = np.zeros(self._count, dtype=np.intp)  # of every text, on the level reached
        length = (codes >= 0).sum(axis=1)
        self._levels: list[tuple[NDArray[np.intp], NDArray[np.intp]]] = []
        self._ends = [(order[length == 0], node[length == 0])]
        for column, depth in zip(codes.T, range(1, self._depth + 1), strict=True):
            fresh[1:] |= column[1:] != column[:-1]
            first = np.flatnonzero(fresh & (column >= 0))
            self._levels.append((node[first], column[first]))
            node = np.cumsum(fresh & (column >= 0)) - 1
            self._ends.append((order[length == depth], node[length == depth]))

    def weights(self, part: Part) -> Floats:
        """(N,) weight of the part on every text; its entries must have the rows of the alphabet."""
        found = np.zeros(self._count)
        goes_on, stays = part.goes_on, part.stay > 0
        columns = np.ascontiguousarray(part.entries.T)
        missing = _still_to_come(goes_on)
        rows = {int(state): part.start[state : state + 1] for state in np.flatnonzero(part.start)}
        for depth, (texts, nodes) in enumerate(self._ends):
            if depth:
                above, code = self._levels[depth - 1]
                taken: dict[int, Floats] = {}
                for state, row in rows.items():
                    carried = row[above]
                    if stays[state]:
                        taken[state] = taken[state] + carried if state in taken else carried
                    if goes_on[state] and missing[state + 1] <= self._depth - depth:
                        moved = carried * columns[state][code]
                        taken[state + 1] = taken[state + 1] + moved if state + 1 in taken else moved
                rows = taken
            for state, row in rows.items():
                if part.end[state]:
                    found[texts] += part.end[state] * row[nodes]
        return found


def _still_to_come(goes_on: NDArray[np.bool_]) -> list[int]:
    """Characters that a state must still take before the reading is used up."""
    needed = [0] * len(goes_on)
    for state in range(len(goes_on) - 2, -1, -1):
        needed[state] = needed[state + 1] + 1 if goes_on[state] else 0
    return needed


def _codes(texts: Sequence[str], alphabet: str) -> NDArray[np.intp]:
    table = np.full(256, -1, dtype=np.intp)
    table[[ord(character) for character in alphabet]] = np.arange(len(alphabet))
    longest = max(map(len, texts), default=0)
    width = max(1, longest)
    letters = np.array([text.encode("ascii", "replace") for text in texts], dtype=f"S{width}")
    codes = table[letters.view(np.uint8).reshape(len(texts), width)[:, :longest]]
    wrong = np.flatnonzero((codes >= 0).sum(axis=1) != [len(text) for text in texts])
    if len(wrong):
        raise DataError(f'"{texts[wrong[0]]}" is not in normal form.', "Use letters A-Z and digits only.")
    return codes
