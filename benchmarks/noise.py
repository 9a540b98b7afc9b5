"""Readings drawn from the model's own wear channel, and texts that no knowledge base holds (docs/model.md, sections 1 and 3).

Which characters are given up as `?`, as one of two, or as missing is decided without looking at the text, so that it says nothing about
it; everything else follows the entries of section 1. A person who writes `[38]` does so whenever they see a 3 or an 8.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.probability.channel.reading import Reading
from kb.probability.channel.wear import confusion
from kb.words.notation import ALPHABET

State = Literal["clean", "worn", "badly-worn"]
PAIRS = ("38", "17", "5S", "0D", "6G", "2Z", "BR")  # each character in one pair at most
UNREADABLE: Mapping[State, float] = {"clean": 0.0, "worn": 0.15, "badly-worn": 0.3}
ONE_OF_TWO: Mapping[State, float] = {"clean": 0.0, "worn": 0.25, "badly-worn": 0.25}
BROKEN_OFF = 0.1  # worn readings of which only the end is left
_PAIR_OF = {character: pair for pair in PAIRS for character in pair}
_END = len(ALPHABET)


class Channel:
    """Draws readings of texts."""

    def __init__(self, rng: np.random.Generator, assumptions: Assumptions) -> None:
        self.rng, self.assumptions = rng, assumptions

    def state(self) -> State:
        """How worn a number is."""
        states: tuple[State, ...] = ("clean", "worn", "badly-worn")
        return states[int(self.rng.choice(3, p=(0.5, 0.35, 0.15)))]

    def read(self, text: str, state: State, doubtful: bool = False) -> str:
        """One reading of a text of A-Z0-9. The wear to give with it is `state`.

        doubtful: one character at least is given up, so that the reading is taken for a worn one without saying so.
        """
        reading = self._upright(text, state, doubtful)
        turned = Reading.parse(reading).turned()
        return str(turned) if turned is not None and self.rng.random() < self.assumptions.upside_down else reading

    def _upright(self, text: str, state: State, doubtful: bool) -> str:
        rng, seen_as = self.rng, np.cumsum(confusion(state, self.assumptions), axis=1)
        chance = rng.random((3, len(text)))
        left = len(text)
        if state != "clean" and len(text) > 3 and rng.random() < BROKEN_OFF:
            left = int(rng.integers(2, 4))
        tokens = [] if left == len(text) else ["*"]
        if doubtful:
            chance[1, -int(rng.integers(1, left + 1))] = -1
        for i in range(len(text) - left, len(text)):
            row = seen_as[ALPHABET.index(text[i])]
            seen = ALPHABET[min(int(np.searchsorted(row, chance[0, i] * row[-1], side="right")), len(ALPHABET) - 1)]
            if chance[1, i] < UNREADABLE[state]:
                seen = "?"
            elif chance[2, i] < ONE_OF_TWO[state] and seen in _PAIR_OF:
                seen = f"[{_PAIR_OF[seen]}]"
            tokens.append(seen)
        return "".join(tokens)


class StrangeTexts:
    """Draws texts as section 3 thinks of those that are not in a knowledge base: half from a bigram model, half from a shape model."""

    def __init__(self, texts: Iterable[tuple[str, float]], rng: np.random.Generator, assumptions: Assumptions) -> None:
        counts = np.full((_END + 1, _END + 1), assumptions.bigram_smoothing)
        shapes: dict[str, float] = defaultdict(float)
        for text, weight in texts:
            path = [_END, *map(ALPHABET.index, text), _END]
            for before, after in zip(path, path[1:], strict=False):
                counts[before, after] += weight
            shapes["".join("D" if character.isdigit() else "L" for character in text)] += weight
        counts[_END, _END] = 0
        self._next: NDArray[np.float64] = (counts / counts.sum(axis=1, keepdims=True)).cumsum(axis=1)
        self._shapes = list(shapes)
        self._shares = np.array(list(shapes.values())) / sum(shapes.values())
        self._rng, self._bigram_share = rng, assumptions.bigram_share

    def draw(self) -> str:
        """One text of at most 40 characters (a longer one is drawn again: nobody types it)."""
        while True:
            text = self._bigram() if self._rng.random() < self._bigram_share else self._shape()
            if len(text) <= 40:
                return text

    def _bigram(self) -> str:
        text, state = "", _END
        while True:
            state = min(int(np.searchsorted(self._next[state], self._rng.random(), side="right")), _END)
            if state == _END:
                return text
            text += ALPHABET[state]

    def _shape(self) -> str:
        shape = self._shapes[int(self._rng.choice(len(self._shapes), p=self._shares))]
        return "".join(ALPHABET[int(self._rng.integers(0, 10) if kind == "D" else self._rng.integers(10, 36))] for kind in shape)
