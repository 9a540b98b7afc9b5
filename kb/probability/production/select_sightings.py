"""Sighted units: which of the recorded sightings estimate change-overs, and what each says about the variants.

Only whole serials that are in some line count, and only the latest sighting of each serial, component and place; if that one calls the casting
replaced, nothing earlier counts either. Rules: docs/model.md, section 5.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from operator import itemgetter
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.probability.production.claims import Floats, Orders
from kb.probability.production.layout import Lines, SerialPlace, find
from kb.probability.production.lineages import Lineage
from kb.probability.production.serial_lookup import Problem
from kb.probability.production.sightings import Sightings
from kb.words import edtf
from kb.words.errors import DataError

if TYPE_CHECKING:
    from kb.words.dataset import Dataset
    from kb.words.records import Sighting

_WORN = frozenset("?[]*")
MarkLikelihood = Callable[[str, str], Mapping[str, float]]


class Sighted(NamedTuple):
    """One sighting that counts. `likelihood`: P(what was seen | variant), 0 where it is not listed. `rate`: P(replaced).

    `assumed`: nothing says whether it is the original, and its component has no recorded rate, so the rate is assumed.
    """

    sighting_id: str
    component_id: str
    where: SerialPlace
    likelihood: Mapping[str, float]
    rate: float
    assumed: bool = False


@dataclass(frozen=True)
class Counted:
    """The sightings that count for one lineage, by rising order, and what they say about its change-overs.

    Attributes:
        sighted: S of them.
        order: shape (S,), among the units concerned.
        likelihood: shape (S, variants of the lineage), P(what was seen | variant).
        by_chance: shape (S,), P(what was seen | a replacement, whichever variant it is).
        of_change: for each change-over, what all of them say.
    """

    sighted: tuple[Sighted, ...]
    order: Orders
    likelihood: Floats
    by_chance: Floats
    of_change: tuple[Sightings, ...]

    @property
    def assumed(self) -> NDArray[np.bool_]:
        """Shape (S,), whose rate of replacement is assumed."""
        return np.array([each.assumed for each in self.sighted], dtype=np.bool_)


def count(lineage: Lineage, of_line: Sequence[Sighted], service: Mapping[str, float]) -> Counted:
    """Those of a line and component that count for a lineage.

    A sighting counts if its block is covered and if what it saw is possible at all, as built or as a replacement; otherwise it says nothing.

    Args:
        lineage: of the line and component.
        of_line: all of them.
        service: share of each variant among replacements.
    """
    blocks = {index for index in lineage.concerned.blocks if lineage.covers(lineage.concerned.line.blocks[index])}
    weighed: dict[int, tuple[list[float], float]] = {}  # by the likelihood itself: many saw the same
    kept = []
    for each in of_line:
        if each.where.block_index in blocks:
            seen = id(each.likelihood)
            if seen not in weighed:
                by_chance = sum(share * each.likelihood.get(variant_id, 0.0) for variant_id, share in service.items())
                weighed[seen] = [each.likelihood.get(variant_id, 0.0) for variant_id in lineage.variants], by_chance
            if weighed[seen][1] > 0 or any(weighed[seen][0]):
                kept.append((each.where.order, each, *weighed[seen]))
    kept.sort(key=itemgetter(0))
    order = lineage.concerned.orders(np.array([each[0] for each in kept], dtype=np.int64))
    likelihood: Floats = np.array([each[2] for each in kept], dtype=np.float64).reshape(len(kept), len(lineage.variants))
    by_chance_of: Floats = np.array([each[3] for each in kept], dtype=np.float64)
    rate: Floats = np.array([each[1].rate for each in kept], dtype=np.float64)
    replaced = rate * by_chance_of
    at_old = (1 - rate)[:, None] * np.maximum.accumulate(likelihood, axis=1) + replaced[:, None]  # of the variants up to each
    at_new = (1 - rate)[:, None] * np.maximum.accumulate(likelihood[:, ::-1], axis=1)[:, ::-1] + replaced[:, None]  # from each on
    of_change = tuple(Sightings(order, at_old[:, k], at_new[:, k + 1], replaced) for k in range(len(lineage.changes)))
    return Counted(tuple(each[1] for each in kept), order, likelihood, by_chance_of, of_change)


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
) -> tuple[dict[tuple[str, str], list[Sighted]], dict[tuple[str, str], list[int]], list[Problem]]:
    """The sightings that count, by (line_id, component_id) and then in file order; the orders of which there is any; and what is doubtful."""
    problems: list[Problem] = []
    latest: dict[tuple[str, int, str, str], tuple[int, Sighting, SerialPlace]] = {}
    placed: dict[tuple[str, str], SerialPlace] = {}  # one serial is often seen with several components
    for number, row in enumerate(dataset.sightings):
        serial = row.serial
        if row.retracted or not _WORN.isdisjoint(serial):
            continue
        where = placed.get((row.series_id, serial))
        if where is None:
            try:
                where = placed[row.series_id, serial] = find(lines, row.series_id, serial)
            except DataError as error:
                problems.append(Problem("sightings", row.sighting_id, "serial", error.problem, error.remedy, "doubt"))
                continue
        key = (where.line.line_id, where.order, row.component_id, row.place or "")
        before = latest.setdefault(key, (number, row, where))
        if before[0] != number and _seen_on(row) >= _seen_on(before[1]):
            latest[key] = (number, row, where)
    known: dict[tuple[str, str], list[int]] = defaultdict(list)
    for line_id, order, component_id, _ in latest:
        known[line_id, component_id].append(order)
    rates = {row.component_id: row.replaced_rate for row in dataset.components}
    certain: dict[str, Mapping[str, float]] = {}  # one for each variant, however many saw it
    chosen: dict[tuple[str, str], list[Sighted]] = defaultdict(list)
    for _, row, where in sorted(latest.values(), key=itemgetter(0)):
        if row.original == "replaced":
            continue
        if row.variant_id:
            likelihood = certain.setdefault(row.variant_id, {row.variant_id: 1.0})
        else:
            try:
                likelihood = mark_likelihood(row.component_id, row.mark_read) if row.mark_read else {}
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
