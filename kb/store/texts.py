"""What the built file knows of texts: what unknown ones look like, which marks there are, and how a mark read suits each variant.

Formulas: docs/model.md, sections 3 (texts learned from) and 4 (a mark reading).
"""

from collections import defaultdict
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import ReadingAutomata, compile_readings
from kb.probability.channel.background import TextModel
from kb.probability.channel.digits import format_serial
from kb.probability.channel.learning import Confirmed, Learned, learn
from kb.probability.channel.marks import MarkIndex
from kb.probability.channel.reading import Reading
from kb.probability.inference.mark_likelihood import mark_likelihood
from kb.probability.production.layout import Lines
from kb.words.dataset import Dataset
from kb.words.notation import normalise

SAMPLE = 64  # serials of a block that the model of unknown serials learns from


def learn_marks(dataset: Dataset, assumptions: Assumptions) -> TextModel:
    """What mark texts look like: every distinct one counts once."""
    return TextModel.learn(dict.fromkeys(sorted({normalise(row.text) for row in dataset.marks}), 1.0), assumptions)


def learn_serials(lines: Lines, assumptions: Assumptions) -> TextModel:
    """What serials look like: at most 64 of every block, by units built."""
    blocks = [(line, index) for line in lines for index in range(len(line.blocks))]
    whole = sum(line.blocks[index].units for line, index in blocks)
    texts: dict[str, float] = defaultdict(float)
    for line, index in blocks:
        block = line.blocks[index]
        count = min(SAMPLE, block.count)
        for i in range(count):
            texts[format_serial(line.form(index), block.first + i * block.count // count)] += block.units / count / whole * len(blocks)
    return TextModel.learn(texts, assumptions)


def telling_marks(dataset: Dataset) -> MarkIndex:
    """The distinct texts of marks that tell a variant."""
    return MarkIndex.of(sorted({normalise(row.text) for row in dataset.marks if row.variant_ids}))


def learn_readings(dataset: Dataset, assumptions: Assumptions) -> Learned:
    """What the confirmed readings of the dataset teach."""
    confirmed = [Confirmed(Reading.parse(row.reading), normalise(row.truth), row.wear) for row in dataset.readings]
    return learn(confirmed, telling_marks(dataset), assumptions) if confirmed else Learned(assumptions)


class MarkLikelihoods:
    """P(mark read | variant) for marks read on sighted units; a callable of (component_id, reading)."""

    def __init__(self, dataset: Dataset, unknown: TextModel, assumptions: Assumptions) -> None:
        self._unknown, self._assumptions = unknown, assumptions
        self._foundry = MarkIndex.of([normalise(row.text) for row in dataset.marks if not row.variant_ids])
        self._variants: dict[str, dict[str, list[str]]] = defaultdict(dict)
        owner = {}
        for variant in dataset.variants:
            self._variants[variant.component_id][variant.variant_id] = []
            owner[variant.variant_id] = variant.component_id
        for mark in dataset.marks:
            for variant_id in mark.variant_ids:
                self._variants[owner[variant_id]][variant_id].append(normalise(mark.text))
        self._indexes: dict[str, MarkIndex] = {}  # of the marks of all variants of a component, one after the other
        self._known: dict[tuple[str, str], Mapping[str, float]] = {}
        self._compiled: dict[str, ReadingAutomata] = {}
        self._of_foundry: dict[str, NDArray[np.float64]] = {}

    def __call__(self, component_id: str, reading: str) -> Mapping[str, float]:
        """By variant_id, of all variants of the component."""
        if (component_id, reading) not in self._known:
            if reading not in self._compiled:
                self._compiled[reading] = compile_readings([Reading.parse(reading)], [None], self._assumptions)
            self._known[component_id, reading] = self._of(component_id, reading, self._compiled[reading])
        return self._known[component_id, reading]

    def _of(self, component_id: str, reading: str, compiled: ReadingAutomata) -> Mapping[str, float]:
        if reading not in self._of_foundry:
            self._of_foundry[reading] = self._foundry.weights(compiled) if self._foundry.texts else np.zeros(0)
        variants = self._variants.get(component_id, {})
        if component_id not in self._indexes:
            self._indexes[component_id] = MarkIndex.of([text for texts in variants.values() for text in texts])
        ends = np.cumsum([len(texts) for texts in variants.values()])[:-1]
        of_marks = np.split(self._indexes[component_id].weights(compiled), ends) if variants else []
        found = mark_likelihood(of_marks, self._unknown.evidence(compiled), self._of_foundry[reading], self._assumptions)
        return dict(zip(variants, found.tolist(), strict=True))
