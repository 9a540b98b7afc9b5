"""Units drawn at random from the model, with what somebody could make out on them, to check that 90 % means nine times in ten.

Everything follows docs/model.md, sections 6 to 8, with the true b and w in place of what is believed about them. Four things are
fixed so that the page holds literally. Castings are named only if the maker is, because the page lets a unit from outside
the knowledge base have castings of those names at no cost. Leading zeros are never left out of a serial, and "looked, no mark" is
never said, because the page counts both on top of all other readings. At most one serial is read.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from benchmarks.noise import Channel, StrangeTexts
from benchmarks.truth import TrueComponent, TrueFeature, TrueMaker, Truth
from kb.assumptions import Assumptions

MAKER_STATED = 0.7
SERIAL_READ = 0.85
UNPLACED = 0.15  # a mark read somewhere on the unit
MOST_LOOKS = 4
_OWN_STREAM = 1  # so that the same seed for dataset and units does not draw the same numbers twice


@dataclass(frozen=True)
class DrawnUnit:
    """A unit and what is known about it.

    Attributes:
        evidence: the JSON form of `kb.Evidence`.
        maker, model, block, serial, order: what it is; all empty (order -1) if it is not in this knowledge base.
        as_built: component -> variant it left the works with.
        fitted: (component, place or "") -> variant that is there now, "" for one that nobody recorded.
    """

    evidence: dict[str, Any]
    maker: str = ""
    model: str = ""
    block: str = ""
    serial: str = ""
    order: int = -1
    as_built: dict[str, str] = field(default_factory=dict)
    fitted: dict[tuple[str, str], str] = field(default_factory=dict)


def draw_units(truth: Truth, seed: int, count: int, assumptions: Assumptions | None = None) -> list[DrawnUnit]:
    """Units drawn from the makers of a generated dataset. The same arguments give the same units."""
    return list(_Draw(truth, seed, assumptions or Assumptions()).units(count))


class _Draw:
    def __init__(self, truth: Truth, seed: int, assumptions: Assumptions) -> None:
        self.truth, self.assumptions = truth, assumptions
        self.rng = np.random.default_rng((seed, _OWN_STREAM))
        self.channel = Channel(self.rng, assumptions)
        self.strange_serials = StrangeTexts(_serial_texts(truth), self.rng, assumptions)
        marks = {text for maker in truth.makers for c in maker.components for v in c.variants for text in v.marks} | set(truth.foundry)
        self.strange_marks = StrangeTexts([(text, 1.0) for text in sorted(marks)], self.rng, assumptions) if marks else None
        self.by_units = np.array([maker.units for maker in truth.makers]) / sum(maker.units for maker in truth.makers)

    def units(self, count: int) -> Iterator[DrawnUnit]:
        for _ in range(count):
            maker = self.truth.makers[int(self.rng.choice(len(self.truth.makers), p=self.by_units))]
            known = self.rng.random() >= self.assumptions.not_in_knowledge_base
            stated = self.rng.random() < MAKER_STATED
            yield self._known(maker, stated) if known else DrawnUnit(self._evidence(maker, stated, "", {}))

    def _known(self, maker: TrueMaker, stated: bool) -> DrawnUnit:
        order, model = self._unit(maker)
        as_built = {component.component_id: self._built(component, order) for component in maker.components}
        donors = {component.assembly: order for component in maker.components}
        for assembly in donors:
            if self.rng.random() < self.assumptions.swapped_assembly:
                donors[assembly] = self._unit(maker)[0]
        fitted: dict[tuple[str, str], str] = {}
        for component in maker.components:
            donor = donors[component.assembly]
            built = as_built[component.component_id] if donor == order else self._built(component, donor)
            for place in component.places or ("",):
                fitted[component.component_id, place] = self._fitted(component, built)
        serial = maker.serial(order)
        evidence = self._evidence(maker, stated, serial, fitted)
        return DrawnUnit(evidence, maker.maker_id, model, maker.at(order)[0].block_id, serial, order, as_built, fitted)

    def _unit(self, maker: TrueMaker) -> tuple[int, str]:
        """Order and model of a unit, all units of the maker being equally likely."""
        units = np.array([block.units for block in maker.blocks])
        at = int(self.rng.choice(len(units), p=units / units.sum()))
        block = maker.blocks[at]
        models = np.array([share for _, share in block.models])
        model = block.models[int(self.rng.choice(len(models), p=models / models.sum()))][0]
        return sum(before.span for before in maker.blocks[:at]) + int(self.rng.integers(block.span)), model

    def _built(self, component: TrueComponent, order: int) -> str:
        return component.variants[int(self.rng.random() < component.built_new(order))].variant_id

    def _fitted(self, component: TrueComponent, built: str) -> str:
        if self.rng.random() < self.assumptions.unrecorded_variant:
            return ""
        rate = self.assumptions.replaced_rate if component.replaced_rate is None else component.replaced_rate
        return component.replacement(self.rng.random()).variant_id if self.rng.random() < rate else built

    def _evidence(self, maker: TrueMaker, stated: bool, serial: str, fitted: dict[tuple[str, str], str]) -> dict[str, Any]:
        """What is made out of a unit; without a serial and castings, of one that is not in the knowledge base."""
        evidence: dict[str, Any] = {"maker": maker.maker_id} if stated else {}
        if self.rng.random() < SERIAL_READ:
            evidence["serial"] = [self._read(serial or self.strange_serials.draw())]
        spots = [(component, place) for component in maker.components for place in component.places or ("",)]
        marks: list[dict[str, str]] = []
        features: list[str] = []
        for at in self.rng.permutation(len(spots))[: int(self.rng.integers(0, MOST_LOOKS + 1))] if stated else ():
            component, place = spots[at]
            spot = f"{component.component_id}@{place}" if place else component.component_id
            variant = fitted.get((component.component_id, place), "")
            features += [f"{spot}.{f.feature_id}={self._seen(f, variant)}" for f in component.features if self.rng.random() < 0.5]
            if self.strange_marks and self.rng.random() < 0.7:
                marks.append({"component": component.component_id, "place": place} | self._mark(component, variant))
        if self.strange_marks and self.rng.random() < UNPLACED:
            component, place = spots[int(self.rng.integers(len(spots)))]
            marks.append(self._mark(component, fitted.get((component.component_id, place), "")))
        return evidence | ({"marks": marks} if marks else {}) | ({"features": features} if features else {})

    def _read(self, text: str) -> dict[str, str]:
        state = self.channel.state()
        return {"reading": self.channel.read(text, state), "wear": state}

    def _mark(self, component: TrueComponent, variant_id: str) -> dict[str, str]:
        texts = next((variant.marks for variant in component.variants if variant.variant_id == variant_id), ())
        if self.truth.foundry and self.rng.random() < self.assumptions.foundry_share:
            texts = self.truth.foundry
        if texts or self.strange_marks is None:
            return self._read(texts[int(self.rng.integers(len(texts)))])
        return self._read(self.strange_marks.draw())

    def _seen(self, feature: TrueFeature, variant_id: str) -> str:
        """What somebody says about a feature; an unrecorded one has any of the recorded values."""
        values = list(dict.fromkeys(value for _, value in feature.values))
        right = feature.value(variant_id)
        if right is None:
            return values[int(self.rng.integers(len(values)))]
        others = [value for value in values if value != right]
        return others[int(self.rng.integers(len(others)))] if others and self.rng.random() < feature.error else right


def _serial_texts(truth: Truth) -> Iterator[tuple[str, float]]:
    """The serials that section 3 learns from: at most 64 of every block, weighted by the units they stand for."""
    blocks = [block for maker in truth.makers for block in maker.blocks]
    total = sum(block.units for block in blocks)
    for block in blocks:
        samples = min(64, block.span)
        for i in range(samples):
            number = block.first + i * block.span // samples
            yield f"{block.prefix}{number:0{block.width}d}", block.units / samples / total * len(blocks)
