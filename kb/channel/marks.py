"""An index of known mark texts: how well a reading agrees with each of them, exactly."""

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from kb.channel.compiled import Compiled, Floats
from kb.channel.trie import Trie
from kb.words.errors import DataError
from kb.words.notation import ALPHABET


class MarkIndex:
    """Normalised mark texts (A-Z0-9) in a fixed order."""

    def __init__(self, texts: Sequence[str]) -> None:
        self.texts = tuple(texts)

    @classmethod
    def of(cls, texts: Sequence[str]) -> "MarkIndex":
        """An index of these texts.

        Raises:
            DataError: a text is empty or has a character other than A-Z0-9.
        """
        index = cls(texts)
        if "" in index.texts:
            raise DataError("A mark has no text.", "Write the mark as it is cast, or leave the row out.")
        index._trie  # noqa: B018 - looks at every text now, not at the first question
        return index

    def weights(self, compiled: Compiled) -> Floats:
        """(N,) P(readings | text) of every text, in their order."""
        found = np.ones(len(self.texts))
        for part in compiled.parts:
            found *= self._trie.weights(part)
        return found

    def to_bytes(self) -> bytes:
        """The texts, one a line."""
        return "\n".join(self.texts).encode("ascii")

    @classmethod
    def from_bytes(cls, data: bytes) -> "MarkIndex":
        """An index written by `to_bytes`. The tree is built when it is first asked."""
        return cls(data.decode("ascii").split("\n") if data else ())

    @cached_property
    def _trie(self) -> Trie:
        return Trie(self.texts, ALPHABET)
