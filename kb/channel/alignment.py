"""Which true character each token of a reading stands for, if the text is known: the share of every alignment in the weight of the text.

From it follows what re-reading a character can tell, and what a confirmed reading teaches about wear.
"""

import numpy as np

from kb.channel.compiled import Floats, Part, encode, level_of
from kb.channel.reading import Reading
from kb.words.notation import ALPHABET


def stands_for(part: Part, text: str) -> Floats:
    """(tokens, 36) probability that a token was read from each true character, given reading and text; all 0 where the text cannot be it.

    A row of a `*` is 0. Rows are those of the reading as typed, whichever way up it was.
    """
    codes = encode(text)
    ahead = [part.start]
    for code in codes:
        ahead.append(part.forward(ahead[-1], [code]))
    behind = part.end
    found = np.zeros((int(part.takes.max(initial=-1)) + 1, len(ALPHABET)))
    total = float(ahead[-1] @ part.end)
    if total <= 0:
        return found
    for code, before in zip(reversed(codes), reversed(ahead[:-1]), strict=True):
        flow = before[part.source] * part.entries[code] * behind[part.target] / total
        for column in part.takes.T:
            takes = column >= 0
            np.add.at(found[:, code], column[takes], flow[takes])
        behind = part.backward(behind, [code])
    return found



def doubtful(reading: Reading, wear: str | None) -> list[int]:
    """Positions of the tokens that a second look could change: all of a worn reading but `*`, which leaves open what stands there."""
    worn = level_of(reading, wear) != "clean"
    return [i for i, token in enumerate(reading.tokens) if token != "*" and (worn or token == "?" or len(token) > 1)]


def usual(token: str, table: Floats) -> Floats:
    """(36,) what a token stands for if nothing is known of the text; table as `kb.channel.wear.confusion` gives it."""
    column = np.ones(len(ALPHABET)) if token == "?" else table[:, encode(token)].sum(axis=1)
    return np.asarray(column / column.sum(), dtype=np.float64)
