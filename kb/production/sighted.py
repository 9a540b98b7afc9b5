"""Sighted units: which of the recorded sightings estimate change-overs, and what each says about the variants.

Whole serials that stand somewhere only, and the latest for each serial, component and place; if that calls the casting replaced,
nothing earlier counts either. Rules: docs/model.md, section 5.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from kb.assumptions import Assumptions
from kb.production.lineages import Lineage
from kb.production.places import Lines, Place, find
from kb.production.serials import Problem
from kb.production.sightings import Seen
from kb.words import edtf
from kb.words.errors import DataError

if TYPE_CHECKING:
    from kb.words.dataset import Dataset
    from kb.words.records import Sighting

_WORN = frozenset("?[]*")
MarkLikelihood = Callable[[str, str], Mapping[str, float]]


@dataclass(frozen=True)
class Sighted:
    """One sighting that counts. `likelihood`: P(what was seen | variant), 0 where it is not listed. `rate`: P(replaced).

    `assumed`: nobody says whether it is the first, and nothing is recorded about its component, so the rate is assumed.
    """

    sighting_id: str
    component_id: str
    where: Place
    likelihood: Mapping[str, float]
    rate: float
    assumed: bool = False

    def possible(self, lineage: Lineage, service: Mapping[str, float]) -> bool:
        """Whether it could have been seen at all, built so or as a replacement; if not, it says nothing."""
        return any(p > 0 and (each in lineage.variants or service.get(each, 0.0) > 0) for each, p in self.likelihood.items())

    def seen(self, lineage: Lineage, service: Mapping[str, float], order: int) -> list[Seen]:
        """What it says about each change-over of a lineage that covers its block.

        Args:
            lineage: of its line and component.
            service: share of each variant among replacements.
            order: of the unit, among the units concerned.
        """
        replaced = self.rate * sum(share * self.likelihood.get(variant_id, 0.0) for variant_id, share in service.items())
        built = [(1 - self.rate) * self.likelihood.get(variant_id, 0.0) for variant_id in lineage.variants]
        return [Seen(order, max(built[:k]) + replaced, max(built[k:]) + replaced, replaced) for k in range(1, len(built))]


def service_shares(dataset: "Dataset") -> dict[str, dict[str, float]]:
    """By component: each variant's share among replacements; equal if none of them has any."""
    weights: dict[str, dict[str, float]] = defaultdict(dict)
    for row in dataset.variants:
        weights[row.component_id][row.variant_id] = 1.0 if row.service_share is None else float(row.service_share)
    shares = {}
    for component_id, of_variant in weights.items():
        total = sum(of_variant.values())
        shares[component_id] = {key: value / total if total > 0 else 1 / len(of_variant) for key, value in of_variant.items()}
    return shares


def select(
    dataset: "Dataset", lines: Lines, assumptions: Assumptions, mark_likelihood: MarkLikelihood
) -> tuple[dict[tuple[str, str], list[Sighted]], dict[tuple[str, str], set[int]], list[Problem]]:
    """The sightings that count, by (line_id, component_id) and then in file order; the orders of which there is any; and what is doubtful."""
    problems: list[Problem] = []
    rates = {row.component_id: row.replaced_rate for row in dataset.components}
    latest: dict[tuple[str, int, str, str], tuple[date, int, Sighting, Place]] = {}
    placed: dict[tuple[str, str], Place] = {}  # one serial is often seen with several components
    for number, row in enumerate(dataset.sightings):
        if row.retracted or not _WORN.isdisjoint(row.serial):
            continue
        stamped = (row.series_id, row.serial)
        try:
            where = placed[stamped] if stamped in placed else find(lines, *stamped)
        except DataError as error:
            problems.append(Problem("sightings", row.sighting_id, "serial", error.problem, error.remedy, "doubt"))
            continue
        placed[stamped] = where
        key = (where.line.line_id, where.order, row.component_id, row.place or "")
        entry = (_seen_on(row), number, row, where)
        if key not in latest or latest[key][:2] < entry[:2]:
            latest[key] = entry
    known: dict[tuple[str, str], set[int]] = defaultdict(set)
    for line_id, order, component_id, _ in latest:
        known[line_id, component_id].add(order)
    chosen: dict[tuple[str, str], list[Sighted]] = defaultdict(list)
    for _, _, row, where in sorted(latest.values(), key=lambda entry: entry[1]):
        if row.original == "replaced":
            continue
        try:
            likelihood = _likelihood(row, mark_likelihood)
        except DataError as error:
            problems.append(Problem("sightings", row.sighting_id, "mark_read", error.problem, error.remedy, "doubt"))
            continue
        rate = rates.get(row.component_id)
        if row.original == "believed":
            rate = assumptions.replaced_when_believed_original
        assumed = rate is None
        rate = assumptions.replaced_when_unknown if rate is None else rate
        chosen[where.line.line_id, row.component_id].append(Sighted(row.sighting_id, row.component_id, where, likelihood, rate, assumed))
    return chosen, known, problems


def _seen_on(row: "Sighting") -> date:
    return edtf.parse(row.seen_on).last if row.seen_on else date.min


def _likelihood(row: "Sighting", mark_likelihood: MarkLikelihood) -> Mapping[str, float]:
    if row.variant_id:
        return {row.variant_id: 1.0}
    return mark_likelihood(row.component_id, row.mark_read) if row.mark_read else {}
