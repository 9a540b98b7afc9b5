"""A tree of very many texts as plain arrays, so that it can be stored in one piece and used in place.

Level by level: for every node its character, the text that ends there, how many texts lie below, and where its children begin on the next level.
An index keeps two, one of them with the texts reversed: a search starts from the clearer end of a reading.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.probability.channel.trie import Trie

Codes = NDArray[np.uint8]
Numbers = NDArray[np.int32]
NONE = 255  # code of "no character": after the end of a text


@dataclass(frozen=True, eq=False)
class Level:
    """The nodes at one depth, children of one node side by side.

    Attributes:
        code: character that leads to the node.
        text: number of the text that ends here, or -1.
        below: how many texts begin so, the node's own included.
        lengths: which row of `ends` says how many characters still follow.
        ends: (M, longest + 1) whether so many may still follow.
        first: where the node's children begin on the next level; one entry more than there are nodes.
    """

    code: Codes
    text: Numbers
    below: Numbers
    lengths: NDArray[np.uint16]
    ends: NDArray[np.bool_]
    first: Numbers

    @cached_property
    def shares(self) -> NDArray[np.float64]:
        """(M, longest + 1) every length that may follow, equally likely."""
        return np.asarray(self.ends / self.ends.sum(axis=1, keepdims=True), dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Tree:
    """All levels, without the root. follows: (depth + 1, 37) how the texts that reach a depth go on: by character, or (last) not at all."""

    levels: tuple[Level, ...]
    follows: NDArray[np.float64]

    @classmethod
    def grow(cls, codes: Codes) -> "Tree":
        """The tree of different texts, (N, longest) codes, NONE behind their ends."""
        count, depth = codes.shape
        order = _sorted(codes)
        column = np.ascontiguousarray(codes[order].T)
        length = (codes != NONE).sum(axis=1, dtype=np.int32)[order]
        fresh = np.zeros(count, dtype=np.bool_)
        fresh[:1] = True
        above = np.zeros(count, dtype=np.int32)  # node of every text on the level before
        made: list[tuple[Codes, Numbers, Numbers, NDArray[np.uint64], Numbers]] = []  # code, text, below, lengths, parent
        follows = np.zeros((depth + 1, 37))
        for d in range(depth):
            goes_on = column[d] != NONE
            fresh[1:] |= column[d][1:] != column[d][:-1]
            starts = np.flatnonzero(fresh & goes_on)
            node = np.cumsum(fresh & goes_on, dtype=np.int32) - 1
            mine = np.flatnonzero(goes_on)
            text = np.full(len(starts), -1, dtype=np.int32)
            ends = np.flatnonzero(length == d + 1)
            text[node[ends]] = order[ends]
            below = np.bincount(node[mine], minlength=len(starts)).astype(np.int32)
            left = np.uint64(1) << (length[mine] - d - 1).astype(np.uint64)
            lengths = np.bitwise_or.reduceat(left, np.searchsorted(mine, starts)) if len(starts) else left
            made.append((column[d][starts], text, below, lengths, above[starts]))
            follows[d, :36] = np.bincount(column[d][mine], minlength=36)[:36]
            follows[d, 36] = (length == d).sum()
            above = node
        follows[depth, 36] = (length == depth).sum()
        levels = []
        for d, (code, text, below, left, _) in enumerate(made):
            children = np.bincount(made[d + 1][4], minlength=len(code)) if d + 1 < depth else np.zeros(len(code), dtype=np.intp)
            kinds, kind = np.unique(left, return_inverse=True)
            may_end = (kinds[:, None] >> np.arange(depth + 1, dtype=np.uint64) & np.uint64(1)).astype(np.bool_)
            first = np.concatenate([[0], np.cumsum(children)]).astype(np.int32)
            levels.append(Level(code, text, below, kind.ravel().astype(np.uint16), may_end, first))
        return cls(tuple(levels), follows / np.maximum(follows.sum(axis=1, keepdims=True), 1))

    @cached_property
    def usual(self) -> NDArray[np.float64]:
        """(depth, 36) the characters of the texts that go on at a depth, by their shares."""
        onward = self.follows[:-1, :-1]
        return np.asarray(onward / np.maximum(onward.sum(axis=1, keepdims=True), 1e-300), dtype=np.float64)  # numeric

    @cached_property
    def trie(self) -> Trie:
        """The same tree, to weigh every text in it."""
        none = np.zeros(0, dtype=np.intp)
        levels, ends, above = [], [(none, none)], np.array([0, len(self.levels[0].code) if self.levels else 0])
        for level in self.levels:
            levels.append((np.repeat(np.arange(len(above) - 1), np.diff(above)), level.code.astype(np.intp)))
            mine = np.flatnonzero(level.text >= 0)
            ends.append((level.text[mine].astype(np.intp), mine))
            above = level.first
        return Trie(levels, ends)


def _sorted(codes: Codes) -> NDArray[np.intp]:
    """The order of the texts, with a shorter one before its longer continuations."""
    keys = np.ascontiguousarray(codes + np.uint8(1))  # NONE becomes 0
    return np.argsort(keys.view(f"S{codes.shape[1]}").ravel(), kind="stable") if codes.size else np.arange(len(codes))


def reverse(codes: Codes) -> Codes:
    """The texts from their ends."""
    length = (codes != NONE).sum(axis=1)
    at = length[:, None] - 1 - np.arange(codes.shape[1])
    return np.where(at >= 0, np.take_along_axis(codes, np.maximum(at, 0), axis=1), np.uint8(NONE)).astype(np.uint8)
