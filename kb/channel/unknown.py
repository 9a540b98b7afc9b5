"""Not in this knowledge base: what texts nobody recorded look like (docs/model.md, section 3).

Half of it is a bigram model of the recorded texts, half a model of their shapes (`LLDDDD`); a reading is held against
all texts at once, through the same channel as against a known one.
"""

import json
from collections import defaultdict
from collections.abc import Mapping
from functools import cached_property

import numpy as np

from kb.assumptions import Assumptions
from kb.channel.compiled import Compiled, Floats, Part
from kb.channel.trie import Trie, codes_of
from kb.words.notation import ALPHABET

_SIZE = len(ALPHABET)
_EDGE = _SIZE  # as a row the start of a text, as a column its end
_SHAPES = "DL"
_SHAPE = str.maketrans({character: "D" if character.isdigit() else "L" for character in ALPHABET})
_IS_DIGIT = np.array([character.isdigit() for character in ALPHABET])


class TextModel:
    """P(text | not in this knowledge base) and what it makes of readings.

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

    def evidence(self, compiled: Compiled) -> float:
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

    def _evidence(self, part: Part) -> float:
        bigram = self._bigram(part)
        return self.bigram_share * bigram + (1 - self.bigram_share) * (self._shape(part) if self.shapes else bigram)

    def _bigram(self, part: Part) -> float:
        """One pass over the states; what an edge from a state to itself takes in is a geometric series of matrices, summed in closed form."""
        onward, stop = self._steps[:, :_SIZE], self._steps[:, _EDGE]
        total = 0.0
        reached = np.zeros((len(part.start), _SIZE + 1))  # weight by state and last character, the start as character 36
        reached[:, _EDGE] = part.start
        for state, carried in enumerate(reached):
            for target, edge in part.onward.get(state, ()):
                if target == state:
                    carried = carried @ self._runs(float(part.entries[0, edge]))
            total += part.end[state] * float(carried @ stop)
            next_one = carried @ onward
            for target, edge in part.onward.get(state, ()):
                if target != state:
                    reached[target, :_SIZE] += next_one * part.entries[:, edge]
        return total

    def _shape(self, part: Part) -> float:
        classes = np.array([part.entries[_IS_DIGIT].mean(axis=0), part.entries[~_IS_DIGIT].mean(axis=0)])
        weights = self._shape_trie.weights(part, classes)
        return float(weights @ np.array(list(self.shapes.values())))

    @cached_property
    def _steps(self) -> Floats:
        """(37, 37) P(next | state), add-one-half smoothing; no text ends where it starts."""
        steps = self.counts + self.smoothing
        steps[_EDGE, _EDGE] = 0
        return np.asarray(steps / steps.sum(axis=1, keepdims=True), dtype=np.float64)

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
