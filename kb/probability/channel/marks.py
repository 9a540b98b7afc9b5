"""An index of known mark texts: how well a reading agrees with each, and which suit it best.

Up to `SEARCHED` texts every text is weighed, which is exact and simple; beyond that, the best are found with certainty without weighing all
(`kb.probability.channel.search`). From `MANY` texts on, the index holds them as trees, made once when the database is built, stored in one
piece, and used in place: read forwards, and from `SEARCHED` on backwards too.
"""

import hashlib
import json
from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np

from kb.probability.channel.automaton import Floats, ReadingAutomata
from kb.probability.channel.packed_trie import NONE, Level, Tree, reverse
from kb.probability.channel.search import ESTIMATED, Found, best, heaviest
from kb.probability.channel.trie import Trie, codes_of
from kb.words.errors import DataError, FileError
from kb.words.notation import ALPHABET

MANY = 5_000  # texts from which on the trees are stored
SEARCHED = 150_000  # texts from which on searching is quicker than weighing all
MOST = 50  # how many texts a search is asked for
NEAR = 0.1  # numeric: and all that weigh more than this share of the last of them
_FIELDS = (("code", "<u1"), ("text", "<i4"), ("below", "<i4"), ("lengths", "<u2"), ("first", "<i4"))


class MarkIndex:
    """Normalised mark texts (A-Z0-9) in a fixed order."""

    def __init__(self, texts: Sequence[str], trees: tuple[Tree, ...] = ()) -> None:
        self.texts = tuple(texts)
        self._made = trees

    @classmethod
    def of(cls, texts: Sequence[str]) -> "MarkIndex":
        """An index of these texts.

        Raises:
            DataError: a text is empty or has a character other than A-Z0-9.
        """
        index = cls(texts)
        if "" in index.texts:
            raise DataError("A mark has no text.", "Write the mark as it is cast, or leave the row out.")
        index._codes  # noqa: B018 - looks at every text now, not at the first question
        return index

    def weights(self, compiled: ReadingAutomata) -> Floats:
        """(N,) P(readings | text) of every text, in their order."""
        found = np.ones(len(self.texts))
        for part in compiled.parts:
            found *= self._trie.weights(part)
        return found

    def best(self, compiled: ReadingAutomata, most: int = MOST, near: float = NEAR, estimated: float = ESTIMATED) -> Found:
        """The texts that suit best: at least the `most` best and all within `near` of the last of them, exact, and the sum of all others.

        The index must hold every text once. Beyond `SEARCHED` texts the sum of the others may be an estimate, if it is at most the share
        `estimated` of all; but for several readings of one mark, under which every text is weighed.
        """
        if len(self.texts) >= SEARCHED and len(compiled.parts) == 1:
            forward, backward = self._trees
            return best(forward, backward, compiled.parts[0], most, near, estimated)
        return heaviest(self.weights(compiled), most, near)

    def to_bytes(self) -> bytes:
        """The digest of all that follows, a line of JSON, the texts one to a line, and from `MANY` on the trees. Equal indexes give equal bytes."""
        texts = "\n".join(self.texts).encode("ascii")
        trees = self._trees if len(self.texts) >= MANY else ()
        shapes = [[[len(level.code), *level.ends.shape] for level in tree.levels] for tree in trees]
        head = json.dumps({"count": len(self.texts), "texts": len(texts), "trees": shapes}, sort_keys=True).encode("ascii")
        body = b"\n".join([head, texts + b"".join(_tree_bytes(tree) for tree in trees)])
        return hashlib.sha256(body).hexdigest().encode("ascii") + b"\n" + body

    @classmethod
    def from_bytes(cls, data: bytes) -> "MarkIndex":
        """An index written by `to_bytes`. What it does not hold is made when it is first needed.

        Raises:
            FileError: the bytes are not those that were written.
        """
        digest, _, body = data.partition(b"\n")
        if hashlib.sha256(body).hexdigest().encode("ascii") != digest:
            raise FileError("The index of marks in this database is damaged.", "Build it again with: kb build FOLDER.")
        line, _, body = body.partition(b"\n")
        head = json.loads(line)
        texts = body[: head["texts"]].decode("ascii").split("\n") if head["count"] else []
        at, trees = head["texts"], []
        for shapes in head["trees"]:
            tree, at = _tree_from(body, at, shapes)
            trees.append(tree)
        return cls(texts, tuple(trees))

    @cached_property
    def _trees(self) -> tuple[Tree, ...]:
        if self._made:
            return self._made
        codes = self._codes.astype(np.uint8)
        codes[self._codes < 0] = NONE
        return tuple(Tree.grow(each) for each in ([codes, reverse(codes)] if len(self.texts) >= SEARCHED else [codes]))

    @cached_property
    def _codes(self) -> Any:
        return codes_of(self.texts, ALPHABET)

    @cached_property
    def _trie(self) -> Trie:
        return self._made[0].trie if self._made else Trie.of(self._codes)


def _tree_bytes(tree: Tree) -> bytes:
    pieces = [np.ascontiguousarray(tree.follows, dtype="<f8").tobytes()]
    for level in tree.levels:
        pieces += [np.ascontiguousarray(getattr(level, name), dtype=kind).tobytes() for name, kind in _FIELDS]
        pieces.append(level.ends.tobytes())
    return b"".join(pieces)


def _tree_from(data: bytes, at: int, shapes: list[list[int]]) -> tuple[Tree, int]:
    def take(kind: str, count: int) -> Any:
        nonlocal at
        found = np.frombuffer(data, kind, count, at)
        at += found.nbytes
        return found

    follows = take("<f8", (len(shapes) + 1) * (len(ALPHABET) + 1)).reshape(len(shapes) + 1, -1)
    levels = []
    for nodes, kinds, lengths in shapes:
        fields = [take(kind, nodes + (name == "first")) for name, kind in _FIELDS]
        code, text, below, which, first = fields
        levels.append(Level(code, text, below, which, take("?", kinds * lengths).reshape(kinds, lengths), first))
    return Tree(tuple(levels), follows), at
