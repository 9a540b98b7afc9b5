"""Recorded marks that may have been meant by a mark that is not recorded.

They are offered to the reader; none is assumed. RapidFuzz finds those that are a few characters away, and the wear channel puts them
in order.
"""

from collections.abc import Sequence

import numpy as np

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.marks import MarkIndex
from kb.probability.channel.reading import Reading

MOST = 6  # named at most
A_SLIP_FOR = 4  # one character in four may be wrong, and at least one
MOST_WEIGHED = 2000


def nearest(reading: Reading, texts: Sequence[str], assumptions: Assumptions) -> list[tuple[str, int]]:
    """The texts nearest to a reading, at most six, and how many characters apart they are.

    Characters may be changed, left out, added or swapped with their neighbour; `?` is any character, `[38]` one of these, `*` any run.

    Args:
        texts: normal forms.

    >>> nearest(Reading.parse("V2l?1"), ["V2141", "V2146", "H4410"], Assumptions())
    [('V2141', 1)]
    """
    from rapidfuzz import process  # needed only for a mark that nobody recorded
    from rapidfuzz.distance import OSA, Levenshtein

    told = [token for token in reading.tokens if token != "*"]
    unsure = sum(token == "?" or len(token) > 1 for token in told)
    slips = max(1, len(told) // A_SLIP_FOR)
    if len(told) - unsure <= slips:
        return []  # so little can be read that it is near to everything
    # Only the certain characters are compared at first; each doubtful one may cost one there.
    typed = "".join(token if len(token) == 1 else "?" for token in told)
    if "*" in reading.tokens:
        hits = process.extract(
            typed, texts, scorer=Levenshtein.distance, scorer_kwargs={"weights": (0, 1, 1)}, score_cutoff=slips + unsure, limit=MOST_WEIGHED
        )
    else:
        hits = process.extract(typed, texts, scorer=OSA.distance, score_cutoff=slips + unsure, limit=MOST_WEIGHED)
    apart = {text: away for text, _, _ in hits if (away := _apart(reading.tokens, text)) <= slips}
    if not apart or 0 in apart.values():
        return []  # nothing is near, or it is recorded
    near = sorted(apart)
    weights = MarkIndex.of(near).weights(compile_readings([reading], ["badly-worn"], assumptions))
    order = sorted(range(len(near)), key=lambda i: (apart[near[i]], -weights[i], near[i]))
    return [(near[i], apart[near[i]]) for i in order[:MOST]]


def _apart(tokens: Sequence[str], text: str) -> int:
    """Optimal string alignment distance of a reading and a text."""
    table = np.zeros((len(tokens) + 1, len(text) + 1), dtype=np.int64)
    table[0] = np.arange(len(text) + 1)
    for i, token in enumerate(tokens, 1):
        table[i, 0] = table[i - 1, 0] + (token != "*")
        for j, character in enumerate(text, 1):
            if token == "*":
                table[i, j] = min(table[i - 1, j], table[i, j - 1])
                continue
            agrees = token == "?" or character in token
            best = min(table[i - 1, j - 1] + (not agrees), table[i - 1, j] + 1, table[i, j - 1] + 1)
            if i > 1 and j > 1 and tokens[i - 2] == character and token == text[j - 2] and tokens[i - 2] != token:
                best = min(best, table[i - 2, j - 2] + 1)
            table[i, j] = best
    return int(table[-1, -1])
