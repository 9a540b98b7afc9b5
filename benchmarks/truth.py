"""The truth behind a generated dataset, kept beside it, so that whatever is worked out from the dataset can be compared with it."""

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class TrueBlock:
    """A stretch of numbers. `models`: model and its units; more than one share the numbers."""

    block_id: str
    prefix: str
    first: int
    last: int
    width: int
    models: tuple[tuple[str, int], ...]

    @property
    def span(self) -> int:
        """How many numbers."""
        return self.last - self.first + 1

    @property
    def units(self) -> int:
        """How many were built; every number of the block is equally likely to be one of them."""
        return sum(units for _, units in self.models)


@dataclass(frozen=True)
class TrueFeature:
    """A feature and what it is on each variant: a choice (value) or a measure (its middle); variants left out are not recorded."""

    feature_id: str
    kind: str
    error: float
    values: tuple[tuple[str, str], ...]

    def value(self, variant_id: str) -> str | None:
        """What it is on that variant, if that is recorded."""
        return dict(self.values).get(variant_id)


@dataclass(frozen=True)
class TrueVariant:
    """A variant, its weight among replacements, and its marks in normal form."""

    variant_id: str
    service_share: float
    marks: tuple[str, ...]


@dataclass(frozen=True)
class TrueComponent:
    """A component and its one change-over.

    `variants`: old, new, and where there are three, one that was only ever supplied as a replacement. `first_new`: order of the first
    new unit in the line, 0..n (n: not yet changed); `mixed`: length of the mixed stretch; `stated_width`: what a source says it was, or 0.
    """

    component_id: str
    assembly: str
    places: tuple[str, ...]
    replaced_rate: float | None
    variants: tuple[TrueVariant, ...]
    features: tuple[TrueFeature, ...]
    first_new: int
    mixed: int
    stated_width: int

    def built_new(self, order: int) -> float:
        """R(s; b, w) of section 5: the probability that the unit at an order left the works with the new variant."""
        past = order - self.first_new
        return 0.0 if past < 0 else 1.0 if past >= self.mixed else (past + 1) / (self.mixed + 1)

    def replacement(self, chance: float) -> TrueVariant:
        """The variant supplied as a replacement, by service share; `chance` is drawn evenly from 0 to 1."""
        left = chance * sum(variant.service_share for variant in self.variants)
        for variant in self.variants:
            left -= variant.service_share
            if left < 0:
                return variant
        return self.variants[-1]


@dataclass(frozen=True)
class TrueMaker:
    """A maker with one series, one line and its blocks in production order."""

    maker_id: str
    series_id: str
    blocks: tuple[TrueBlock, ...]
    components: tuple[TrueComponent, ...]

    @property
    def count(self) -> int:
        """How many numbers its line has."""
        return sum(block.span for block in self.blocks)

    @property
    def units(self) -> int:
        """How many units it built."""
        return sum(block.units for block in self.blocks)

    def at(self, order: int) -> tuple[TrueBlock, int]:
        """The block and the number at an order of the line, 0..count - 1."""
        for block in self.blocks:
            if order < block.span:
                return block, block.first + order
            order -= block.span
        raise IndexError("There is no such order in the line.")

    def serial(self, order: int) -> str:
        """The number at an order as it is stamped."""
        block, number = self.at(order)
        return f"{block.prefix}{number:0{block.width}d}"


@dataclass(frozen=True)
class Truth:
    """Everything a generated dataset was drawn from. `foundry`: texts of the marks that do not tell variants apart."""

    seed: int
    makers: tuple[TrueMaker, ...]
    foundry: tuple[str, ...]

    def save(self, path: Path) -> None:
        """Write it as JSON."""
        path.write_text(json.dumps(asdict(self), sort_keys=True) + "\n", encoding="utf-8")

    @classmethod
    def load(cls, path: Path) -> "Truth":
        """What `save` wrote."""
        plain = json.loads(path.read_text(encoding="utf-8"))
        return cls(plain["seed"], tuple(_maker(maker) for maker in plain["makers"]), tuple(plain["foundry"]))


def truth_file(dataset: Path) -> Path:
    """Where the truth of a dataset folder is kept: beside it, so that the folder holds nothing but a dataset."""
    return dataset.with_name(f"{dataset.name}.truth.json")


def _maker(plain: dict[str, Any]) -> TrueMaker:
    blocks = tuple(TrueBlock(**{**block, "models": _pairs(block["models"])}) for block in plain["blocks"])
    return TrueMaker(plain["maker_id"], plain["series_id"], blocks, tuple(_component(each) for each in plain["components"]))


def _component(plain: dict[str, Any]) -> TrueComponent:
    variants = tuple(TrueVariant(each["variant_id"], each["service_share"], tuple(each["marks"])) for each in plain["variants"])
    features = tuple(TrueFeature(**{**each, "values": _pairs(each["values"])}) for each in plain["features"])
    return TrueComponent(**{**plain, "places": tuple(plain["places"]), "variants": variants, "features": features})


def _pairs(plain: list[list[Any]]) -> tuple[tuple[Any, Any], ...]:
    return tuple((first, second) for first, second in plain)
