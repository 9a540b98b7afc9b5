"""Everything that a dataset says about production: lines, change-overs, and what was built into which unit.

Puts the modules of this room together; the only one that goes through a whole dataset. Rules: docs/model.md, sections 2, 5 and 6.
"""

import gc
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from kb.assumptions import Assumptions
from kb.probability.production.cells import Cells, Estimated
from kb.probability.production.chain import Chain
from kb.probability.production.changeovers import Posterior, estimate
from kb.probability.production.claims import Orders
from kb.probability.production.credible_interval import Standing, bracket, replaced, standing
from kb.probability.production.layout import Lines
from kb.probability.production.lineages import Lineage, draw_up
from kb.probability.production.linecells import cells_of_lines
from kb.probability.production.next_sighting import Outcomes, seek
from kb.probability.production.rates import Rate, Witnesses, replaced_rate
from kb.probability.production.select_sightings import Counted, MarkLikelihood, count, select, service_shares
from kb.probability.production.serial_lookup import Problem, lay_out

if TYPE_CHECKING:
    from kb.words.dataset import Dataset


SAME = 12  # decimals of probabilities by which lists are sorted; what differs by less stands by its id


@dataclass(frozen=True)
class StandingClaim:
    """How a breakpoint compares with everything known; `probability`: P(the change-over was as it says)."""

    breakpoint_id: str
    standing: Standing
    probability: float


@dataclass(frozen=True)
class ChangeOver:
    """What is known about one change-over. Orders are among the units concerned; serials are in normal form, "" is "not yet changed".

    `mixed`: (width, probability). `odd`: (sighting_id, P(replaced)) of sightings that are probably replaced castings.
    `seek_serial`: what to look for next, None if no sighting could tell anything. Lists by falling probability.
    """

    changeover_id: str
    line_id: str
    series_id: str
    line: str
    component_id: str
    model_id: str
    old_variant_id: str
    new_variant_id: str
    units_concerned: int
    first_new: str
    first_new_order: int
    low: str
    low_order: int
    high: str
    high_order: int
    probability: float
    mixed: tuple[tuple[int, float], ...]
    claims: tuple[StandingClaim, ...]
    sightings: int
    odd: tuple[tuple[str, float], ...]
    seek_serial: str | None
    seek_gain_bits: float
    both_to: str | None  # old and new were fitted side by side from first_new to this serial, where that is more likely than not


@dataclass(frozen=True)
class Production:
    """What `derive` finds; `cells` by line_id. `rate`: how often castings were replaced, None if no sighting says."""

    lines: Lines
    lineages: tuple[Estimated, ...]
    changeovers: tuple[ChangeOver, ...]
    cells: dict[str, Cells]
    problems: tuple[Problem, ...]
    rate: Rate | None = None


def derive(dataset: "Dataset", assumptions: Assumptions, mark_likelihood: MarkLikelihood) -> Production:
    """Lay out the serials, estimate the change-overs, and cut the lines into cells.

    Args:
        dataset: all rows.
        assumptions: all constants.
        mark_likelihood: (component_id, reading) -> P(reading | variant) by variant_id, for marks read on sighted units.
    """
    with _uncollected():
        found = _change_overs(dataset, assumptions, mark_likelihood)
        problems = list(found.problems)
        cells = cells_of_lines(dataset, found.lines, found.lineages, service_shares(dataset), assumptions, problems)
        return replace(found, cells=cells, problems=tuple(dict.fromkeys(problems)))


def change_overs(dataset: "Dataset", assumptions: Assumptions, mark_likelihood: MarkLikelihood) -> Production:
    """`derive` without the cells."""
    with _uncollected():
        return _change_overs(dataset, assumptions, mark_likelihood)


@contextmanager
def _uncollected() -> Iterator[None]:
    """Nothing here has circular references, and looking for some would go through all rows of the dataset again and again."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


def _change_overs(dataset: "Dataset", assumptions: Assumptions, mark_likelihood: MarkLikelihood) -> Production:
    lines, problems = lay_out(dataset)
    lineages, of_lineages = draw_up(dataset, lines, assumptions)
    sighted, known, of_sightings = select(dataset, lines, assumptions, mark_likelihood)
    problems += of_lineages + of_sightings
    service = service_shares(dataset)
    rates = {row.component_id: row.replaced_rate for row in dataset.components}
    estimated, changeovers, witnesses = [], [], []
    for lineage in lineages:
        rate = rates.get(lineage.component_id)
        unknown = assumptions.replaced_when_unknown if rate is None else rate
        shares = service.get(lineage.component_id, {})
        counted = count(lineage, sighted.get((lineage.line_id, lineage.component_id), ()), shares)
        seen_already = known.get((lineage.line_id, lineage.component_id), ())
        found, changes = _estimate(lineage, counted, seen_already, shares, unknown, assumptions)
        if found.chain is not None and len(found.chain) == 1:
            witnesses.append(_witnesses(counted, found.chain.marginal(0)))
        estimated.append(found)
        changeovers += changes
    told = replaced_rate(witnesses, assumptions.replaced_when_unknown, assumptions.interval_mass)
    return Production(lines, tuple(estimated), tuple(changeovers), {}, tuple(dict.fromkeys(problems)), told)


def _witnesses(counted: Counted, posterior: Posterior) -> Witnesses:
    """What the sightings with an assumed rate say about it, for a lineage of one change-over."""
    telling = counted.assumed
    old, new = counted.likelihood[telling].T
    return Witnesses(posterior, counted.order[telling].astype(np.float64), old, new, counted.by_chance[telling])


def _estimate(
    lineage: Lineage, counted: Counted, known: Sequence[int], service: Mapping[str, float], unknown: float, assumptions: Assumptions
) -> tuple[Estimated, list[ChangeOver]]:
    """Estimate the change-overs of one lineage. `known`: orders of its line seen already. `unknown`: P(replaced) if the originality is unknown."""
    if not lineage.changes:
        return Estimated(lineage, None), []
    units, of_change = lineage.concerned.count, counted.of_change
    posteriors = [estimate(units, change.claims, of_change[k], change.widths, assumptions) for k, change in enumerate(lineage.changes)]
    chain = Chain(posteriors)
    seen_already = lineage.concerned.held(np.array(sorted(set(known)), dtype=np.int64))
    changes = [_change_over(lineage, k, chain, counted, seen_already, service, unknown, assumptions) for k in range(len(chain))]
    return Estimated(lineage, chain, of_change), changes


def _change_over(
    lineage: Lineage, k: int, chain: Chain, counted: Counted, known: Orders, service: Mapping[str, float], unknown: float, assumptions: Assumptions
) -> ChangeOver:
    change, concerned = lineage.changes[k], lineage.concerned
    posterior = chain.marginal(k)
    found = bracket(posterior, assumptions)
    claims = [
        StandingClaim(each.breakpoint_id, *standing(posterior, each.claim, found, assumptions)) for each in change.stated if each.claim
    ]
    doubts = replaced(posterior, counted.of_change[k])
    odd = [(counted.sighted[at].sighting_id, float(doubts[at])) for at in np.flatnonzero(doubts > assumptions.odd_at).tolist()]
    mixed = zip(posterior.widths.tolist(), posterior.of_widths().tolist(), strict=True)
    old, new = (sum(service.get(each, 0.0) for each in part) for part in (lineage.variants[: k + 1], lineage.variants[k + 1 :]))
    sought = seek(posterior, Outcomes(unknown, old, new), lineage.covered(), known)
    return ChangeOver(
        changeover_id="|".join((lineage.line_id, lineage.component_id, lineage.model_id, change.old, change.new)),
        line_id=lineage.line_id,
        series_id=concerned.line.series_id,
        line=concerned.line.line,
        component_id=lineage.component_id,
        model_id=lineage.model_id,
        old_variant_id=change.old,
        new_variant_id=change.new,
        units_concerned=concerned.count,
        first_new=concerned.serial(found.first_new),
        first_new_order=found.first_new,
        low=concerned.serial(found.low),
        low_order=found.low,
        high=concerned.serial(found.high),
        high_order=found.high,
        probability=found.probability,
        mixed=tuple(sorted(mixed, key=lambda each: (-round(each[1], SAME), each[0]))),
        claims=tuple(sorted(claims, key=lambda each: (-round(each.probability, SAME), each.breakpoint_id))),
        sightings=len(counted.sighted),
        odd=tuple(sorted(odd, key=lambda each: (-round(each[1], SAME), each[0]))),
        seek_serial=concerned.serial(sought.order) if sought else None,
        seek_gain_bits=sought.gain_bits if sought else 0.0,
        both_to=_both_to(lineage, posterior, found.first_new, assumptions),
    )


def _both_to(lineage: Lineage, posterior: Posterior, first_new: int, assumptions: Assumptions) -> str | None:
    """The last serial of the mixed stretch of the likeliest length, if that there was one is more likely than not."""
    chances = dict(zip(posterior.widths.tolist(), posterior.of_widths().tolist(), strict=True))
    at_once = chances.pop(0, 0.0)
    if not chances or at_once >= 1 - assumptions.side_by_side_at or first_new >= posterior.n:
        return None
    width = max(chances, key=lambda each: (chances[each], -each))
    return lineage.concerned.serial(min(first_new + width, posterior.n) - 1)
