"""Cells: stretches of serials that count alike, and what was built into them.

A line is cut where P(as built) can jump and then until it changes by at most the tolerance between the two ends of a cell; inside,
every serial has the average of the ends. Rules: docs/model.md, sections 6 and 8.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kb.probability.production.blocks import Line
from kb.probability.production.chain import Chain, Without
from kb.probability.production.claims import Floats, Orders
from kb.probability.production.limits import OrderRange
from kb.probability.production.lineages import Lineage
from kb.probability.production.sightings import Sightings
from kb.words.applicability import Applicability

ROUNDING = 1e-12  # numeric: smaller differences in P(as built) do not count
PARTS = 8  # parts into which a stretch is divided to find where it changes


@dataclass(frozen=True)
class Estimated:
    """A lineage with the joint posterior of its change-overs; `sightings`: by change-over, all that were seen."""

    lineage: Lineage
    chain: Chain | None
    sightings: Sequence[Sightings] = ()

    @property
    def seen(self) -> Orders:
        """The orders, rising, of units that have themselves been sighted."""
        return np.unique(self.sightings[0].order) if self.sightings else np.zeros(0, dtype=np.int64)

    def stage(self, orders: Orders, leave_out_own: bool = False) -> Floats:
        """P(the unit has variant k of the lineage or a later one), k = 0..K; 0 before its start. Shape (orders, K + 1).

        Args:
            orders: among the units concerned.
            leave_out_own: all of them are in `seen`, and what was seen on each does not count for it.
        """
        begun: Floats = (orders >= self.lineage.start_order)[:, None].astype(np.float64)
        return begun * self.chain.stage(orders, self._without(orders) if leave_out_own else None) if self.chain else begun

    def _without(self, orders: Orders) -> Without:
        """Their own sightings; several of one unit side by side."""
        everything = self.sightings[0].order
        start, stop = everything.searchsorted(orders, side="left"), everything.searchsorted(orders, side="right")
        at = start[:, None] + np.arange(int((stop - start).max(initial=1)))
        inside, at = at < stop[:, None], np.minimum(at, len(everything) - 1)
        old, new = (np.stack([np.where(inside, getattr(each, name)[at], 1.0) for each in self.sightings], axis=2) for name in ("at_old", "at_new"))
        return Without(old, new)


@dataclass(frozen=True)
class Offered:
    """An option: a share of the units it applies to, and which orders of one line those are."""

    option_id: str
    variant_id: str
    share: float
    applies: Applicability
    orders: OrderRange


@dataclass(frozen=True)
class Contents:
    """What is recorded about one component, as far as it concerns one line.

    Attributes:
        variants: all of them, in file order.
        lineages: by model_id; "" is the general one. A model without its own has the general one, a model without any is unrecorded.
        elsewhere: whether the component has a lineage in any line; if not, `service` says what is fitted.
        options: those of this line.
    """

    component_id: str
    variants: tuple[str, ...]
    lineages: Mapping[str, Estimated]
    elsewhere: bool
    service: Mapping[str, float]
    options: Sequence[Offered] = ()

    def lineage_of(self, model_id: str) -> Estimated | None:
        """The lineage that governs a model."""
        return self.lineages.get(model_id) or self.lineages.get("")


@dataclass(frozen=True)
class Cells:
    """The cells of a line, by block, number and model.

    Attributes:
        models: model_ids; "" is no model.
        block, model: shape (cells,), index of the block in the line, index in `models`.
        first, last: shape (cells,), numbers, both included.
        units: shape (cells,), how many units of that model.
        as_built: by component_id, its variants and P(as built), shape (cells, variants + 1); the last column is what is not recorded.
    """

    line_id: str
    models: tuple[str, ...]
    block: NDArray[np.int32]
    model: NDArray[np.int32]
    first: Orders
    last: Orders
    units: Floats
    as_built: dict[str, tuple[tuple[str, ...], Floats]]


def cells_of(line: Line, components: Sequence[Contents], cuts: Iterable[int], tolerance: float) -> Cells:
    """Cut a line and say what was built into each cell.

    Args:
        line: the line.
        components: those that its units carry.
        cuts: orders at which a cell has to begin.
        tolerance: by how much P(as built) may change in a cell; 0: not at all.
    """
    base = np.array(sorted({*line.starts[:-1], *(cut for cut in cuts if 0 <= cut < line.count), *_own_cuts(components, line)}), dtype=np.int64)
    starts = {*base.tolist()}
    for component in components:
        for estimated in component.lineages.values():
            starts.update(_changes(estimated, line, base, tolerance))
    low = np.array(sorted(starts), dtype=np.int64)
    high = np.append(low[1:], line.count) - 1
    models = tuple(dict.fromkeys(model_id for block in line.blocks for model_id, _ in block.models))
    index = {model_id: number for number, model_id in enumerate(models)}
    block_of = np.searchsorted(np.array(line.starts), low, side="right") - 1
    rows = [
        (stretch, block, index[model_id], (high[stretch] - low[stretch] + 1) / line.blocks[block].count * units)
        for stretch, block in enumerate(block_of.tolist())
        for model_id, units in line.blocks[block].models
    ]
    stretch = np.array([row[0] for row in rows], dtype=np.int64)
    block = np.array([row[1] for row in rows], dtype=np.int32)
    model = np.array([row[2] for row in rows], dtype=np.int32)
    offset = np.array([each.first for each in line.blocks], dtype=np.int64) - np.array(line.starts[:-1], dtype=np.int64)
    as_built = {each.component_id: (each.variants, _as_built(each, models, low, high, stretch, model)) for each in components}
    units = np.array([row[3] for row in rows], dtype=np.float64)
    return Cells(line.line_id, models, block, model, low[stretch] + offset[block], high[stretch] + offset[block], units, as_built)


def _own_cuts(components: Sequence[Contents], line: Line) -> set[int]:
    """Where P(as built) is known to jump: starts and claims of lineages, sighted units, limits of options."""
    cuts: set[int] = set()
    for component in components:
        for option in component.options:
            cuts |= {option.orders.low, option.orders.high + 1}
        for estimated in component.lineages.values():
            lineage = estimated.lineage
            orders = {lineage.start_order}
            orders.update(end for change in lineage.changes for claim in change.claims for end in (claim.low, claim.high + 1))
            inside = np.array(sorted(order for order in orders if order < lineage.concerned.count), dtype=np.int64)
            cuts.update(lineage.concerned.of_line(inside).tolist())
            seen = lineage.concerned.of_line(estimated.seen)
            cuts.update(seen.tolist(), (seen + 1).tolist())
    return {cut for cut in cuts if 0 <= cut < line.count}


def _changes(estimated: Estimated, line: Line, base: Orders, tolerance: float) -> Collection[int]:
    """Orders of the line at which further cells begin so that the stages of a lineage change by no more than the tolerance inside each.

    Stages rise along the line, so what they change between two ends is the most they change inside.
    """
    concerned = estimated.lineage.concerned
    ends = np.append(base[1:], line.count) - 1
    low = concerned.orders(base)
    inside = np.flatnonzero((low < concerned.count) & (concerned.of_line(np.minimum(low, concerned.count - 1)) == base))
    low, segment = low[inside], inside
    high = low + ends[inside] - base[inside]
    at_low = estimated.stage(low)
    at_high = at_low.copy()
    at_high[high > low] = estimated.stage(high[high > low])
    most = tolerance + ROUNDING
    while (split := (np.abs(at_high - at_low).max(axis=1) > most) & (high > low)).any():
        row = np.flatnonzero(split)
        parts = np.minimum(high[row] - low[row] + 1, PARTS)
        of = np.repeat(row, parts)
        part = np.arange(len(of)) - np.repeat(np.cumsum(parts) - parts, parts)
        count, size = np.repeat(parts, parts), high[of] - low[of] + 1
        step, rest = np.divmod(size, count)
        begin = low[of] + part * step + np.minimum(part, rest)
        end = begin + step + (part < rest) - 1
        new_low = np.where((part == 0)[:, None], at_low[of], 0.0)
        new_high = np.where((part == count - 1)[:, None], at_high[of], 0.0)
        new_low[part > 0] = estimated.stage(begin[part > 0])
        new_high[part < count - 1] = estimated.stage(end[part < count - 1])
        keep = ~split
        low, high, segment = (np.concatenate(pair) for pair in ((low[keep], begin), (high[keep], end), (segment[keep], segment[of])))
        at_low, at_high = np.concatenate([at_low[keep], new_low]), np.concatenate([at_high[keep], new_high])
    divided = np.flatnonzero(np.bincount(segment, minlength=len(base))[segment] > 1)
    begins: list[int] = []
    opened: tuple[int, Floats] | None = None  # the segment and the stages with which the cell began
    for at in divided[np.argsort(low[divided], kind="stable")].tolist():
        if opened is None or opened[0] != segment[at] or np.abs(at_high[at] - opened[1]).max() > most:
            begins.append(int(low[at]))
            opened = (int(segment[at]), at_low[at])
    found: list[int] = concerned.of_line(np.array(begins, dtype=np.int64)).tolist()
    return found


def _as_built(component: Contents, models: Sequence[str], low: Orders, high: Orders, stretch: Orders, model: NDArray[np.int32]) -> Floats:
    """P(as built) of one component, shape (cells, variants + 1)."""
    column = {variant_id: number for number, variant_id in enumerate(component.variants)}
    result = np.zeros((len(stretch), len(column) + 1))
    governing = [component.lineage_of(model_id) for model_id in models]
    for estimated in {id(each): each for each in governing if each is not None}.values():
        rows = np.flatnonzero(np.array([each is estimated for each in governing])[model])
        columns = np.array([*(column[each] for each in estimated.lineage.variants), len(column)])
        result[rows[:, None], columns] = _built(estimated, low, high, stretch[rows])
    ungoverned = np.array([each is None for each in governing])[model]
    if not component.elsewhere and column:
        result[ungoverned, :-1] = [component.service[each] for each in column]
    else:
        result[ungoverned, len(column)] = 1.0
    for number, model_id in enumerate(models if component.options else ()):
        rows = np.flatnonzero(model == number)
        offered = np.zeros((len(rows), len(column)))
        for option in component.options:
            if option.applies.of_model(model_id):
                inside = (option.orders.low <= low[stretch[rows]]) & (high[stretch[rows]] <= option.orders.high)
                offered[:, column[option.variant_id]] += option.share * inside
        total = offered.sum(axis=1)
        offered /= np.maximum(total, 1.0)[:, None]
        result[rows] *= (1 - np.minimum(total, 1.0))[:, None]
        result[rows, :-1] += offered
    return result


def _built(estimated: Estimated, low: Orders, high: Orders, stretch: Orders) -> Floats:
    """P(variant of the lineage, or before its start) for some stretches: the average of both ends; shape (stretches, variants + 1)."""
    concerned = estimated.lineage.concerned
    asked = np.flatnonzero(np.bincount(stretch, minlength=len(low)))  # each once, however many models share it
    first = concerned.orders(low[asked])
    last = first + high[asked] - low[asked]
    stage = estimated.stage(first)
    wide = last > first
    stage[wide] = (stage[wide] + estimated.stage(last[wide])) / 2
    seen = np.flatnonzero(~wide & np.isin(first, estimated.seen))
    if len(seen):
        stage[seen] = estimated.stage(first[seen], leave_out_own=True)
    following = np.concatenate([stage[:, 1:], np.zeros((len(stage), 1))], axis=1)
    built = np.concatenate([stage - following, 1 - stage[:, :1]], axis=1)
    found: Floats = built[np.searchsorted(asked, stretch)]
    return found
