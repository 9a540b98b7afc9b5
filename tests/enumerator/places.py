"""What is seen at one place of a component, and how likely each variant makes it (docs/model.md, section 4).

Observations are ("mark", reading, wear), with the reading "none" for: looked, no mark there; and ("saw", feature, value).
The variant "" is the unrecorded one.
"""

import re
from collections import defaultdict
from math import prod

from kb.assumptions import Assumptions

from .readings import Seen, normalise, see, weight
from .tables import Row, Tables, cell, index, listed, number, rows
from .unknown import learn, unknown_weight

UNRECORDED = ""
Observation = tuple[str, str, "str | float | None"]
Likelihoods = dict[str, float]


class Castings:
    """Components, their variants, marks and features."""

    def __init__(self, tables: Tables, assumptions: Assumptions) -> None:
        self.assumptions = assumptions
        self.components = index(tables, "components", "component_id")
        self.features = index(tables, "features", "feature_id")
        self.variant_rows = index(tables, "variants", "variant_id")
        self.variants: dict[str, list[str]] = {c: [] for c in self.components}
        for variant, row in self.variant_rows.items():
            self.variants[cell(row, "component_id")].append(variant)
        self.recorded = {(cell(r, "variant_id"), cell(r, "feature_id")): r for r in rows(tables, "feature_values")}
        self.marks: dict[str, list[str]] = defaultdict(list)
        self.foundry: list[str] = []
        for row in rows(tables, "marks"):
            text = normalise(cell(row, "text"))
            for variant in listed(row, "variant_ids"):
                self.marks[variant].append(text)
            if not listed(row, "variant_ids"):
                self.foundry.append(text)
        self.texts = sorted({text for texts in self.marks.values() for text in texts} | set(self.foundry))
        self.unknown_texts = learn(dict.fromkeys(self.texts, 1.0), assumptions)

    def places(self, component: str) -> list[str]:
        """The places of a component; one place "" where it has none."""
        return listed(self.components[component], "places") or [""]

    def shares(self, component: str) -> dict[str, float]:
        """g: how often each variant is found among replacements."""
        weights = {v: number(self.variant_rows[v], "service_share", 1.0) for v in self.variants[component]}
        total = sum(weights.values())
        return {v: weight / total for v, weight in weights.items()}

    def likelihoods(self, component: str, observations: list[Observation]) -> Likelihoods:
        """L(v) of everything observed at one place, for each variant and the unrecorded one."""
        return {v: prod(self._one(component, v, each) for each in observations) for v in [*self.variants[component], UNRECORDED]}

    def unknown(self, observations: list[Observation]) -> float:
        """The likelihood of observations at one place if the unit is not in this knowledge base."""
        return prod(self._unrecorded(each) for each in observations)

    def _one(self, component: str, variant: str, observation: Observation) -> float:
        kind, what, value = observation
        if kind == "mark" and variant == UNRECORDED:
            return self._unrecorded(observation)
        if kind == "mark":
            none = self.assumptions.none_where_marked if self.marks[variant] else self.assumptions.none_where_unmarked
            seen = see(what, None if value is None else str(value), self.assumptions) if what != "none" else None
            return none if seen is None else (1 - none) * self._mark(seen, self.marks[variant])
        row = self.recorded.get((variant, what))
        if cell(self.features[what], "kind") == "measure":
            if row is None or not (cell(row, "low") or cell(row, "high")):
                return 0.5
            return 1 - self._error(what) if inside(row, value) else self._error(what)
        n = self._values(what, str(value))
        if row is None or not cell(row, "value"):
            return 1 / n
        return 1 - self._error(what) if cell(row, "value") == str(value).strip() else self._error(what) / (n - 1)

    def _unrecorded(self, observation: Observation) -> float:
        kind, what, value = observation
        if kind == "mark":
            none = self.assumptions.none_where_unrecorded
            return none if what == "none" else (1 - none) * self._mark(see(what, None if value is None else str(value), self.assumptions), [])
        return 0.5 if cell(self.features[what], "kind") == "measure" else 1 / self._values(what, str(value))

    def _mark(self, seen: Seen, texts: list[str]) -> float:
        """(1 - f) mean over the marks of P(reading | mark) + f F(reading); without marks U(reading) is in the place of the mean."""

        def mean(some: list[str]) -> float:
            return sum(weight(seen, text, self.assumptions) for text in some) / len(some)

        own = mean(texts) if texts else unknown_weight(seen, self.unknown_texts, self.assumptions)
        if not self.foundry:
            return own
        return (1 - self.assumptions.foundry_share) * own + self.assumptions.foundry_share * mean(self.foundry)

    def _error(self, feature: str) -> float:
        return number(self.features[feature], "error", self.assumptions.feature_error)

    def _values(self, feature: str, seen: str) -> int:
        """n: how many values a choice may have."""
        values = {cell(row, "value") for (_, f), row in self.recorded.items() if f == feature and cell(row, "value")}
        if seen.strip() != "other" and seen.strip() not in values:
            raise ValueError(f'"{seen}" is no value of {feature}')
        return max(2, len(values | {seen.strip()}))


def inside(row: Row, value: object) -> bool:
    """Whether a measure, with or without its unit behind it, lies in low..high of a row; an empty end is open."""
    measured = re.match(r"\s*-?[0-9]+([.,][0-9]+)?", str(value))
    if measured is None:
        raise ValueError(f'"{value}" is no measure')
    number_seen = float(measured.group().replace(",", "."))
    low, high = cell(row, "low"), cell(row, "high")
    return (not low or float(low) <= number_seen) and (not high or number_seen <= float(high))
