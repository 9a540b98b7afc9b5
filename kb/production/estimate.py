"""Everything that a dataset says about production: lines, change-overs, and what was built into which unit.

Composes the modules of this room; the only one that walks a whole dataset. Rules: docs/model.md, sections 2, 5 and 6.
"""

import gc
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kb.assumptions import Assumptions
from kb.production.brackets import Standing, bracket, replaced, standing
from kb.production.cells import Cells, Contents, Estimated, Offered, cells_of
from kb.production.chain import Chain
from kb.production.changeovers import Posterior, estimate
from kb.production.claims import Orders
from kb.production.limits import stretches
from kb.production.lineages import Lineage, draw_up
from kb.production.places import Lines
from kb.production.rates import Rate, Witnesses, replaced_rate
from kb.production.seek import Outcomes, seek
from kb.production.serials import Problem, lay_out
from kb.production.sighted import MarkLikelihood, Sighted, select, service_shares
from kb.production.sightings import Seen, Sightings
from kb.words.errors import DataError

if TYPE_CHECKING:
    from kb.words.dataset import Dataset
    from kb.words.records import Fitment, Step, Supersession

    Limited = Fitment | Supersession | Step


@dataclass(frozen=True)
class StandingClaim:
    """How a breakpoint stands to all that is known; `probability`: P(the change-over was as it says)."""

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
    """What `derive` finds; `cells` by line_id. `rate`: how often castings were replaced, None if no sighting tells."""

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
        return _derive(dataset, assumptions, mark_likelihood)


@contextmanager
def _uncollected() -> Iterator[None]:
    """Nothing here refers to itself in a circle, and looking for circles would walk through all rows of the dataset again and again."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


def _derive(dataset: "Dataset", assumptions: Assumptions, mark_likelihood: MarkLikelihood) -> Production:
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
        of_line = sighted.get((lineage.line_id, lineage.component_id), [])
        covered = [each for each in of_line if lineage.covers(each.where.line.blocks[each.where.block_index]) and each.possible(lineage, shares)]
        seen_already = known.get((lineage.line_id, lineage.component_id), set())
        found, changes = _estimate(lineage, covered, seen_already, shares, unknown, assumptions)
        if found.chain is not None and len(found.chain) == 1:
            witnesses.append(_witnesses(lineage, covered, shares, found.chain.marginal(0)))
        estimated.append(found)
        changeovers += changes
    cells = _cells(dataset, lines, estimated, service, assumptions, problems)
    told = replaced_rate(witnesses, assumptions.replaced_when_unknown, assumptions.interval_mass)
    return Production(lines, tuple(estimated), tuple(changeovers), cells, tuple(dict.fromkeys(problems)), told)


def _witnesses(lineage: Lineage, sighted: Sequence[Sighted], service: Mapping[str, float], posterior: Posterior) -> Witnesses:
    """What the sightings whose rate is assumed say of it, for a lineage of one change-over."""
    telling = [each for each in sighted if each.assumed]
    order = lineage.concerned.orders(np.array([each.where.order for each in telling], dtype=np.int64))
    columns = [
        np.array([each.likelihood.get(variant_id, 0.0) for each in telling], dtype=np.float64) for variant_id in lineage.variants
    ]
    share = [sum(g * each.likelihood.get(variant_id, 0.0) for variant_id, g in service.items()) for each in telling]
    return Witnesses(posterior, order.astype(np.float64), columns[0], columns[1], np.array(share, dtype=np.float64))


def _estimate(
    lineage: Lineage, sighted: Sequence[Sighted], known: Collection[int], service: Mapping[str, float], unknown: float, assumptions: Assumptions
) -> tuple[Estimated, list[ChangeOver]]:
    """Estimate the change-overs of one lineage. `known`: orders of its line seen already. `unknown`: P(replaced) where nobody says."""
    if not lineage.changes:
        return Estimated(lineage, None), []
    sighted = sorted(sighted, key=lambda each: each.where.order)
    orders = lineage.concerned.orders(np.array([each.where.order for each in sighted], dtype=np.int64)).tolist()
    seen = [each.seen(lineage, service, order) for each, order in zip(sighted, orders, strict=True)]
    count = lineage.concerned.count
    of_change = [Sightings(row[k] for row in seen) for k in range(len(lineage.changes))]
    posteriors = [estimate(count, change.claims, of_change[k], change.widths, assumptions) for k, change in enumerate(lineage.changes)]
    chain = Chain(posteriors)
    own = _own(seen, of_change)
    seen_already = lineage.concerned.held(np.array(sorted(known), dtype=np.int64))
    changes = [_change_over(lineage, k, chain, of_change[k], sighted, seen_already, service, unknown, assumptions) for k in range(len(chain))]
    return Estimated(lineage, chain, own), changes


def _own(seen: Sequence[Sequence[Seen]], of_change: Sequence[Sightings]) -> dict[int, tuple[tuple[tuple[float, ...], tuple[float, ...]], ...]]:
    """By order, for every sighting there, what it added to each change-over: P(seen | old), P(seen | new)."""
    own: dict[int, list[tuple[tuple[float, ...], tuple[float, ...]]]] = defaultdict(list)
    old, new = (np.column_stack([getattr(each, name) for each in of_change]).tolist() for name in ("at_old", "at_new"))
    for at, row in enumerate(seen):
        own[row[0].order].append((tuple(old[at]), tuple(new[at])))
    return {order: tuple(entries) for order, entries in own.items()}


def _change_over(
    lineage: Lineage, k: int, chain: Chain, sightings: Sightings, sighted: Sequence[Sighted], known: Orders,
    service: Mapping[str, float], unknown: float, assumptions: Assumptions,
) -> ChangeOver:  # fmt: skip
    change, concerned = lineage.changes[k], lineage.concerned
    posterior = chain.marginal(k)
    found = bracket(posterior, assumptions)
    claims = [
        StandingClaim(each.breakpoint_id, *standing(posterior, each.claim, found, assumptions)) for each in change.stated if each.claim
    ]
    doubts = replaced(posterior, sightings)
    odd = [(each.sighting_id, float(p)) for each, p in zip(sighted, doubts, strict=True) if p > assumptions.odd_at]
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
        mixed=tuple(sorted(mixed, key=lambda each: (-each[1], each[0]))),
        claims=tuple(sorted(claims, key=lambda each: (-each.probability, each.breakpoint_id))),
        sightings=len(sighted),
        odd=tuple(sorted(odd, key=lambda each: (-each[1], each[0]))),
        seek_serial=concerned.serial(sought.order) if sought else None,
        seek_gain_bits=sought.gain_bits if sought else 0.0,
        both_to=_both_to(lineage, posterior, found.first_new),
    )


def _both_to(lineage: Lineage, posterior: Posterior, first_new: int) -> str | None:
    """The last serial of the mixed stretch of the likeliest length, if that there was one is more likely than not."""
    chances = dict(zip(posterior.widths.tolist(), posterior.of_widths().tolist(), strict=True))
    at_once = chances.pop(0, 0.0)
    if not chances or at_once >= 0.5 or first_new >= posterior.n:
        return None
    width = max(chances, key=lambda each: (chances[each], -each))
    return lineage.concerned.serial(min(first_new + width, posterior.n) - 1)


def _cells(
    dataset: "Dataset", lines: Lines, estimated: Sequence[Estimated], service: Mapping[str, Mapping[str, float]],
    assumptions: Assumptions, problems: list[Problem],
) -> dict[str, Cells]:  # fmt: skip
    """The cells of all lines: a line of units carries all components of its maker; a line of a component's own numbers
    those of its assembly that change by such numbers.
    """
    variants: dict[str, tuple[str, ...]] = defaultdict(tuple)
    for row in dataset.variants:
        variants[row.component_id] += (row.variant_id,)
    by_line: dict[tuple[str, str], dict[str, Estimated]] = defaultdict(dict)
    for each in estimated:
        by_line[each.lineage.line_id, each.lineage.component_id][each.lineage.model_id] = each
    options = _options(dataset, lines, problems)
    cuts = _cuts(dataset, lines)
    series = {row.series_id: row for row in dataset.series}
    changing = {row.component_id for row in dataset.breakpoints if not row.retracted}
    in_own = {row.component_id for row in dataset.breakpoints if not row.retracted and series[row.series_id].component_id}
    assembly = {row.component_id: (row.maker_id, row.assembly) for row in dataset.components}
    cells = {}
    for line in lines:
        numbered = series[line.series_id].component_id
        if numbered:
            carried = [c for c in assembly if c in in_own and assembly[c] == assembly.get(numbered)]
        else:
            carried = [c for c, (maker_id, _) in assembly.items() if maker_id == series[line.series_id].maker_id]
        contents = [
            Contents(c, variants[c], by_line.get((line.line_id, c), {}), c in changing, service.get(c, {}), options.get((line.line_id, c), ()))
            for c in carried
        ]
        cells[line.line_id] = cells_of(line, contents, cuts[line.line_id], assumptions.cell_tolerance)
        problems += _too_many(contents, cells[line.line_id])
    return cells


def _options(dataset: "Dataset", lines: Lines, problems: list[Problem]) -> dict[tuple[str, str], list[Offered]]:
    """By (line_id, component_id)."""
    options: dict[tuple[str, str], list[Offered]] = defaultdict(list)
    for row in dataset.options:
        try:
            limits = stretches(lines, row.series_id, row.serial_from, row.serial_to)
        except DataError as error:
            problems.append(Problem("options", row.option_id, "serial_from" if row.serial_from else "serial_to", error.problem, error.remedy))
            continue
        for line_id, stretch in limits.items():
            options[line_id, row.component_id].append(Offered(row.option_id, row.variant_id, row.share, row.model_id, stretch))
    return options


def _too_many(contents: Sequence[Contents], cells: Cells) -> list[Problem]:
    """Options that take more than all units of a model somewhere."""
    found = []
    for component in contents:
        for model_id in cells.models:
            open_here = [option for option in component.options if option.model_id in (None, model_id)]
            for low in {option.stretch.low for option in open_here}:
                there = [option for option in open_here if option.stretch.low <= low <= option.stretch.high]
                if sum(option.share for option in there) > 1 + 1e-9:
                    names = ", ".join(option.option_id for option in there)
                    problem = f"The shares of {names} make more than 1 of the same units; they count in proportion."
                    found.append(Problem("options", there[-1].option_id, "share", problem, "Correct a share or a limit.", "doubt"))
    return found


def _cuts(dataset: "Dataset", lines: Lines) -> dict[str, set[int]]:
    """By line_id, the limits of fitments, supersessions and steps; what stands nowhere is reported by the rules of the dataset."""
    cuts: dict[str, set[int]] = defaultdict(set)
    rows: tuple[Limited, ...] = (
        *(fitment for fitment in dataset.fitments if not fitment.retracted),
        *(supersession for supersession in dataset.supersessions if not supersession.retracted),
        *dataset.steps,
    )
    for row in rows:
        if row.serial_from is None and row.serial_to is None:
            continue
        try:
            limits = stretches(lines, row.series_id, row.serial_from, row.serial_to)
        except DataError:
            continue
        for line_id, stretch in limits.items():
            cuts[line_id] |= {stretch.low, stretch.high + 1}
    return cuts
