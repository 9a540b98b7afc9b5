"""Which true character each token of a reading stands for, if the text is known: the share of every alignment in the weight of the text.

From it follows what re-reading a character can tell, and what a confirmed reading teaches about wear.
"""

from collections.abc import Sequence

import numpy as np

from kb.channel.compiled import Floats, Part, encode
from kb.channel.reading import Reading
from kb.channel.trie import codes_of
from kb.words.notation import ALPHABET


def stands_for(part: Part, texts: Sequence[str]) -> tuple[Floats, Floats]:
    """What the tokens of a reading stand for, for each of some texts.

    Returns:
        (N,) weight of the part on each text.
        (N, tokens, 36) probability that a token was read from each true character, given reading and text; all 0 where the text cannot be it. The
        row of a `*` is 0. Rows are those of the reading as typed, whichever way up it was.

    Raises:
        DataError: a text has a character other than A-Z0-9.
    """
    codes = codes_of(texts, ALPHABET)
    states, tokens = np.arange(len(part.start)), np.arange(int(part.takes.max(initial=-1)) + 1)
    arriving = (states[:, None] == part.target).astype(np.float64)  # (S, E)
    leaving = (states[:, None] == part.source).astype(np.float64)
    using = sum((tokens[:, None] == column).astype(np.float64) for column in part.takes.T)  # (tokens, E)
    inside = codes >= 0
    entries = [part.entries[column].T for column in np.where(inside, codes, 0).T]  # by place in the text, (E, N)
    ahead = [np.repeat(part.start[:, None], len(texts), axis=1)]
    for place, entry in enumerate(entries):
        ahead.append(np.where(inside[:, place], arriving @ (ahead[-1][part.source] * entry), ahead[-1]))
    weights = part.end @ ahead[-1]
    behind = part.end[:, None] / np.where(weights > 0, weights, 1.0)
    found = np.zeros((len(texts), len(tokens), len(ALPHABET)))
    for place in range(codes.shape[1] - 1, -1, -1):
        onward = entries[place] * behind[part.target]
        flow = ahead[place][part.source] * onward * inside[:, place]
        found[np.arange(len(texts)), :, codes[:, place]] += (using @ flow).T
        behind = np.where(inside[:, place], leaving @ onward, behind)
    return np.asarray(weights, dtype=np.float64), found


def rereadable(reading: Reading) -> list[int]:
    """Positions of the tokens that a second look could change: all but `*`, which leaves open what stands there."""
    return [i for i, token in enumerate(reading.tokens) if token != "*"]


def usual(token: str, table: Floats) -> Floats:
    """(36,) what a token stands for if nothing is known of the text; table as `kb.channel.wear.confusion` gives it."""
    column = np.ones(len(ALPHABET)) if token == "?" else table[:, encode(token)].sum(axis=1)
    return np.asarray(column / column.sum(), dtype=np.float64)
