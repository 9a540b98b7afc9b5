"""An assembly: the castings that are swapped together, what was seen on them, and the number one of them may carry.

Arrays only. Axes: s sets of marks read somewhere on the unit (`kb.probability.inference.subset_convolution`), u cells of unit series, x cells
of an own-number series (an engine number), o as-built variants, v fitted variants; o and v have one more entry at the end, the unrecorded
variant. What is worked out here has s as its first axis; it has one entry where there are no such marks. docs/model.md, sections 6 to 8.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, reduce

import numpy as np
from numpy.typing import NDArray

from kb.probability.inference.subset_convolution import times, together

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Spot = tuple[str, str]  # component, place
Over = Callable[[Floats], Floats]


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
    """Weights summed over cells, with what is at one place: fitted, built: (..., R, V+1) by variant; kept: (..., R) fitted is what was built."""

    fitted: Floats
    built: Floats
    kept: Floats


@dataclass(frozen=True)
class Casting:
    """One component of an assembly: what it was built with, how castings are replaced, what is seen at its places.

    load: gives as_built (cells, V+1), rows sum to 1; cells of u, or of x if `by_own_number`; called only when needed.
    kernel: (V+1, V+1), P(v | o) by row o. seen: place -> (V+1,) likelihood of all that was seen there, ones where nothing was.
    dates: place -> casting dates read there. loose: (V+1,) likelihood of each mark that may be at any of its places.
    """

    component: str
    load: Callable[[], Floats]
    kernel: Floats
    seen: dict[str, Floats]
    by_own_number: bool = False
    dates: Mapping[str, Dated] = field(default_factory=dict)
    loose: tuple[Floats, ...] = ()

    @cached_property
    def as_built(self) -> Floats:
        """(cells, V+1) P(o | cell)."""
        return self.load()

    @cached_property
    def told(self) -> tuple[str, ...]:
        """The places where something was seen, or may have been."""
        return tuple(
            place for place, likelihood in self.seen.items() if self.loose or place in self.dates or bool((likelihood != 1.0).any())
        )

    @property
    def silent(self) -> bool:
        """Nothing was seen on this component."""
        return not self.told

    @cached_property
    def evidence(self) -> Floats:
        """(s, cells) f_c: P(everything seen on this component | cell)."""
        return self._over_built(self._product(()))

    def clamped(self, places: Sequence[str]) -> Floats:
        """(s, cells, V+1, ..., V+1), an axis a place: P(everything seen, and these variants fitted there | cell)."""
        per_built = _padded(self._product(places), len(places))
        for axis, place in enumerate(places):
            fitted = self._fitted(place)
            per_built = times(per_built, fitted.reshape([*fitted.shape[:-1], *(fitted.shape[-1] if n == axis else 1 for n in range(len(places)))]))
        return self._over_built(per_built)

    def built(self) -> Floats:
        """(s, cells, V+1): P(everything seen, and this as built | cell)."""
        return self.as_built * self._product(())

    def kept(self, place: str) -> Floats:
        """(s, cells): P(everything seen, and fitted at the place is what was built | cell)."""
        return self._over_built(times(self._product((place,)), np.diagonal(self._fitted(place), axis1=-2, axis2=-1)))

    def totals(self, place: str, over: Over) -> Totals:
        """What is at the place over all cells, (s, R, ...). over: gives (s, R, n), the sums over cells of weights times something (s, cells, n)."""
        if self.dates:
            return Totals(over(self.clamped([place])), over(self.built()), over(self.kept(place)[..., None])[..., 0])
        built, fitted, elsewhere = over(self.as_built[None]), self._fitted(place), self._product((place,))
        with_others = times(built, elsewhere)
        kept = times(with_others, np.diagonal(fitted, axis1=-2, axis2=-1)).sum(-1)
        return Totals(times(with_others, fitted[:, 0], np.matmul), times(built, self._product(())), kept)

    def original(self, place: str) -> Floats:
        """(s, cells): P(everything seen, and the casting at the place, one with casting dates, is the one built in | cell)."""
        dated = self.dates[place]
        return self._over_built(times(self._product((place,)), (dated.original * self._seen(place))[:, None])) * dated.in_time

    def _seen(self, place: str) -> Floats:
        """(s, V+1) likelihood of all that was seen at the place, and of every set of the loose marks."""
        return together(self.seen[place], self.loose)

    def _fitted(self, place: str) -> Floats:
        """(s, 1, V+1, V+1) by row as built: P(everything seen at the place, and this fitted there | as built); (s, cells, ...) with casting dates."""
        dated, seen = self.dates.get(place), self._seen(place)[:, None, None]
        if dated is None:
            return self.kernel * seen
        same = dated.original * np.eye(len(self.kernel))
        return ((self.kernel - same) * dated.later + same * dated.in_time[:, None, None]) * seen

    def _through(self, place: str) -> Floats:
        """(s, 1, V+1), P(what is seen at the place | as built); (s, cells, V+1) with casting dates there."""
        return self._fitted(place).sum(-1) if place in self.dates else (self._seen(place) @ self.kernel.T)[:, None]

    def _over_built(self, per_built: Floats) -> Floats:
        """(s, cells, ...) sum over as built of P(as built | cell) times something (s, 1 or cells, V+1, ...)."""
        if per_built.shape[1] == 1:
            return np.moveaxis(np.tensordot(self.as_built, per_built[:, 0], axes=(1, 1)), 1, 0)
        summed: Floats = (_padded(self.as_built, per_built.ndim - 3) * per_built).sum(2)
        return summed

    def _product(self, without: Sequence[str]) -> Floats:
        """(s, 1 or cells, V+1) P(what is seen at all other places | as built)."""
        product = np.ones((1, 1, len(self.kernel)))
        for place in self.told:
            if place not in without:
                product = times(product, self._through(place))
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
        """(s, u cells) X(u): P(everything seen on the assembly | cell, nothing swapped as a whole)."""
        return self._bracket({})

    @cached_property
    def evidence(self) -> Floats:
        """(s, u cells) A(u): P(everything seen on the assembly | cell)."""
        return (1 - self.swapped) * self.own + self.swapped * self.of_donors[:, None]

    @cached_property
    def of_donors(self) -> Floats:
        """(s,) P(everything seen on the assembly | it came from another unit)."""
        found: Floats = self.own @ self.donors
        return found

    def table(self, places: Sequence[Spot], x_parts: Floats | None = None) -> Floats:
        """(s, u cells, V+1 for each place..., [parts of x]): A(u) split by what is fitted; x_parts: (parts, x cells)."""
        by_component: dict[str, list[str]] = {}
        for component, place in places:
            by_component.setdefault(component, []).append(place)
        clamped = {c.component: c.clamped(by_component[c.component]) for c in self.castings if c.component in by_component}
        order = [spot for c in clamped for spot in ((c, p) for p in by_component[c])]
        own = self._bracket(clamped, x_parts)
        whole = (1 - self.swapped) * own + self.swapped * np.tensordot(own, self.donors, axes=(1, 0))[:, None]
        return whole.transpose([0, 1, *[2 + order.index(spot) for spot in places], *range(2 + len(order), whole.ndim)])

    def built_table(self, components: Sequence[str], x_parts: Floats | None = None) -> Floats:
        """(s, u cells, V+1 for each component[, parts of x]): A(u) split by the variants the unit left the works with."""
        own = self._bracket({c: self.casting(c).built() for c in components}, x_parts)
        left_works = self._bracket({c: self.casting(c).as_built[None] for c in components}, x_parts, bare=True)
        return (1 - self.swapped) * own + self.swapped * _padded(self.of_donors, left_works.ndim - 1) * left_works

    def totals(self, spot: Spot, weights: Floats, parts: Floats | None = None) -> Totals:
        """A(u) times weights (s, u cells) summed over the cells, with what is at a place, (s, R, ...); parts: (R, u cells), else all in one sum."""
        component, place = spot
        casting = self.casting(component)
        by_u, by_x = self._others(component)

        def over(weights: Floats, parts: Floats | None, by_x: Floats | None) -> Over:
            if by_x is not None:
                rows = times(self._by_number(weights[:, None] if parts is None else weights[:, None] * parts), by_x[:, None])
                return lambda table: times(rows, table, np.matmul)
            return lambda table: times(weights[:, None], table, np.matmul) if parts is None else parts @ times(weights[..., None], table)

        seen = casting.totals(place, over(times(weights, by_u), parts, by_x))
        of_donors = casting.totals(place, over(self.donors * by_u, None, by_x)).fitted
        bare = None if by_x is None else np.ones((1, by_x.shape[1]))
        left_works = over(weights, parts, bare)(casting.as_built[None])  # by what the unit was built with before all was swapped
        every, swapped = (weights.sum(1)[:, None] if parts is None else weights @ parts.T)[..., None], self.swapped
        return Totals(
            (1 - swapped) * seen.fitted + swapped * times(every, of_donors),
            (1 - swapped) * seen.built + swapped * times(left_works, self.of_donors[:, None, None]),
            (1 - swapped) * seen.kept + swapped * times(left_works, of_donors).sum(-1),
        )

    def original(self, spot: Spot) -> Floats:
        """(s, u cells): A(u) with the casting at the place, one with casting dates, having left the works in this unit."""
        return (1 - self.swapped) * self._bracket({spot[0]: self.casting(spot[0]).original(spot[1])})

    def own_numbers(self) -> Floats:
        """(x cells,) A(u) summed over all cells u, split by the own number, for the assembly that is fitted now; by what was read at its places."""
        number = self._number()
        split = number.transition * (number.reading * self._product(True, {}, bare=False)[0])  # (groups, x)
        own = self._product(False, {}, bare=False)[0][:, None] * split[number.group]
        found: Floats = (1 - self.swapped) * own.sum(0) + self.swapped * len(self.donors) * (self.donors @ own)
        return found

    def casting(self, component: str) -> Casting:
        """The casting of that component."""
        return self._casting[component]

    @cached_property
    def _casting(self) -> dict[str, Casting]:
        return {casting.component: casting for casting in self.castings}

    def _by_number(self, weights: Floats) -> Floats:
        """(s, R, x cells) weights (s, R, u cells), brought to the cells of the own number."""
        number = self._number()
        rows = [np.bincount(number.group, row, len(number.transition)) for row in weights.reshape(-1, weights.shape[2])]
        return np.array(rows).reshape(*weights.shape[:2], -1) @ number.transition

    def _others(self, component: str) -> tuple[Floats, Floats | None]:
        """(s, u cells), and where the component goes by the own number (s, x cells): P(everything seen on the others, and of that number | cell)."""
        others = [casting for casting in self.castings if casting.component != component and not casting.silent]
        by_u = reduce(times, [casting.evidence for casting in others if not casting.by_own_number], np.ones((1, len(self.donors))))
        if self.own_number is None:
            return by_u, None
        by_x = reduce(times, [casting.evidence for casting in others if casting.by_own_number], self.own_number.reading[None])
        if self.casting(component).by_own_number:
            return by_u, by_x
        return times(by_u, (by_x @ self.own_number.transition.T)[:, self.own_number.group]), None

    def _number(self) -> OwnNumber:
        assert self.own_number is not None, "this assembly carries no number of its own"
        return self.own_number

    def _product(self, by_own_number: bool, clamped: dict[str, Floats], bare: bool) -> Floats:
        """(s, cells, ...) product of f_c over the components that go by u (or by x); clamped ones keep their extra axes, in order.

        bare: of the clamped ones only.
        """
        cells = len(self._number().reading) if by_own_number else len(self.donors)
        whole: Floats = np.ones((1, cells))
        for casting in self.castings:
            if casting.by_own_number is by_own_number and (casting.component in clamped or not (bare or casting.silent)):
                factor = clamped.get(casting.component)
                whole = outer(whole, casting.evidence if factor is None else factor)
        return whole

    def _bracket(self, clamped: dict[str, Floats], x_parts: Floats | None = None, bare: bool = False) -> Floats:
        """(s, u cells, ...) X(u) with the axes of the clamped components, in the order of `clamped`, then of the parts of x.

        bare: without any other evidence.
        """
        by_u = self._product(False, clamped, bare)
        if self.own_number is None:
            result = by_u if x_parts is None else by_u[..., None]
            kinds = [False]
        else:
            number = self.own_number
            by_x = self._product(True, clamped, bare)  # (s, x, ...)
            weighted = by_x if bare else outer(number.reading[None], by_x)
            if x_parts is None:
                mixed = np.moveaxis(np.tensordot(number.transition, weighted, axes=(1, 1)), 1, 0)
            else:
                split = np.tensordot(number.transition[:, None, :] * x_parts[None], weighted, axes=(2, 1))  # (groups, parts, s, ...)
                mixed = np.moveaxis(split, (2, 0, 1), (0, 1, -1))
            result = outer(by_u, mixed[:, number.group])
            kinds = [False, True]
        axes_of: dict[str, list[int]] = {}
        axis = 2
        for kind in kinds:
            for casting in self.castings:
                if casting.by_own_number is kind and casting.component in clamped:
                    count = clamped[casting.component].ndim - 2
                    axes_of[casting.component] = list(range(axis, axis + count))
                    axis += count
        order = [0, 1, *[a for component in clamped for a in axes_of[component]], *range(axis, result.ndim)]
        return result.transpose(order)


def _padded(array: Floats, axes: int) -> Floats:
    """The array with so many axes of length 1 behind."""
    return array[..., *[None] * axes]


def outer(left: Floats, right: Floats) -> Floats:
    """Product along the shared second axis: (s, n, a...) and (s, n, b...) give (s, n, a..., b...)."""
    return times(_padded(left, right.ndim - 2), right.reshape(right.shape[:2] + (1,) * (left.ndim - 2) + right.shape[2:]))


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
