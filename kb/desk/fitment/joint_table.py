"""Where rules apply to one examined unit: the joint posterior of its cells and of certain places, and the events of it that rules speak of."""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from kb.desk.fitment.cell_groups import CellGroups, Distinctions
from kb.desk.fitment.context import UnitContext
from kb.desk.fitment.rulebook import Rulebook
from kb.probability.inference.assembly import Spot
from kb.probability.inference.events import EventSpace
from kb.probability.inference.information import normalised
from kb.probability.inference.posterior import MakerPosterior
from kb.probability.inference.verdict import Truth
from kb.store.rows import FeatureValueRow
from kb.words.applicability import Applicability, Condition, Limit

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


class JointTables:
    """The joint tables of one examined unit, each worked out once. Fitments, supersessions and steps are all judged by them."""

    def __init__(self, context: UnitContext, parts: Rulebook) -> None:
        self.context, self.parts = context, parts
        self._tables: dict[object, JointTable] = {}
        self._groups: dict[Distinctions, CellGroups] = {}

    def of(self, spot: Spot, asked: Iterable[Applicability], also: Spot | None = None, cuts: Distinctions | None = None) -> "JointTable":
        """The table for what is asked about one place, with one more place if given. cuts: what this and more tells units apart by."""
        each = dict.fromkeys(asked)
        spots = self._spots(spot, each, also)
        limits = tuple(dict.fromkeys(limit for applies in each for limit in applies.limits if self.parts.own_assembly(limit)))
        key = (spots, limits, cuts or frozenset(each))
        if key not in self._tables:
            self._tables[key] = JointTable(self.context, self.parts, spots, limits, self._together(cuts or self.parts.cuts_of(each)))
        return self._tables[key]

    def chances(self, applies: Applicability, spot: Spot) -> tuple[float, float]:
        """The probability that something applies to the unit, and that it does not, at a place.

        A casting that nobody recorded will do, unless a certain variant or feature is asked for.
        """
        table = self.of(spot, [applies])
        holds = table.holds(applies, spot)
        return table.mass(holds), table.mass(table.everything & ~holds)

    def _together(self, cuts: Distinctions) -> CellGroups:
        """The cells that count, those together that nothing tells apart."""
        if cuts not in self._groups:
            live = self.context.live
            self._groups[cuts] = CellGroups.of(cuts.numbers(self.context.model.u, live), live)
        return self._groups[cuts]

    def _spots(self, spot: Spot, asked: Iterable[Applicability], also: Spot | None) -> tuple[Spot, ...]:
        """The places that are spoken of, the one asked about first."""
        spots = [spot] + ([also] if also is not None else [])
        for condition in dict.fromkeys(condition for applies in asked for condition in applies.conditions):
            if self.context.has(condition.component_id):
                spots += [where for where in self.context.where(condition, spot) if self.context.observed(condition, where) is None]
        return tuple(dict.fromkeys(self.context.axis_spot(each) for each in spots))


class JointTable(EventSpace):
    """The joint posterior over cells and certain places, split further where limits speak of own numbers; cells that nothing tells apart are one."""

    def __init__(self, context: UnitContext, parts: Rulebook, spots: tuple[Spot, ...], own_limits: tuple[Limit, ...], groups: CellGroups) -> None:
        """own_limits: of numbers that components carry themselves, of however many; the table has one more axis for the number of each assembly."""
        self.context, self.parts, self.spots, self._groups = context, parts, spots, groups
        self._own: dict[Limit, tuple[int, Bools]] = {}  # its axis, and which parts lie within
        self._split: dict[str, Floats] = {}  # assembly -> (parts, x cells)
        by_assembly: dict[str, list[Limit]] = {}
        for limit in own_limits:
            assembly = parts.own_assembly(limit)
            if assembly in context.model.own:
                by_assembly.setdefault(assembly, []).append(limit)
        for axis, (assembly, limits) in enumerate(by_assembly.items(), 1 + len(spots)):
            x = context.model.own[assembly].x
            signature, which = np.unique(np.array([x.within(limit) for limit in limits]), axis=1, return_inverse=True)
            self._own |= {limit: (axis, inside) for limit, inside in zip(limits, signature, strict=True)}
            self._split[assembly] = (which.ravel()[None, :] == np.arange(signature.shape[1])[:, None]).astype(np.float64)
        self._by_cell = self._table(context.posterior, self._split)
        super().__init__(groups.together(self._by_cell))
        self._truths: dict[tuple[Applicability, Spot, bool], Truth] = {}

    def _table(self, posterior: MakerPosterior, split: dict[str, Floats]) -> Floats:
        table = posterior.table(self.spots, built=self.context.mode == "as-built", x_parts=split)
        return table[self.context.live] * self.context.scale

    # How much of each of some sets lies where

    def by_own_number(self, sets: Sequence[Bools], assembly: str, parts: Floats) -> Floats:
        """(sets, parts) how much of each set lies with each part of an assembly's own number. parts: (parts, x cells) P(part | x)."""
        if assembly not in self._split:
            table = self._groups.together(self._table(self.context.posterior, {**self._split, assembly: parts}))
        else:
            axis, mine = 1 + len(self.spots) + [*self._split].index(assembly), self._split[assembly]
            both = (mine[:, None] * parts).reshape(-1, parts.shape[1])
            table = self._groups.together(self._table(self.context.posterior, {**self._split, assembly: both}))
            table = np.moveaxis(table.reshape(*table.shape[:axis], len(mine), len(parts), *table.shape[axis + 1 :]), axis + 1, -1)
        return np.array([table[each].sum(0) for each in sets])

    def by_variant(self, sets: Sequence[Bools], spot: Spot) -> Floats:
        """(sets, V+2) how much of each set lies with each variant at a place; the last entry of the last set is what the table does not hold."""
        joint = self.by_fitted(sets, self.context.maker, spot, self.context.posterior)
        joint = np.hstack([joint, np.zeros((len(joint), 1))])
        joint[-1, -1] = max(0.0, 1 - joint.sum())
        return normalised(joint)

    def by_fitted(self, sets: Sequence[Bools], maker: str, spot: Spot, posterior: MakerPosterior) -> Floats:
        """(sets, V+1) the same under another posterior for units of that maker; all that is another maker's belongs to the last set."""
        if maker != self.context.maker:
            fitted = posterior.totals(spot).fitted[0] * self.context.scale_of(maker)
            return np.vstack([np.zeros((len(sets) - 1, len(fitted))), fitted])
        same = posterior is self.context.posterior
        table = self.table if same else self._groups.together(self._table(posterior, self._split))
        others = tuple(a for a in range(table.ndim) if a != self.axis(spot))
        return np.array([np.where(each, table, 0.0).sum(axis=others) for each in sets])

    def by_cells(self, sets: Sequence[Bools], maker: str) -> Floats:
        """(sets, cells of the maker) how much of each set lies with each cell; all that is another maker's belongs to the last set."""
        if maker == self.context.maker:
            return np.array([self.by_cell(each) for each in sets])
        mass = self.context.mass_of(maker)
        return np.vstack([np.zeros((len(sets) - 1, len(mass))), mass])

    def by_cell(self, entries: Bools) -> Floats:
        """(cells of the maker,) the probability of some entries, by the cell of the unit; entries: shaped as `table`."""
        found = np.zeros(len(self.context.mass))
        found[self.context.live] = np.where(entries[self._groups.which], self._by_cell, 0.0).reshape(len(self.context.live), -1).sum(1)
        return found

    def axis(self, spot: Spot) -> int:
        """The axis of the table for a place."""
        return 1 + self.spots.index(self.context.axis_spot(spot))

    # Where something applies

    def truth(self, applies: Applicability, spot: Spot, any_casting: bool = False) -> Truth:
        """Where something applies when asked about one place; any_casting: an unrecorded one will do too."""
        key = (applies, spot, any_casting)
        if key not in self._truths:
            limits = self._within(applies, spot)
            holds = limits if any_casting else limits & self._recorded(spot)
            for condition in applies.conditions:
                if not holds:
                    break
                holds &= self._condition(condition, spot)
            self._truths[key] = Truth(holds, limits)
        return self._truths[key]

    def holds(self, applies: Applicability, spot: Spot) -> int:
        """Where a supersession or a step applies: at an unrecorded casting too, unless it asks for a certain one."""
        return self.truth(applies, spot, any_casting=not applies.conditions).holds

    def _within(self, applies: Applicability, spot: Spot) -> int:
        if applies.place is not None and applies.place != spot[1]:
            return 0
        entries = self.everything
        for limit in applies.limits:
            entries &= self._limit(limit)
        for model in applies.models:
            entries &= self.along(0, self.context.model.u.of_model(model)[self._groups.first])
        return entries

    def _limit(self, limit: Limit) -> int:
        if limit in self._own:
            return self.along(*self._own[limit])
        if self.parts.own_assembly(limit) is not None:
            return 0  # of a number that the maker's units do not carry
        return self.along(0, self.context.model.u.within(limit)[self._groups.first])

    def _recorded(self, spot: Spot) -> int:
        """All entries but those with an unrecorded casting at the place; all where the component has no recorded variants."""
        count = len(self.context.book.variants_of.get(spot[0], ()))
        return self.along(self.axis(spot), np.arange(count + 1) < count) if count else self.everything

    def _condition(self, condition: Condition, spot: Spot) -> int:
        book = self.context.book
        if not self.context.has(condition.component_id):
            return 0  # the maker of this unit has no such component
        if condition.feature_id:
            recorded = book.feature_values.get(condition.feature_id, {})
            allowed = frozenset(variant for variant, row in recorded.items() if _recorded_so(condition, row))
        else:
            allowed = self.parts.alike[condition.variant_id or ""]
        entries = self.everything
        for where in self.context.where(condition, spot):
            seen = self.context.observed(condition, where)
            if seen is not None:
                entries &= self.everything if seen else 0
                continue
            names = [v.variant_id for v in book.variants_of.get(where[0], ())]
            entries &= self.along(self.axis(where), np.array([name in allowed for name in names] + [False]))
        return entries


def _recorded_so(condition: Condition, row: FeatureValueRow) -> bool:
    if condition.value is not None:
        return bool(row.value == condition.value)
    low_ok = condition.low is None or (row.low is not None and row.low >= condition.low)
    return low_ok and (condition.high is None or (row.high is not None and row.high <= condition.high))
