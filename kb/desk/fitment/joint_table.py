"""Where rules hold for one examined unit: fitment rules set on the ground of its posterior."""

import re
from collections.abc import Iterable, Sequence
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from kb.desk.evidence.resolved import ResolvedObservation
from kb.desk.fitment.limits import Distinctions, alike, of_model, within
from kb.desk.fitment.rulebook import PartBook
from kb.desk.posterior.casting_likelihood import inside
from kb.desk.posterior.examination import Examination
from kb.probability.catalogue.fitments import Applicability, Condition, Limit
from kb.probability.inference.assembly import Spot
from kb.probability.inference.events import EventSpace
from kb.probability.inference.information import normalised
from kb.probability.inference.posterior import MakerPosterior
from kb.probability.inference.verdict import Truth
from kb.store.book import Row

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
Mode = Literal["fitted", "as-built"]
LIVE = 1e-12  # cells less probable than this beside the best are left out


class UnitContext:
    """One examined unit as rules see it: what was looked at, and the grounds they were asked about. mode: castings fitted now, or as built."""

    def __init__(self, found: Examination, parts: PartBook, mode: Mode, maker: str | None = None) -> None:
        """maker: whose units are asked about; the most probable one if not given."""
        self.found, self.parts, self.mode = found, parts, mode
        self.book = found.weighing.book
        self.maker = maker or found.maker or ""
        self.components = set(found.weighing.frames[self.maker].components) if self.maker else set()
        self._grounds: dict[object, JointTable] = {}
        self._alike: dict[Distinctions, CellGroups] = {}

    def has(self, component_id: str) -> bool:
        """The maker of the most probable unit has this component."""
        return component_id in self.components

    @cached_property
    def pieces(self) -> list[tuple[Spot, Row | None, str | float]]:
        """What was seen: place, feature (None: a mark), value."""
        return [(p.spots[self.maker], p.feature, p.value) for p in self.found.weighing.question.spots if self.maker in p.spots]

    @cached_property
    def seen(self) -> set[Spot]:
        """Places where something was seen that tells: a feature, a measure, or a mark that may be one of those recorded there."""
        found = set()
        for piece in self.found.weighing.question.spots:
            if self.maker in piece.spots:
                spot = piece.spots[self.maker]
                reading = piece.now
                if piece.feature is not None or (reading is not None and any(token not in "?*" for token in reading.tokens) and self.recorded(piece)):
                    found.add(spot)
        return found

    def recorded(self, piece: ResolvedObservation) -> bool:
        """The reading agrees, character by character, with a mark recorded for the component it was read on."""
        return piece.now is not None and piece.now.could_be_any(self.book.marks_index(piece.spots[self.maker][0]).texts)

    def measured(self, claim: Applicability, measure_first: str, spot: Spot) -> bool:
        """What a rule wants measured first was measured: a measure that it sets a condition on, or whose question speaks of the same thing."""
        wanted = {c.feature_id for c in claim.conditions if c.feature_id}
        asked = _words(measure_first)
        measures = [feature for at, feature, _ in self.pieces if at == spot and feature is not None and feature.kind == "measure"]
        return any(m.feature_id in wanted or asked & _words(m.question) for m in measures)

    @property
    def cells(self) -> int:
        """How many cells the maker's units have."""
        return len(self.found.posterior.mass[self.maker])

    @cached_property
    def live(self) -> NDArray[np.int64]:
        """The cells that count."""
        mass = self.found.posterior.mass[self.maker]
        return np.flatnonzero(mass > mass.max(initial=0.0) * LIVE)

    def ground(self, spot: Spot, claims: Iterable[Applicability], also: Spot | None = None, cuts: Distinctions | None = None) -> "JointTable":
        """The ground for claims asked about one place, with one more place if given. cuts: what these and other claims tell units apart by."""
        asked = dict.fromkeys(claims)
        spots = self._spots(spot, asked, also)
        limits = tuple(dict.fromkeys(limit for claim in asked for limit in claim.limits if self.parts.own_assembly(limit)))
        key = (spots, limits, cuts or frozenset(asked))
        if key not in self._grounds:
            self._grounds[key] = JointTable(self, spots, limits, cuts or self.parts.cuts_of(asked))
        return self._grounds[key]

    def where(self, condition: Condition, spot: Spot) -> list[Spot]:
        """Where a condition must hold: at its place; without one at the place asked about if its component has it, else everywhere."""
        places = self.book.components[condition.component_id].places
        if condition.place is not None:
            return [(condition.component_id, condition.place)]
        return [(condition.component_id, spot[1])] if spot[1] in places else [(condition.component_id, place) for place in places]

    def observed(self, condition: Condition, where: Spot) -> bool | None:
        """Whether a feature condition was seen to hold at one place; None if that feature was not looked at there."""
        values = [value for at, feature, value in self.pieces if at == where and feature is not None and feature.feature_id == condition.feature_id]
        if not values or condition.feature_id is None:
            return None
        return all(v == condition.value if condition.value is not None else inside(condition, float(v)) for v in values)

    def alike(self, cuts: Distinctions) -> "CellGroups":
        """The cells that count, those together that nothing tells apart."""
        if cuts not in self._alike:
            self._alike[cuts] = CellGroups.of(alike(self.book.lines, self.found.weighing.frames[self.maker].u, self.live, cuts), self.live)
        return self._alike[cuts]

    def _spots(self, spot: Spot, claims: Iterable[Applicability], also: Spot | None) -> tuple[Spot, ...]:
        """The places that the claims speak of, the one asked about first."""
        spots = [spot] + ([also] if also is not None else [])
        for condition in dict.fromkeys(condition for claim in claims for condition in claim.conditions):
            if self.has(condition.component_id):
                spots += [where for where in self.where(condition, spot) if self.observed(condition, where) is None]
        return tuple(dict.fromkeys(self.axis_spot(each) for each in spots))

    def axis_spot(self, spot: Spot) -> Spot:
        """The axis of a place: as built, the places of a component share one."""
        return (spot[0], "") if self.mode == "as-built" else spot


class CellGroups(NamedTuple):
    """Cells in groups. which: (cells,) the group of each. first: (groups,) a cell of each. order: the cells group by group. starts: of the groups."""

    which: Ints
    first: Ints
    order: Ints
    starts: Ints

    @classmethod
    def of(cls, numbers: Ints, cells: Ints) -> "CellGroups":
        """The cells, by the numbers of their groups."""
        order = np.argsort(numbers, kind="stable")
        begins = np.append(True, np.diff(numbers[order]) != 0)[: len(order)]
        which = np.empty(len(order), np.int64)
        which[order] = np.cumsum(begins) - 1
        starts = np.flatnonzero(begins)
        return cls(which, cells[order[starts]], order, starts)

    def together(self, table: Floats) -> Floats:
        """(groups, ...) the sums of a table (cells, ...)."""
        summed: Floats = np.add.reduceat(table[self.order], self.starts, axis=0)
        return summed


class JointTable(EventSpace):
    """The joint posterior over cells and certain places, split further where claims limit an own number; cells that no claim tells apart are one."""

    def __init__(self, setting: UnitContext, spots: tuple[Spot, ...], own_limits: tuple[Limit, ...], cuts: Distinctions) -> None:
        """own_limits: those of own numbers among the claims. Only one assembly's number can be split at a time; limits of another never hold."""
        self.setting, self.spots = setting, spots
        self.frame = setting.found.weighing.frames[setting.maker]
        self._alike = setting.alike(cuts)
        self._own: dict[Limit, Bools] = {}
        x_of = next((a for limit in own_limits if (a := setting.parts.own_assembly(limit)) in self.frame.own), None)
        parts: Floats | None = None
        if x_of is not None:
            x = self.frame.own[x_of].x
            mine = [limit for limit in own_limits if setting.parts.own_assembly(limit) == x_of]
            signature, which = np.unique(np.array([within(setting.book.lines, x, limit) for limit in mine]), axis=1, return_inverse=True)
            self._own = {limit: signature[i] for i, limit in enumerate(mine)}
            parts = (which.ravel()[None, :] == np.arange(signature.shape[1])[:, None]).astype(np.float64)
        self._x_of, self._parts = x_of, parts
        self._posterior = setting.found.posterior.makers[setting.maker]
        self._by_cell = self._table(self._posterior, x_of, parts)
        super().__init__(self._alike.together(self._by_cell))
        self._truths: dict[tuple[Applicability, Spot, bool], Truth] = {}

    def _table(self, posterior: MakerPosterior, x_of: str | None, x_parts: Floats | None) -> Floats:
        table = posterior.table(self.spots, built=self.setting.mode == "as-built", x_of=x_of, x_parts=x_parts)
        return table[self.setting.live] * self.setting.found.posterior.scale[self.setting.maker]

    def by_own_number(self, assembly: str, parts: Floats) -> Floats | None:
        """The table of the ground with one more axis, by parts of an assembly's own number; None where the ground is split by another's number.

        parts: (parts, x cells) P(part | x).
        """
        if self._x_of not in (None, assembly):
            return None
        if self._parts is None:
            return self._alike.together(self._table(self._posterior, assembly, parts))
        both = self._alike.together(self._table(self._posterior, assembly, (self._parts[:, None] * parts).reshape(-1, parts.shape[1])))
        return both.reshape(*both.shape[:-1], len(self._parts), len(parts))

    def by_variant(self, sets: Sequence[Bools], spot: Spot) -> Floats:
        """(sets, V+2) how much of each set lies with each variant at a place; the last entry of the last set is what the table does not hold."""
        joint = self.by_fitted(sets, self.setting.maker, spot, self._posterior)
        joint = np.hstack([joint, np.zeros((len(joint), 1))])
        joint[-1, -1] = max(0.0, 1 - joint.sum())
        return normalised(joint)

    def by_fitted(self, sets: Sequence[Bools], maker: str, spot: Spot, posterior: MakerPosterior) -> Floats:
        """(sets, V+1) the same under another posterior for units of that maker; all that is another maker's belongs to the last set."""
        if maker != self.setting.maker:
            fitted = posterior.totals(spot).fitted[0] * self.setting.found.posterior.scale[maker]
            return np.vstack([np.zeros((len(sets) - 1, len(fitted))), fitted])
        same = posterior is self._posterior
        table = self.table if same else self._alike.together(self._table(posterior, self._x_of, self._parts))
        others = tuple(a for a in range(table.ndim) if a != self.axis(spot))
        return np.array([np.where(each, table, 0.0).sum(axis=others) for each in sets])

    def axis(self, spot: Spot) -> int:
        """The axis of the table for a place."""
        return 1 + self.spots.index(self.setting.axis_spot(spot))

    def by_cell(self, entries: Bools) -> Floats:
        """(cells of the maker,) the probability of some entries, by the cell of the unit; entries: shaped as `table`."""
        found = np.zeros(self.setting.cells)
        found[self.setting.live] = np.where(entries[self._alike.which], self._by_cell, 0.0).reshape(len(self.setting.live), -1).sum(1)
        return found

    def by_cells(self, sets: Sequence[Bools], maker: str) -> Floats:
        """(sets, cells of the maker) how much of each set lies with each cell; all that is another maker's belongs to the last set."""
        if maker == self.setting.maker:
            return np.array([self.by_cell(each) for each in sets])
        mass = self.setting.found.posterior.mass[maker]
        return np.vstack([np.zeros((len(sets) - 1, len(mass))), mass])

    def truth(self, claim: Applicability, spot: Spot, any_casting: bool = False) -> Truth:
        """Where a claim holds when asked about one place; any_casting: an unrecorded one will do too."""
        key = (claim, spot, any_casting)
        if key not in self._truths:
            limits = self._within(claim, spot)
            holds = limits if any_casting else limits & self._recorded(spot)
            for condition in claim.conditions:
                if not holds:
                    break
                holds &= self._condition(condition, spot)
            self._truths[key] = Truth(holds, limits)
        return self._truths[key]

    def _within(self, claim: Applicability, spot: Spot) -> int:
        if claim.place is not None and claim.place != spot[1]:
            return 0
        entries = self.everything
        for limit in claim.limits:
            entries &= self._limit(limit)
        for model in claim.models:
            entries &= self.cells(of_model(self.frame.u, model)[self._alike.first])
        return entries

    def _limit(self, limit: Limit) -> int:
        if self.setting.parts.own_assembly(limit) is None:
            return self.cells(within(self.setting.book.lines, self.frame.u, limit)[self._alike.first])
        if limit not in self._own:
            return 0
        return self.cells(np.tile(self._own[limit], (len(self._alike.first), 1)))

    def _recorded(self, spot: Spot) -> int:
        """All entries but those with an unrecorded casting at the place; all where the component has no recorded variants."""
        count = len(self.setting.book.variants_of.get(spot[0], ()))
        return self.along(self.axis(spot), np.arange(count + 1) < count) if count else self.everything

    def _condition(self, condition: Condition, spot: Spot) -> int:
        book = self.setting.book
        if not self.setting.has(condition.component_id):
            return 0  # the maker of this unit has no such component
        if condition.feature_id:
            recorded = book.feature_values.get(condition.feature_id, {})
            allowed = frozenset(variant for variant, row in recorded.items() if _recorded_so(condition, row))
        else:
            allowed = self.setting.parts.alike[condition.variant_id or ""]
        entries = self.everything
        for where in self.setting.where(condition, spot):
            seen = self.setting.observed(condition, where)
            if seen is not None:
                entries &= self.everything if seen else 0
                continue
            names = [v.variant_id for v in book.variants_of.get(where[0], ())]
            entries &= self.along(self.axis(where), np.array([name in allowed for name in names] + [False]))
        return entries


def _recorded_so(condition: Condition, row: Row) -> bool:
    if condition.value is not None:
        return bool(row.value == condition.value)
    low_ok = condition.low is None or (row.low is not None and row.low >= condition.low)
    return low_ok and (condition.high is None or (row.high is not None and row.high <= condition.high))


def _words(text: str) -> set[str]:
    """The words of a sentence that carry its meaning: those of four letters and more."""
    return {
        word
        for word in re.findall(r"[a-z]{4,}", text.lower())
        if word not in ("measure", "first", "before", "ordering", "what", "wide", "with", "over", "from")
    }
