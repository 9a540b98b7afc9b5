"""Everything about one maker that does not depend on the question: cells of all its serials, and of the numbers its components carry."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.probability.inference.assembly import kernel
from kb.probability.production.blocks import Block
from kb.probability.production.build_time import built_days, cut_by_time
from kb.probability.production.cell_table import CellTable
from kb.store.book import Book
from kb.store.rows import ComponentRow

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class ComponentSeries:
    """The series that number one component, as seen from the units it is fitted to.

    group: (u cells,) row of `compatible`. compatible: (groups, x cells) C(x | u) of docs/model.md, section 6, rows sum to 1.
    """

    component_id: str
    x: CellTable
    group: Ints
    compatible: Floats

    def transition(self, replaced_rate: float) -> Floats:
        """(groups, x cells) P(x | u)."""
        return (1 - replaced_rate) * self.compatible + replaced_rate * self.x.share[None]


@dataclass(frozen=True)
class MarkOutcomes:
    """What may be read: the marks of a component as cast, one that nobody recorded, none at all. outcome: (outcomes, V+2) P(read | variant); the last
    two variants are the unrecorded one and that of another maker's unit."""

    as_cast: list[str]
    outcome: Floats

    @cached_property
    def names(self) -> list[str]:
        """The outcomes in words."""
        return [*self.as_cast, "another mark", "no mark"]

    @cached_property
    def alike(self) -> Floats:
        """(outcomes, V+2) the same, marks that tell exactly the same put together: hardly more outcomes than variants, and they tell as much."""
        rows, count = np.unique(self.outcome, axis=0, return_counts=True)
        return np.asarray(rows * count[:, None], dtype=np.float64)


@dataclass(frozen=True)
class MakerCells:
    """The cells of a maker's numbers. u: of its units; own: of the numbers its components carry, by assembly.

    built: component -> (cells, V+1) P(variant as built | cell), over u or over x of its assembly.
    """

    u: CellTable
    own: dict[str, ComponentSeries]
    built: Callable[[str], Floats]


class MakerModel:
    """The cells u of a maker's unit series, its components by assembly, and its own-number series by assembly."""

    def __init__(self, book: Book, maker_id: str, assumptions: Assumptions, cells: MakerCells | None = None) -> None:
        """cells: instead of the stretches within which every unit was built alike."""
        self.book, self.maker_id, self.assumptions = book, maker_id, assumptions
        self.series = [s for s in book.series.values() if s.maker_id == maker_id]
        self.components: dict[str, ComponentRow] = {c.component_id: c for c in book.components.values() if c.maker_id == maker_id}
        self.assemblies: dict[str, list[str]] = {}
        for component in self.components.values():
            self.assemblies.setdefault(component.assembly, []).append(component.component_id)
        cells = cells or self._recorded()
        self.u, self.own, self._load = cells.u, cells.own, cells.built
        self._built: dict[str, Floats] = {}
        self._told: dict[str, MarkOutcomes] = {}
        self._fitted: dict[str, tuple[float, Floats]] = {}

    def by_own_number(self, component_id: str) -> bool:
        """The component changes by the own number of its assembly, not by the serial of the unit."""
        own = self.own.get(self.components[component_id].assembly)
        return own is not None and any(self.book.as_built(line.line_id, component_id) is not None for line in own.x.lines)

    def as_built(self, component_id: str) -> Floats:
        """(cells, V+1) P(variant as built | cell): over u, or over x for a component by own number."""
        if component_id not in self._built:
            self._built[component_id] = self._load(component_id)
        return self._built[component_id]

    def fitted(self, component_id: str, replaced_rate: float) -> Floats:
        """(V+1, V+1) P(variant fitted | as built) at this rate of replacement; the last one is kept, since it is mostly the same."""
        rate, found = self._fitted.get(component_id, (None, None))
        if found is None or rate != replaced_rate:
            variants = self.book.variants_of.get(component_id, [])
            share = np.array([1.0 if v.service_share is None else v.service_share for v in variants])
            share = share / share.sum() if share.sum() else np.full(len(share), 1 / max(1, len(share)))
            found = kernel(share, replaced_rate, self.assumptions.unrecorded_variant)
            self._fitted[component_id] = (replaced_rate, found)
        return found

    def marks_told(self, component_id: str) -> "MarkOutcomes":
        """What a look at a mark of a component may show."""
        if component_id not in self._told:
            variants, marks = self.book.variants_of.get(component_id, []), self.book.marks_of(component_id)
            as_cast = {mark.normal: mark.text for mark in marks}
            row, column = ({each: i for i, each in enumerate(of)} for of in (as_cast, (v.variant_id for v in variants)))
            counts = np.zeros((len(row), len(variants) + 2))
            for mark in marks:
                counts[row[mark.normal], column[mark.variant_id]] += 1
            marked = counts.sum(0) > 0
            none = np.where(marked, self.assumptions.none_where_marked, self.assumptions.none_where_unmarked)
            none[len(variants) :] = self.assumptions.none_where_unrecorded
            told = (1 - none) * (1 - self.assumptions.another_mark) * counts / np.maximum(1.0, counts.sum(0))
            self._told[component_id] = MarkOutcomes(list(as_cast.values()), np.vstack([told, 1 - none - told.sum(0), none]))
        return self._told[component_id]

    @cached_property
    def by_time(self) -> "MakerModel":
        """The same, with cells so short that the time of a block is told apart: what casting dates are held against."""
        u, of_u = cut_by_time(self.u, self.assumptions)
        own, of_x = {}, {}
        for assembly, series in self.own.items():
            x, whole = cut_by_time(series.x, self.assumptions)
            share = x.units / series.x.units[whole]
            own[assembly], of_x[assembly] = ComponentSeries(series.component_id, x, series.group[of_u], series.compatible[:, whole] * share), whole

        def built(component_id: str) -> Floats:
            return self.as_built(component_id)[of_x[self.components[component_id].assembly] if self.by_own_number(component_id) else of_u]

        return MakerModel(self.book, self.maker_id, self.assumptions, MakerCells(u, own, built))

    def built_days(self, component_id: str) -> tuple[Ints, Ints]:
        """(cells,) first and last day, as day numbers, on which the carriers of a component may have been built; 0 where nothing says when.

        Of a model `by_time`; other cells are too long to have days.
        """
        own = self.own.get(self.components[component_id].assembly)
        return built_days(own.x if own is not None and self.by_own_number(component_id) else self.u, self.assumptions)

    @cached_property
    def places(self) -> list[tuple[str, str]]:
        """Every component place of the maker, in file order."""
        return [(c.component_id, place) for c in self.components.values() for place in c.places]

    def _recorded(self) -> MakerCells:
        """The stretches within which every unit was built alike."""
        u = _cells_of(self.book, {s.series_id for s in self.series if not s.component_id})
        own: dict[str, ComponentSeries] = {}
        for numbered in dict.fromkeys(s.component_id for s in self.series if s.component_id):
            x = _cells_of(self.book, {s.series_id for s in self.series if s.component_id == numbered})
            if len(x.units):
                own[self.components[numbered].assembly] = _own_series(numbered, u, x, self.assumptions.own_number_lead_years)
        return MakerCells(u, own, self._recorded_as_built)

    def _recorded_as_built(self, component_id: str) -> Floats:
        """(cells, V+1) as the build has worked it out, line by line."""
        own = self.own.get(self.components[component_id].assembly)
        cells = own.x if own is not None and self.by_own_number(component_id) else self.u
        entries = len(self.book.variants_of.get(component_id, ())) + 1
        parts = [np.zeros((0, entries))]  # a maker of whom no numbers are recorded has no cells
        for number, line in enumerate(cells.lines):
            part = self.book.as_built(line.line_id, component_id)
            if part is None:  # this line says nothing of it
                part = np.zeros((int((cells.line == number).sum()), entries))
                part[:, -1] = 1.0
            parts.append(part)
        return np.concatenate(parts)


def _cells_of(book: Book, series_ids: set[str]) -> CellTable:
    lines = tuple(line for line in book.lines if line.series_id in series_ids)
    return CellTable.of(lines, {line.line_id: book.cells(line.line_id) for line in lines})


def _own_series(component_id: str, u: CellTable, x: CellTable, lead_years: int) -> ComponentSeries:
    keys, group = np.unique(u.block * (len(u.models) + 1) + u.model, return_inverse=True)
    x_models = [{x.models[m] for m in x.model[x.block == block]} for block in range(len(x.blocks))]
    compatible = np.empty((len(keys), len(x.units)))
    for row, key in enumerate(keys):
        model = u.models[key % (len(u.models) + 1)]
        line, position = u.blocks[key // (len(u.models) + 1)]
        fits = np.array([_goes_with(line.blocks[position], model, xl.blocks[xp], x_models[i], lead_years) for i, (xl, xp) in enumerate(x.blocks)])
        share = x.units * fits[x.block]
        compatible[row] = share / share.sum() if share.sum() else x.share
    return ComponentSeries(component_id, x, group.astype(np.int64), compatible)


def _goes_with(unit: Block, model: str, own: Block, own_models: set[str], lead_years: int) -> bool:
    if model and own_models != {""} and model not in own_models:
        return False
    if unit.built is None or own.built is None:
        return True
    waits = timedelta(days=366 * lead_years)
    return own.built.first <= unit.built.last and own.built.last + waits >= unit.built.first
