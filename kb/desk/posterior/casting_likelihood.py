"""How likely is what was seen at one place of a component, for each of its variants (docs/model.md, section 4)."""

from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.desk.evidence.resolve import choice_values
from kb.desk.evidence.resolved import ResolvedObservation
from kb.desk.evidence.second_looks import compile_pieces
from kb.probability.channel.automaton import ReadingAutomata
from kb.probability.channel.marks import MarkIndex
from kb.store.book import Book, Row

Floats = NDArray[np.float64]


class Likelihood:
    """Likelihoods of pieces of evidence under one knowledge base and one set of assumptions."""

    def __init__(self, book: Book, assumptions: Assumptions) -> None:
        self.book, self.assumptions = book, assumptions
        self._compiled: dict[int, tuple[Any, ReadingAutomata]] = {}  # by piece; the piece is kept so that its id stays its own
        self._unknown: dict[int, float] = {}  # by compiled reading
        self._of_texts: dict[tuple[str, int], Floats] = {}  # by component and compiled reading
        self._foundry_weight: dict[int, float] = {}

    def compiled(self, piece: Any) -> ReadingAutomata:
        """The reading of a piece, ready to be held against texts."""
        if id(piece) not in self._compiled:
            self._compiled[id(piece)] = (piece, compile_pieces([piece], self.assumptions))
        return self._compiled[id(piece)][1]

    def on_variants(self, component_id: str, piece: ResolvedObservation) -> Floats:
        """(V+1,) P(piece | variant), in the order of `variants_of`, the unrecorded variant last."""
        variants = self.book.variants_of.get(component_id, [])
        if piece.feature is not None:
            return np.array([self.feature(piece.feature, v.variant_id, piece.value) for v in variants] + [self.where_unknown(piece)])
        a, marks = self.assumptions, self.book.marks_by_variant(component_id)
        none = np.array([a.none_where_marked if len(mine) else a.none_where_unmarked for mine in marks] + [a.none_where_unrecorded])
        if piece.reading is None:
            return none
        compiled = self.compiled(piece)
        weights, unknown = self.weights(component_id, compiled), self.unknown(compiled)
        of_marks = [weights[mine].mean() if len(mine) else unknown for mine in marks]
        return (1 - none) * self._or_foundry(np.array([*of_marks, unknown]), compiled)

    def of_texts(self, component_id: str, compiled: ReadingAutomata) -> dict[str, float]:
        """P(reading | text) of every mark text of a component; compiled: as `compiled` gives it."""
        texts = self.book.marks_index(component_id).texts
        return dict(zip(texts, self.weights(component_id, compiled).tolist(), strict=True))

    def weights(self, component_id: str, compiled: ReadingAutomata) -> Floats:
        """The same as an array, in the order of the index of the component's marks."""
        key = (component_id, id(compiled))
        if key not in self._of_texts:
            index = self.book.marks_index(component_id)
            self._of_texts[key] = index.weights(compiled) if index.texts else np.zeros(0)
        return self._of_texts[key]

    def of_foundry(self, compiled: ReadingAutomata) -> Floats:
        """(F,) P(reading | text) of every foundry mark, in the order of `foundry`."""
        return self.foundry.weights(compiled) if self.foundry.texts else np.zeros(0)

    def best_mark(self, component_id: str, piece: ResolvedObservation, variant_id: str) -> Row | None:
        """The recorded mark of the variant that the reading suits best, None if it has none."""
        mine = [mark for mark in self.book.marks_of(component_id) if mark.variant_id == variant_id]
        weight = self.of_texts(component_id, self.compiled(piece))
        return max(mine, key=lambda mark: weight[mark.normal], default=None)

    def where_unknown(self, piece: ResolvedObservation) -> float:
        """P(piece | a variant, or a unit, that is not in this knowledge base)."""
        if piece.feature is not None:
            return self.assumptions.measure_where_unrecorded if piece.feature.kind == "measure" else 1 / self._values(piece.feature, piece.value)
        none = self.assumptions.none_where_unrecorded
        if piece.reading is None:
            return none
        compiled = self.compiled(piece)
        return (1 - none) * float(self._or_foundry(np.array([self.unknown(compiled)]), compiled)[0])

    def feature(self, feature: Row, variant_id: str, value: str | float) -> float:
        """P(value seen | variant)."""
        error = self.assumptions.feature_error if feature.error is None else feature.error
        recorded = self.book.feature_values.get(feature.feature_id, {}).get(variant_id)
        if feature.kind == "measure":
            if recorded is None:
                return self.assumptions.measure_where_unrecorded
            assert isinstance(value, float)
            return float(1 - error if inside(recorded, value) else error)
        count = self._values(feature, value)
        if recorded is None or recorded.value is None:
            return 1 / count
        return float(1 - error if recorded.value == value else error / (count - 1))

    def unknown(self, compiled: ReadingAutomata) -> float:
        """U(r): P(reading | a mark that is not in this knowledge base)."""
        if id(compiled) not in self._unknown:
            self._unknown[id(compiled)] = self.book.text_models["mark"].evidence(compiled)
        return self._unknown[id(compiled)]

    def _values(self, feature: Row, value: str | float) -> int:
        known = choice_values(self.book, feature.feature_id)
        return max(2, len(known) + (value not in known))

    def _or_foundry(self, of_marks: Floats, compiled: ReadingAutomata) -> Floats:
        if not self.foundry.texts:
            return of_marks
        share = self.assumptions.foundry_share
        if id(compiled) not in self._foundry_weight:
            self._foundry_weight[id(compiled)] = float(np.mean(self.foundry.weights(compiled)))
        return (1 - share) * of_marks + share * self._foundry_weight[id(compiled)]

    @cached_property
    def foundry(self) -> MarkIndex:
        """The foundry marks."""
        return self.book.index_of(tuple(sorted(self.book.foundry_marks)))


def inside(recorded: Row, value: float) -> bool:
    """The measure lies in the recorded range; both ends belong to it, an empty end is open."""
    return (recorded.low is None or value >= recorded.low) and (recorded.high is None or value <= recorded.high)
