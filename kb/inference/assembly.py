"""An assembly: the castings that are swapped together, what was seen on them, and the number one of them may carry.

Arrays only. Axes: u cells of unit series, x cells of an own-number series (an engine number), o as-built variants, v fitted
variants; o and v have one more entry at the end, the unrecorded variant. docs/model.md, sections 6 and 7.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Spot = tuple[str, str]  # component, place


@dataclass(frozen=True)
class Dated:
    """Casting dates at one place. original: P(the casting is the one built in | as built), whatever that was.

    in_time: (cells,) P(dates | cell, the casting was built in), later: P(dates | it was not); to any common scale.
    """

    original: float
    in_time: Floats
    later: float


@dataclass(frozen=True)
class Totals:
    """Weights summed over cells, with what is at one place: fitted, built: (R, V+1) by variant; kept: (R,) fitted is what was built."""

    fitted: Floats
    built: Floats
    kept: Floats


@dataclass(frozen=True)
class Casting:
    """One component of an assembly: what it was built with, how castings are replaced, what is seen at its places.

    load: gives as_built (cells, V+1), rows sum to 1; cells of u, or of x if `by_own_number`; called only when needed.
    kernel: (V+1, V+1), P(v | o) by row o. seen: place -> (V+1,) likelihood of all that was seen there, ones where nothing was.
    dates: place -> casting dates read there.
    """

    component: str
    load: Callable[[], Floats]
    kernel: Floats
    seen: dict[str, Floats]
    by_own_number: bool = False
    dates: Mapping[str, Dated] = field(default_factory=dict)

    @cached_property
    def as_built(self) -> Floats:
        """(cells, V+1) P(o | cell)."""
        return self.load()

    @cached_property
    def told(self) -> tuple[str, ...]:
        """The places where something was seen."""
        return tuple(place for place, likelihood in self.seen.items() if place in self.dates or bool((likelihood != 1.0).any()))

    @property
    def silent(self) -> bool:
        """Nothing was seen on this component."""
        return not self.told

    def through(self, place: str) -> Floats:
        """(V+1,) P(what is seen at the place | as built); (cells, V+1) with casting dates there."""
        fitted: Floats = self._fitted(place).sum(-1)
        return fitted

    @cached_property
    def evidence(self) -> Floats:
        """(cells,) f_c: P(everything seen on this component | cell)."""
        return self._over_built(self._product(()))

    def clamped(self, places: Sequence[str]) -> Floats:
        """(cells, V+1, ..., V+1), an axis a place: P(everything seen, and these variants fitted there | cell)."""
        per_built = _padded(self._product(places), len(places))
        for axis, place in enumerate(places):
            fitted = self._fitted(place)
            shape = [-1 if axis == other else 1 for other in range(len(places))]
            per_built = per_built * fitted.reshape([*fitted.shape[:-1], *(fitted.shape[-1] if n == -1 else 1 for n in shape)])
        return self._over_built(per_built, len(places))

    def built(self) -> Floats:
        """(cells, V+1): P(everything seen, and this as built | cell)."""
        return self.as_built * self._product(())

    def kept(self, place: str) -> Floats:
        """(cells,): P(everything seen, and fitted at the place is what was built | cell)."""
        return self._over_built(self._product((place,)) * np.diagonal(self._fitted(place), axis1=-2, axis2=-1))

    def totals(self, place: str, weights: Floats) -> "Totals":
        """What is at the place over all cells. weights: (R, cells)."""
        if self.dates:
            return Totals(weights @ self.clamped([place]), weights @ self.built(), weights @ self.kept(place))
        built, fitted, elsewhere = weights @ self.as_built, self._fitted(place), self._product((place,))
        return Totals((built * elsewhere) @ fitted, built * self._product(()), built @ (elsewhere * np.diagonal(fitted)))

    def original(self, place: str) -> Floats:
        """(cells,): P(everything seen, and the casting at the place, one with casting dates, is the one built in | cell)."""
        dated = self.dates[place]
        return self._over_built(self._product((place,)) * (dated.original * self.seen[place])) * dated.in_time

    def _fitted(self, place: str) -> Floats:
        """(V+1, V+1) by row as built: P(everything seen at the place, and this fitted there | as built); (cells, V+1, V+1) with casting dates."""
        dated = self.dates.get(place)
        if dated is None:
            return self.kernel * self.seen[place]
        same = dated.original * np.eye(len(self.kernel))
        return ((self.kernel - same) * dated.later + same * dated.in_time[:, None, None]) * self.seen[place]

    def _over_built(self, per_built: Floats, extra: int = 0) -> Floats:
        """Sum over as built of P(as built | cell) times something by as built, or by cell and as built; `extra` axes stay behind."""
        if per_built.ndim == 1 + extra:
            return np.tensordot(self.as_built, per_built, axes=1)
        summed: Floats = (_padded(self.as_built, extra) * per_built).sum(1)
        return summed

    def _product(self, without: Sequence[str]) -> Floats:
        product = np.ones(len(self.kernel))
        for place in self.told:
            if place not in without:
                product = product * self.through(place)
        return product


@dataclass(frozen=True)
class OwnNumber:
    """The number a component of the assembly carries itself.

    group: (u cells,) which row of `transition` holds for a cell. transition: (groups, x cells), P(x | group), rows sum to 1.
    reading: (x cells,) P(reading of that number | x), ones without a reading.
    """

    group: Ints
    transition: Floats
    reading: Floats


@dataclass(frozen=True)
class Assembly:
    """Components that are swapped together. `swapped` is the probability that all come from another unit; donors: (u cells,), sums to 1."""

    castings: tuple[Casting, ...]
    donors: Floats
    swapped: float
    own_number: OwnNumber | None = None

    @cached_property
    def own(self) -> Floats:
        """(u cells,) X(u): P(everything seen on the assembly | cell, nothing swapped as a whole)."""
        return self._bracket({})

    @cached_property
    def evidence(self) -> Floats:
        """(u cells,) A(u): P(everything seen on the assembly | cell)."""
        return (1 - self.swapped) * self.own + self.swapped * float(self.donors @ self.own)

    def table(self, places: Sequence[Spot], x_parts: Floats | None = None) -> Floats:
        """(u cells, V+1 for each place..., [parts of x]): A(u) split by what is fitted; x_parts: (parts, x cells)."""
        by_component: dict[str, list[str]] = {}
        for component, place in places:
            by_component.setdefault(component, []).append(place)
        clamped = {c.component: c.clamped(by_component[c.component]) for c in self.castings if c.component in by_component}
        order = [spot for c in clamped for spot in ((c, p) for p in by_component[c])]
        own = self._bracket(clamped, x_parts)
        whole = (1 - self.swapped) * own + self.swapped * np.tensordot(self.donors, own, axes=1)[None]
        axes = [0, *[1 + order.index(spot) for spot in places], *range(1 + len(order), whole.ndim)]
        return whole.transpose(axes)

    def built_table(self, components: Sequence[str], x_parts: Floats | None = None) -> Floats:
        """(u cells, V+1 for each component[, parts of x]): A(u) split by the variants the unit left the works with."""
        own = self._bracket({c: self.casting(c).built() for c in components}, x_parts)
        left_works = self._bracket({c: self.casting(c).as_built for c in components}, x_parts, bare=True)
        return (1 - self.swapped) * own + self.swapped * float(self.donors @ self.own) * left_works

    def totals(self, spot: Spot, weights: Floats) -> Totals:
        """A(u) summed over the cells u, with what is at a place. weights: (R, u cells)."""
        component, place = spot
        casting = self.casting(component)
        seen = casting.totals(place, self._around(component, np.vstack([weights, self.donors])))  # the last row: of the donors
        left_works = self._at(component, weights) @ casting.as_built  # by what the unit was built with before all was swapped
        every, swapped = weights.sum(axis=1, keepdims=True), self.swapped
        return Totals(
            (1 - swapped) * seen.fitted[:-1] + swapped * every * seen.fitted[-1],
            (1 - swapped) * seen.built[:-1] + swapped * float(self.donors @ self.own) * left_works,
            (1 - swapped) * seen.kept[:-1] + swapped * (left_works @ seen.fitted[-1]),
        )

    def original(self, spot: Spot) -> Floats:
        """(u cells,): A(u) with the casting at the place, one with casting dates, having left the works in this unit."""
        return (1 - self.swapped) * self._bracket({spot[0]: self.casting(spot[0]).original(spot[1])})

    def own_number_posterior(self) -> Floats:
        """(u cells, x cells): A(u) split by the own number, for the assembly that is fitted now."""
        number = self._number()
        split = number.transition * (number.reading * self._product(True, {}, bare=False))  # (groups, x)
        own = self._product(False, {}, bare=False)[:, None] * split[number.group]
        return (1 - self.swapped) * own + self.swapped * (self.donors @ own)[None]

    def casting(self, component: str) -> Casting:
        """The casting of that component."""
        return self._casting[component]

    @cached_property
    def _casting(self) -> dict[str, Casting]:
        return {casting.component: casting for casting in self.castings}

    def _at(self, component: str, weights: Floats) -> Floats:
        """(R, cells of the component) weights (R, u cells), brought to the cells of the own number where the component goes by that."""
        if not self.casting(component).by_own_number:
            return weights
        number = self._number()
        return np.array([np.bincount(number.group, row, len(number.transition)) for row in weights]) @ number.transition

    def _around(self, component: str, weights: Floats) -> Floats:
        """The same, times P(everything seen on the other components of the assembly, and of the own number | cell)."""
        others = [casting for casting in self.castings if casting.component != component and not casting.silent]
        by_u = _multiplied(weights, [casting.evidence for casting in others if not casting.by_own_number])
        if self.own_number is None:
            return by_u
        by_x = _multiplied(self.own_number.reading, [casting.evidence for casting in others if casting.by_own_number])
        if self.casting(component).by_own_number:
            return self._at(component, by_u) * by_x
        return by_u * (self.own_number.transition @ by_x)[self.own_number.group]

    def _number(self) -> OwnNumber:
        assert self.own_number is not None, "this assembly carries no number of its own"
        return self.own_number

    def _product(self, by_own_number: bool, clamped: dict[str, Floats], bare: bool) -> Floats:
        """Product of f_c over the components that go by u (or by x); clamped ones keep their extra axes, in order. bare: of the clamped ones only."""
        cells = len(self._number().reading) if by_own_number else len(self.donors)
        whole: Floats = np.ones(cells)
        for casting in self.castings:
            if casting.by_own_number is by_own_number and (casting.component in clamped or not (bare or casting.silent)):
                factor = clamped.get(casting.component)
                whole = outer(whole, casting.evidence if factor is None else factor)
        return whole

    def _bracket(self, clamped: dict[str, Floats], x_parts: Floats | None = None, bare: bool = False) -> Floats:
        """X(u) with the axes of the clamped components, in the order of `clamped`, then of the parts of x. bare: without any other evidence."""
        by_u = self._product(False, clamped, bare)
        if self.own_number is None:
            result = by_u if x_parts is None else by_u[..., None]
            kinds = [False]
        else:
            number = self.own_number
            by_x = self._product(True, clamped, bare)  # (x, ...)
            weighted = by_x if bare else outer(number.reading, by_x)
            if x_parts is None:
                mixed = np.tensordot(number.transition, weighted, axes=1)
            else:
                mixed = np.moveaxis(np.tensordot(number.transition[:, None, :] * x_parts[None], weighted, axes=1), 1, -1)
            result = outer(by_u, mixed[number.group])
            kinds = [False, True]
        axes_of: dict[str, list[int]] = {}
        axis = 1
        for kind in kinds:
            for casting in self.castings:
                if casting.by_own_number is kind and casting.component in clamped:
                    count = clamped[casting.component].ndim - 1
                    axes_of[casting.component] = list(range(axis, axis + count))
                    axis += count
        order = [0, *[a for component in clamped for a in axes_of[component]], *range(axis, result.ndim)]
        return result.transpose(order)


def _padded(array: Floats, axes: int) -> Floats:
    """The array with so many axes of length 1 behind."""
    return array[..., *[None] * axes]


def _multiplied(start: Floats, factors: Sequence[Floats]) -> Floats:
    """The product of arrays of one length, along the last axis of the first."""
    for factor in factors:
        start = start * factor
    return start


def outer(left: Floats, right: Floats) -> Floats:
    """Product along the shared first axis: (n, a...) and (n, b...) give (n, a..., b...)."""
    return left.reshape(left.shape + (1,) * (right.ndim - 1)) * right.reshape(right.shape[:1] + (1,) * (left.ndim - 1) + right.shape[1:])


def kernel(share: Floats, replaced_rate: float, unrecorded: float) -> Floats:
    """(V+1, V+1) P(fitted v | as built o), rows sum to 1; share: (V,) of the variants among replacements, sums to 1 (docs/model.md, section 7).

    A component without recorded variants is always the unrecorded one.

    >>> kernel(np.array([0.5, 0.5]), 0.1, 0.0).round(3).tolist()
    [[0.95, 0.05, 0.0], [0.05, 0.95, 0.0], [0.05, 0.05, 0.9]]
    """
    count = len(share) + 1
    if count == 1:
        return np.ones((1, 1))
    replacement = np.append(share, 0.0)
    fitted = (1 - unrecorded) * ((1 - replaced_rate) * np.eye(count) + replaced_rate * replacement[None, :])
    fitted[:, -1] += unrecorded
    return fitted
