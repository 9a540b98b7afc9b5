"""Not in this knowledge base: what texts nobody recorded look like (docs/model.md, section 3).

Half of it is a bigram model of the recorded texts, half a model of their shapes (`LLDDDD`). A reading is compared with
all texts at once, through the same channel as with a known one.
"""

import json
from collections import defaultdict
from collections.abc import Mapping
from functools import cached_property

import numpy as np

from kb.assumptions import Assumptions
from kb.probability.channel.alignment import crossings
from kb.probability.channel.automaton import Automaton, Floats, ReadingAutomata
from kb.probability.channel.trie import Trie, codes_of
from kb.words.notation import ALPHABET

_SIZE = len(ALPHABET)
_EDGE = _SIZE  # as a row the start of a text, as a column its end
_SHAPES = "DL"
_SHAPE = str.maketrans({character: "D" if character.isdigit() else "L" for character in ALPHABET})
_IS_DIGIT = np.array([character.isdigit() for character in ALPHABET])


class TextModel:
    """P(text | not in this knowledge base), and the weight it gives to readings.

    Attributes:
        counts: (37, 37) weighted pairs of neighbours; row 36 is the start, column 36 the end.
        shapes: pattern of digits D and letters L -> share among the texts learned from.
    """

    def __init__(self, counts: Floats, shapes: Mapping[str, float], bigram_share: float, smoothing: float) -> None:
        self.counts, self.shapes = counts, dict(shapes)
        self.bigram_share, self.smoothing = bigram_share, smoothing
        self._series: dict[float, Floats] = {}

    @classmethod
    def learn(cls, texts: Mapping[str, float], assumptions: Assumptions) -> "TextModel":
        """Learn from normalised texts and their weights.

        Raises:
            DataError: a text has a character other than A-Z0-9.
        """
        known = sorted(texts.items())
        codes = codes_of([text for text, _ in known], ALPHABET)
        edge = np.full((len(known), 1), _EDGE)
        path = np.concatenate([edge, np.where(codes < 0, _EDGE, codes), edge], axis=1)
        pair = path[:, :-1] * (_SIZE + 1) + path[:, 1:]
        pair = np.where((path[:, :-1] == _EDGE) & (np.arange(pair.shape[1]) > 0), -1, pair)  # nothing follows an end
        weight = np.repeat(np.array([weight for _, weight in known], dtype=np.float64)[:, None], pair.shape[1], axis=1)
        counts = np.bincount(pair[pair >= 0], weight[pair >= 0], (_SIZE + 1) ** 2).reshape(_SIZE + 1, _SIZE + 1).astype(np.float64)
        weights: dict[str, float] = defaultdict(float)
        for text, each in known:
            weights[text.translate(_SHAPE)] += each
        total = sum(weights.values())
        shapes = {shape: weight / total for shape, weight in sorted(weights.items())} if total > 0 else {}
        return cls(counts, shapes, assumptions.bigram_share, assumptions.bigram_smoothing)

    def evidence(self, compiled: ReadingAutomata) -> float:
        """U: the product over the readings of P(reading | a text that is not in this knowledge base)."""
        return float(np.prod([self._evidence(part) for part in compiled.parts]))

    def to_bytes(self) -> bytes:
        """A line of JSON and the counts as little-endian float64. Equal models give equal bytes."""
        head = {"bigram_share": self.bigram_share, "smoothing": self.smoothing, "shapes": self.shapes}
        return json.dumps(head, sort_keys=True).encode("ascii") + b"\n" + self.counts.astype("<f8").tobytes()

    @classmethod
    def from_bytes(cls, data: bytes) -> "TextModel":
        """A model written by `to_bytes`."""
        line, _, rest = data.partition(b"\n")
        head = json.loads(line)
        counts = np.frombuffer(rest, dtype="<f8").astype(np.float64).reshape(_SIZE + 1, _SIZE + 1)
        return cls(counts, head["shapes"], head["bigram_share"], head["smoothing"])

    def standing(self, part: Automaton) -> Floats:
        """(T, 36) P(reading, and a token was read from this character | a text that is not in this knowledge base), by row of `Automaton.using`.

        Its sum over the characters, and over both ways up, is U for every token."""
        bigram = self._bigram_standing(part)
        return self.bigram_share * bigram + (1 - self.bigram_share) * (self._shape_standing(part) if self.shapes else bigram)

    def _evidence(self, part: Automaton) -> float:
        bigram = float(sum(end * (carried @ self._stop) for end, carried in zip(part.end, self._reached(part), strict=True)))
        return self.bigram_share * bigram + (1 - self.bigram_share) * (self._shape(part) if self.shapes else bigram)

    def _reached(self, part: Automaton) -> Floats:
        """(S, 37) weight by state and last character, the start as character 36, in one pass over the states; what an edge from a state to itself
        takes in is a geometric series of matrices, summed in closed form."""
        reached = np.zeros((len(part.start), _SIZE + 1))
        reached[:, _EDGE] = part.start
        for state, carried in enumerate(reached):
            for target, edge in part.onward.get(state, ()):
                if target == state:
                    carried[:] = carried @ self._runs(float(part.entries[0, edge]))
            next_one = carried @ self._onward
            for target, edge in part.onward.get(state, ()):
                if target != state:
                    reached[target, :_SIZE] += next_one * part.entries[:, edge]
        return reached

    def _bigram_standing(self, part: Automaton) -> Floats:
        """As `standing`: what leads up to each edge, times its entry, times what may follow."""
        next_ones = self._reached(part) @ self._onward
        worth = np.zeros((len(part.start), _SIZE + 1))  # by state, before what it takes in, and last character
        crossed = np.zeros((len(part.source), _SIZE))
        for state in range(len(part.start) - 1, -1, -1):
            onward, around = part.end[state] * self._stop, None
            for target, edge in part.onward.get(state, ()):
                if target == state:
                    around = self._runs(float(part.entries[0, edge]))
                else:
                    after = part.entries[:, edge] * worth[target, :_SIZE]
                    crossed[edge] = next_ones[state] * after
                    onward = onward + self._onward @ after
            worth[state] = onward if around is None else around @ onward
        return np.asarray(part.using @ crossed)

    def _shape(self, part: Automaton) -> float:
        weights = self._shape_trie.weights(part, _by_class(part))
        return float(weights @ np.array(list(self.shapes.values())))

    def _shape_standing(self, part: Automaton) -> Floats:
        """As `standing`. Characters of one class are alike, so that each has its share of the way by its entry."""
        codes = codes_of(list(self.shapes), _SHAPES)
        crossed = np.zeros((len(part.source), len(_SHAPES)))
        shares = np.array(list(self.shapes.values()))
        for place, edges in crossings(part, _by_class(part), codes)[1]:
            for kind in range(len(_SHAPES)):
                crossed[:, kind] += edges @ (shares * (codes[:, place] == kind))
        of_class = np.where(_IS_DIGIT, 0, 1)
        each = crossed[:, of_class] * part.entries.T / np.bincount(of_class)[of_class]
        return np.asarray(part.using @ each)

    @cached_property
    def _steps(self) -> Floats:
        """(37, 37) P(next | state), add-one-half smoothing; no text ends where it starts."""
        steps = self.counts + self.smoothing
        steps[_EDGE, _EDGE] = 0
        return np.asarray(steps / steps.sum(axis=1, keepdims=True), dtype=np.float64)

    @property
    def _onward(self) -> Floats:
        """(37, 36) P(next character | last)."""
        return self._steps[:, :_SIZE]

    @property
    def _stop(self) -> Floats:
        """(37,) P(the text ends | last character)."""
        return self._steps[:, _EDGE]

    def _runs(self, weight: float) -> Floats:
        """(37, 37) sum over all lengths of the run from one character to another, each weighing w: 1 + wB + (wB)^2 + ... = 1 / (1 - wB)."""
        if weight not in self._series:
            within = self._steps * weight
            within[:, _EDGE] = 0
            self._series[weight] = np.asarray(np.linalg.inv(np.eye(_SIZE + 1) - within), dtype=np.float64)
        return self._series[weight]

    @cached_property
    def _shape_trie(self) -> Trie:
        return Trie.of(codes_of(list(self.shapes), _SHAPES))


def _by_class(part: Automaton) -> Floats:
    """(2, E) mean entries of the digits and of the letters."""
    return np.array([part.entries[_IS_DIGIT].mean(axis=0), part.entries[~_IS_DIGIT].mean(axis=0)])
