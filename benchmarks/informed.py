"""A matcher that knows how the readings of `benchmarks.mark_catalogue` were drawn: the most that any table and any rates can reach.

One automaton a reading, as the program's own (`kb.probability.channel.automaton`), but with the process's entries: its misreadings, 12 %
unreadable, 5 % one of two, a character lost or added, one to three lost at an end. Only a character lost and another added in one reading
(one in a thousand) is left out.
"""

from collections.abc import Mapping
from graphlib import TopologicalSorter

import numpy as np

from benchmarks.mark_catalogue import Misread
from kb.probability.channel.automaton import Automaton, Floats, ReadingAutomata, encode
from kb.probability.channel.reading import Reading
from kb.words.notation import ALPHABET

SIZE = len(ALPHABET)
LOST, ADDED, END_LOST = 0.04, 0.03, 0.2  # readings that lack a character, have one too many, have lost an end
DRAWN = 5000  # misreadings of a character from which its shares are counted


def shares(misread: Misread) -> Floats:
    """(36, 36) how often each character is misread as each, rows sum to 1."""
    counts = np.zeros((SIZE, SIZE))
    for row, character in enumerate(ALPHABET):
        np.add.at(counts[row], encode("".join(misread(character) for _ in range(DRAWN))), 1)
    return counts / DRAWN


def compiled(reading: Reading, misread: Floats) -> ReadingAutomata:
    """The reading as the process would have made it from each text. misread: `shares` of the process."""
    tokens = [token for token in reading.tokens if token != "*"]
    n = len(tokens)
    entries = [_entries(token, misread) for token in tokens]
    whole, lost, added = (range(at, at + n + 1) for at in (0, n + 1, 2 * n + 2))  # states: so many tokens used up
    edges = {(band[i], band[i + 1]): entry for band in (whole, lost, added) for i, entry in enumerate(entries)}
    any_one = np.ones(SIZE)
    edges |= {(whole[i], lost[i]): LOST / (1 - LOST) / (n + 1) * any_one for i in range(n + 1)}
    if n > 1:  # the added character goes with the one behind it, the last with the one before
        chance = ADDED / (1 - ADDED) / n
        edges |= {(whole[i], added[i + 2]): chance * _of_any(tokens[i]) * entries[i + 1] for i in range(n - 1)}
        edges[whole[n - 2], added[n]] += chance * _of_any(tokens[n - 1]) * entries[n - 2]
    neither = (1 - LOST) * (1 - ADDED)
    start, ends = {whole[0]: neither * (1 - END_LOST)}, [whole[n], lost[n], added[n]]
    if reading.tokens[0] == "*":
        three, two, one = range(3 * n + 3, 3 * n + 6)
        edges |= {(three, two): any_one, (two, one): any_one, (one, whole[0]): any_one}
        start = dict.fromkeys((three, two, one), neither * END_LOST / 2 / 3)
    elif reading.tokens[-1] == "*":
        three, two, one = range(3 * n + 3, 3 * n + 6)
        start = {whole[0]: neither * END_LOST / 2 / 3}
        edges |= {(end, one): any_one for end in ends} | {(one, two): any_one, (two, three): any_one}
        ends = [one, two, three]
    return ReadingAutomata((reading,), (_part(edges, start, ends),))


def _entries(token: str, misread: Floats) -> Floats:
    """(36,) P(token | true character)."""
    if token == "?":
        return np.full(SIZE, 0.12)
    right, codes = np.eye(SIZE), encode(token)
    if len(codes) == 1:
        return 0.1 * misread[:, codes[0]] + 0.73 * right[:, codes[0]]
    # One of the two, true with .85, else misread; the other misread. A set does not tell which was which.
    first, second = codes
    either = [(0.85 * right[:, a] + 0.15 * misread[:, a]) * misread[:, b] for a, b in ((first, second), (second, first))]
    return 0.05 * (either[0] + either[1])


def _of_any(token: str) -> float:
    """P(token | a character that is none of the text's), nearly."""
    return 0.12 if token == "?" else 0.83 / SIZE if len(token) == 1 else 0.05 * 2 / SIZE**2


def _part(edges: Mapping[tuple[int, int], Floats], start: Mapping[int, float], ends: list[int]) -> Automaton:
    """The states in an order in which no edge leads back."""
    before: dict[int, set[int]] = {}
    for source, target in edges:
        before.setdefault(target, set()).add(source)
    place = {state: at for at, state in enumerate(TopologicalSorter(before).static_order())}
    rows = sorted(((place[a], place[b], entry) for (a, b), entry in edges.items()), key=lambda row: row[1])
    begin, end = np.zeros(len(place)), np.zeros(len(place))
    begin[[place[state] for state in start]] = list(start.values())
    end[[place[state] for state in ends]] = 1.0
    sources, targets, weights = zip(*rows, strict=True)
    return Automaton(
        np.array(sources), np.array(targets), np.array(weights).T, begin, end, np.zeros(len(place), dtype=np.bool_), np.full((len(rows), 2), -1)
    )
