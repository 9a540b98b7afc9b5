"""One change-over in full: the weight of each claim and each sighting, and what the sighting to look for would make of it.

The file holds what the build found; here the same evidence is weighed again, piece by piece, under the assumptions of the build.
"""

import json
from collections.abc import Mapping
from dataclasses import fields
from functools import cached_property
from typing import Any

import numpy as np

from kb.assumptions import Assumptions
from kb.probability.production.chain import Chain
from kb.probability.production.changeovers import Posterior, estimate
from kb.probability.production.copied_claims import Copies
from kb.probability.production.credible_interval import bracket, replaced
from kb.probability.production.evidence_weights import claim_weights, sighting_weights
from kb.probability.production.layout import find
from kb.probability.production.lineages import Lineage, draw_up
from kb.probability.production.select_sightings import Sighted, count, select, service_shares
from kb.probability.production.sightings import Seen, Sightings
from kb.store.book import Book
from kb.store.changeovers import dataset_of
from kb.store.texts import MarkLikelihoods
from kb.words.answers.review import ChangeOver, Seek, SeekOutcome, SightingEntry


def built_under(book: Book) -> Assumptions:
    """The assumptions that the file was built with."""
    usual = Assumptions()
    stored: dict[str, Any] = json.loads(book.info["assumptions"])
    known = {each.name for each in fields(Assumptions)}
    values = {}
    for name, value in stored.items():
        default = getattr(usual, name, None)
        if name in known and isinstance(default, Mapping):  # JSON knows no numbers as keys
            kind = type(next(iter(default), ""))
            value = {kind(key): number for key, number in value.items()}
        if name in known and value != default:
            values[name] = value
    return usual.override(**values)


class ChangeOverDetail:
    """The evidence about one component in one series, as the build used it."""

    def __init__(self, book: Book, series: str, component: str) -> None:
        self.book, self.component = book, component
        self.assumptions = built_under(book)
        self._rows = rows = dataset_of(book, series, component)
        self._copies = Copies(rows.sources, self.assumptions)
        self._source_of = {row.breakpoint_id: row.source_id for row in rows.breakpoints}
        self._sightings = {row.sighting_id: row for row in rows.sightings}
        lineages, _ = draw_up(rows, book.lines, self.assumptions)
        self._lineages = {_id(lineage, k): (lineage, k) for lineage in lineages for k in range(len(lineage.changes))}
        self._sighted, _, _ = select(rows, book.lines, self.assumptions, self._likelihood)
        self._service = service_shares(rows).get(component, {})
        rate = book.components[component].replaced_rate
        self._unknown = self.assumptions.replaced_when_unknown if rate is None else rate

    def _likelihood(self, component: str, reading: str) -> Mapping[str, float]:
        return self._of_marks(component, reading)

    @cached_property
    def _of_marks(self) -> MarkLikelihoods:
        return MarkLikelihoods(self._rows, self.book.text_models["mark"], self.assumptions)

    def in_full(self, changeover_id: str, found: ChangeOver) -> ChangeOver:
        """The same change-over with the weights of all claims and sightings and with what the next sighting would mean."""
        lineage, k = self._lineages[changeover_id]
        counted = count(lineage, self._sighted.get((lineage.line_id, self.component), ()), self._service)
        of_change, units = counted.of_change, lineage.concerned.count
        singles = [estimate(units, c.claims, of_change[i], c.widths, self.assumptions) for i, c in enumerate(lineage.changes)]
        posterior = Chain(singles).marginal(k)
        where = bracket(posterior, self.assumptions)
        stated = [each for each in lineage.changes[k].stated if each.claim is not None]
        made = [(each.breakpoint_id, self._source_of[each.breakpoint_id], each.claim) for each in stated if each.claim is not None]
        by_claim = claim_weights(
            made, {each.breakpoint_id: each.width for each in stated}, self._copies, of_change, singles, k, where, self.assumptions
        )
        weights = sighting_weights(posterior, of_change[k], where)
        doubts = replaced(posterior, of_change[k])
        speaks = np.sign(of_change[k].at_new - of_change[k].at_old)
        entries = [self._entry(*of) for of in zip(counted.sighted, speaks.tolist(), weights.tolist(), doubts.tolist(), strict=True)]
        return found.model_copy(
            update={
                "claims": [claim.model_copy(update={"weight_bits": by_claim.get(claim.breakpoint_id)}) for claim in found.claims],
                "weighed": sorted(entries, key=lambda each: (-abs(each.weight_bits), each.sighting_id)),
                "seek": self._seek(lineage, k, found.seek, singles, of_change[k], posterior),
            }
        )

    def _entry(self, each: Sighted, speaks: float, weight: float, doubt: float) -> SightingEntry:
        row = self._sightings[each.sighting_id]
        return SightingEntry(
            sighting_id=each.sighting_id,
            serial=each.where.line.serial(each.where.order),
            saw=self.book.variants[row.variant_id].name if row.variant_id else row.mark_read or "",
            speaks_for="old" if speaks < 0 else "new" if speaks > 0 else "neither",
            original=row.original,
            source=row.source_id or "",
            weight_bits=weight,
            replaced=doubt,
        )

    def _seek(self, lineage: Lineage, k: int, sought: Seek | None, singles: list[Posterior], seen: Sightings, posterior: Posterior) -> Seek | None:
        """With what either casting on that unit would mean for the stretch."""
        if sought is None:
            return None
        concerned, change, rate = lineage.concerned, lineage.changes[k], self._unknown
        order = concerned.order(find(self.book.lines, concerned.line.series_id, sought.serial).order)
        passed = float(posterior.passed(np.array([order]))[0])
        outcomes = []
        for outcome, built, variants in (("old", 1 - passed, lineage.variants[: k + 1]), ("new", passed, lineage.variants[k + 1 :])):
            by_chance = rate * sum(self._service.get(each, 0.0) for each in variants)
            at = (1 - rate + by_chance, by_chance)
            more = Seen(order, *(at if outcome == "old" else at[::-1]), by_chance)
            single = estimate(concerned.count, change.claims, seen.joined(more), change.widths, self.assumptions)
            then = bracket(Chain([*singles[:k], single, *singles[k + 1 :]]).marginal(k), self.assumptions)
            low, high = concerned.serial(then.low), concerned.serial(then.high)
            outcomes.append(SeekOutcome(outcome=outcome, probability=(1 - rate) * built + by_chance, low=low, high=high))
        return sought.model_copy(update={"outcomes": outcomes})


def _id(lineage: Lineage, k: int) -> str:
    change = lineage.changes[k]
    return "|".join((lineage.line_id, lineage.component_id, lineage.model_id, change.old, change.new))
