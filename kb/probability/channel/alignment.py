"""Which true character each token of a reading stands for, if the text is known: the share of every alignment in the weight of the text.

This determines what re-reading a character can tell, and what a confirmed reading teaches about wear.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import Automaton, Floats, Indexes
from kb.probability.channel.reading import TURNED, Reading
from kb.probability.channel.trie import codes_of
from kb.probability.channel.wear import confusion
from kb.words.notation import ALPHABET

_TURNABLE = np.array([character in TURNED for character in ALPHABET])
_TURNED = [ALPHABET.index(TURNED.get(character, character)) for character in ALPHABET]


def stands_for(part: Automaton, texts: Sequence[str]) -> tuple[Floats, Floats]:
    """What the tokens of a reading stand for, for each of some texts.

    Returns:
        (N,) weight of the part on each text.
        (N, tokens, 36) probability that a token was read from each true character, given reading and text; all 0 where the text cannot be it. The
        row of a `*` is 0. Rows are those of the reading as typed, whichever way up it was.

    Raises:
        DataError: a text has a character other than A-Z0-9.
    """
    weights, found = _standing(part, texts)
    tokens = part.tokens
    return weights, np.moveaxis(found[:tokens] + found[tokens:] if len(found) > tokens else found, 0, 1)


def seen_again(part: Automaton, reading: Reading, texts: Sequence[str], assumptions: Assumptions) -> tuple[Floats, Floats]:
    """What a second look would show, by text that the reading may be of.

    Returns:
        (N,) weight of each text; (positions, N, 36) as `shown_again`, of the share that the text has in what the reading may be.
    """
    weights, found = _standing(part, texts)
    return weights, shown_again(part, reading, found, assumptions)


def _standing(part: Automaton, texts: Sequence[str]) -> tuple[Floats, Floats]:
    """(N,) weights, and (T, N, 36) as `stands_for` with the rows of `Automaton.using`."""
    codes = codes_of(texts, ALPHABET)
    weights, places = crossings(part, part.entries, codes)
    found, scale, every = np.zeros((len(part.using), len(texts), len(ALPHABET))), np.where(weights > 0, weights, 1.0), np.arange(len(texts))
    for place, crossed in places:
        found[:, every, codes[:, place]] += part.using @ (crossed * part.entries[codes[:, place]].T) / scale
    return weights, found


def crossings(part: Automaton, entries: Floats, codes: Indexes) -> tuple[Floats, Iterator[tuple[int, Floats]]]:
    """(N,) weights of the part on texts; and, place by place, (E, N) what crosses each edge there, but for the entry of the edge itself.

    Args:
        entries: (alphabet, E), those of the part or of another alphabet. codes: (N, places) characters of the texts, -1 after the end.
    """
    states = np.arange(len(part.start))
    arriving, leaving = ((states[:, None] == ends).astype(np.float64) for ends in (part.target, part.source))  # (S, E)
    inside = codes >= 0
    taken = [entries[column].T for column in np.where(inside, codes, 0).T]  # by place in the text, (E, N)
    ahead = [np.repeat(part.start[:, None], len(codes), axis=1)]
    for place, entry in enumerate(taken):
        ahead.append(np.where(inside[:, place], arriving @ (ahead[-1][part.source] * entry), ahead[-1]))

    def backwards() -> Iterator[tuple[int, Floats]]:
        behind = np.repeat(part.end[:, None], len(codes), axis=1)
        for place in range(codes.shape[1] - 1, -1, -1):
            yield place, ahead[place][part.source] * behind[part.target] * inside[:, place]
            behind = np.where(inside[:, place], leaving @ (taken[place] * behind[part.target]), behind)

    return np.asarray(part.end @ ahead[-1], dtype=np.float64), backwards()


def shown_again(part: Automaton, reading: Reading, stands: Floats, assumptions: Assumptions) -> Floats:
    """What a second look would show, each character weighed as if it had been told (`kb.probability.channel.automaton.looked_again`).

    Args:
        stands: (T, ..., 36) by row of `Automaton.using` and true character.

    Returns:
        (positions, ..., 36) by token that can be looked at again and by character shown.
    """
    clean = confusion("clean", assumptions)
    shown = stands[: part.tokens] @ clean
    if len(stands) > part.tokens:
        shown = shown + stands[part.tokens :] @ np.where(_TURNABLE, clean[:, _TURNED], clean.min())
    return np.ascontiguousarray(shown[rereadable(reading)])


def rereadable(reading: Reading) -> list[int]:
    """Positions of the tokens that a second look could change: all but `*`, which leaves open what stands there."""
    return [i for i, token in enumerate(reading.tokens) if token != "*"]

