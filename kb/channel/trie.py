"""Many texts held against one automaton at once: texts with the same beginning share its work.

The tree is kept level by level as arrays: for every node the node above it and the character that leads to it.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kb.channel.compiled import Floats, Indexes, Part
from kb.words.errors import DataError


class Trie:
    """Texts over an alphabet, in the order given; the same text may stand there twice."""

    def __init__(self, codes: Indexes) -> None:
        """Build the tree of texts as `codes_of` gives them."""
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

    def weights(self, part: Part, entries: Floats | None = None) -> Floats:
        """(N,) weight of the part on every text. entries: (alphabet, E), if the texts are of another alphabet than the part."""
        found = np.zeros(self._count)
        entries = part.entries if entries is None else entries
        missing, columns = part.still_to_come, np.ascontiguousarray(entries.T)
        same = [weight if alike else None for weight, alike in zip(entries[0].tolist(), (entries == entries[0]).all(axis=0), strict=True)]
        rows = {int(state): part.start[state : state + 1] for state in np.flatnonzero(part.start)}
        for depth, (texts, nodes) in enumerate(self._ends):
            if depth:
                above, code = self._levels[depth - 1]
                taken: dict[int, Floats] = {}
                for state, row in rows.items():
                    going = [(target, edge) for target, edge in part.onward.get(state, ()) if missing[target] <= self._depth - depth]
                    carried = row[above] if going else row
                    for target, edge in going:
                        weight = same[edge]
                        moved = carried * (columns[edge][code] if weight is None else weight)
                        taken[target] = taken[target] + moved if target in taken else moved
                rows = taken
            for state, row in rows.items():
                if part.end[state]:
                    found[texts] += part.end[state] * row[nodes]
        return found


def codes_of(texts: Sequence[str], alphabet: str) -> Indexes:
    """(N, longest) positions in the alphabet, -1 after the end.

    Raises:
        DataError: a text has a character outside the alphabet.
    """
    table = np.full(256, -1, dtype=np.intp)
    table[[ord(character) for character in alphabet]] = np.arange(len(alphabet))
    longest = max(map(len, texts), default=0)
    width = max(1, longest)
    letters = np.array([text.encode("ascii", "replace") for text in texts], dtype=f"S{width}")
    codes = table[letters.view(np.uint8).reshape(len(texts), width)[:, :longest]]
    wrong = np.flatnonzero((codes >= 0).sum(axis=1) != [len(text) for text in texts])
    if len(wrong):
        raise DataError(f'"{texts[wrong[0]]}" is not in normal form.', "Use the normal form: letters A-Z and digits only.")
    return codes
