"""Comparing many texts with one automaton at once: texts with the same beginning share the work.

The tree is kept level by level as arrays: for every node the node above it and the character that leads to it.
"""

from collections.abc import Sequence

import numpy as np

from kb.probability.channel.automaton import Automaton, Floats, Indexes
from kb.words.errors import DataError


class Trie:
    """Texts over an alphabet, in the order given; the same text may occur twice.

    Attributes:
        levels: for every depth the node above each node, and the character that leads to it.
        ends: for every depth, 0 included, the texts that end there and their nodes.
    """

    def __init__(self, levels: Sequence[tuple[Indexes, Indexes]], ends: Sequence[tuple[Indexes, Indexes]]) -> None:
        self.levels, self.ends = tuple(levels), tuple(ends)
        self._count, self._depth = sum(len(texts) for texts, _ in ends), len(levels)

    @classmethod
    def of(cls, codes: Indexes) -> "Trie":
        """The tree of texts as `codes_of` gives them."""
        count, depth = codes.shape
        order = np.lexsort(codes.T[::-1]) if codes.size else np.arange(count)
        codes = codes[order]
        fresh = np.zeros(count, dtype=bool)
        fresh[:1] = True
        node = np.zeros(count, dtype=np.intp)  # of every text, on the level reached
        length = (codes >= 0).sum(axis=1)
        levels, ends = [], [(order[length == 0], node[length == 0])]
        for column, d in zip(codes.T, range(1, depth + 1), strict=True):
            fresh[1:] |= column[1:] != column[:-1]
            first = np.flatnonzero(fresh & (column >= 0))
            levels.append((node[first], column[first]))
            node = np.cumsum(fresh & (column >= 0)) - 1
            ends.append((order[length == d], node[length == d]))
        return cls(levels, ends)

    def weights(self, part: Automaton, entries: Floats | None = None) -> Floats:
        """(N,) weight of the part on every text. entries: (alphabet, E), if the texts are of another alphabet than the part."""
        found = np.zeros(self._count)
        entries = part.entries if entries is None else entries
        missing, columns = part.still_to_come, np.ascontiguousarray(entries.T)
        same = [weight if alike else None for weight, alike in zip(entries[0].tolist(), (entries == entries[0]).all(axis=0), strict=True)]
        rows = {int(state): part.start[state : state + 1] for state in np.flatnonzero(part.start)}
        for depth, (texts, nodes) in enumerate(self.ends):
            if depth:
                above, code = self.levels[depth - 1]
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
