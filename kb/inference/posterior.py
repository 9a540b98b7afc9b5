"""What a unit may be, and what is fitted to it: the joint posterior over serials and castings of one maker.

Arrays only. Axes: u cells of unit series, x cells of an own-number series (an engine number), o as-built variants, v fitted
variants; o and v have one more entry at the end, the unrecorded variant. docs/model.md, sections 6 to 8.

Every factor is kept to a scale where its largest value is about 1; the logarithm of the scale travels beside it, so
that a thousand marks neither overflow nor vanish.
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
    def silent(self) -> bool:
        """Nothing was seen on this component."""
        return not self.dates and all(bool((likelihood == 1.0).all()) for likelihood in self.seen.values())

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
        for place in self.seen:
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

    def kept(self, spot: Spot) -> Floats:
        """(u cells,): A(u) with the variant fitted at the place being the one the unit was built with."""
        casting = self.casting(spot[0])
        own = self._bracket({spot[0]: casting.kept(spot[1])})
        given = self.donors @ self._bracket({spot[0]: casting.clamped([spot[1]])})  # (V+1,)
        left_works = self._bracket({spot[0]: casting.as_built}, bare=True)
        return (1 - self.swapped) * own + self.swapped * (left_works @ given)

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
        return next(c for c in self.castings if c.component == component)

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
                whole = _outer(whole, casting.evidence if factor is None else factor)
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
            weighted = by_x if bare else _outer(number.reading, by_x)
            if x_parts is None:
                mixed = np.tensordot(number.transition, weighted, axes=1)
            else:
                mixed = np.moveaxis(np.tensordot(number.transition[:, None, :] * x_parts[None], weighted, axes=1), 1, -1)
            result = _outer(by_u, mixed[number.group])
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


@dataclass(frozen=True)
class World:
    """One way of placing the marks that were read somewhere on the unit."""

    weight: float
    assemblies: dict[str, Assembly]


@dataclass(frozen=True)
class MakerPosterior:
    """Everything about the units of one maker.

    base: (u cells,) prior times P(serial readings | cell), up to a scale. component_assembly: component -> assembly id.
    """

    base: Floats
    worlds: tuple[World, ...]
    component_assembly: dict[str, str]

    _rests: dict[tuple[object, ...], Floats] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def mass(self) -> Floats:
        """(u cells,) unnormalised joint probability of evidence and cell."""
        total = np.zeros(len(self.base))
        for world in self.worlds:
            total += world.weight * self._rest(world, ())
        return total * self.base

    def table(self, places: Sequence[Spot], *, built: bool = False, x_of: str | None = None, x_parts: Floats | None = None) -> Floats:
        """`mass` split by what is at the places: (u cells, V+1 for each place..., [parts of x]).

        built: by what the unit left the works with instead; then the components of `places` must differ. x_of: the assembly
        whose own number x_parts (parts, x cells) divides.
        """
        touched = list(dict.fromkeys(self.component_assembly[c] for c, _ in places if self.component_assembly[c] != x_of))
        touched += [x_of] if x_of is not None else []
        total: Floats | None = None
        for world in self.worlds:
            split = world.weight * self.base * self._rest(world, touched)
            order: list[Spot] = []
            for name in touched:
                mine = [spot for spot in places if self.component_assembly[spot[0]] == name]
                assembly, parts = world.assemblies[name], x_parts if name == x_of else None
                split = _outer(split, assembly.built_table([c for c, _ in mine], parts) if built else assembly.table(mine, parts))
                order += mine
            split = split.transpose([0, *[1 + order.index(spot) for spot in places], *range(1 + len(order), split.ndim)])
            total = split if total is None else total + split
        assert total is not None
        return total

    def kept(self, spot: Spot) -> float:
        """Unnormalised joint probability of evidence and: fitted at the place is what was built."""
        name = self.component_assembly[spot[0]]
        return sum(float(world.weight * (self.base * self._rest(world, (name,))) @ world.assemblies[name].kept(spot)) for world in self.worlds)

    def original(self, spot: Spot) -> Floats:
        """(u cells,) unnormalised joint probability of evidence and: the casting at the place, dated, left the works in this unit."""
        name = self.component_assembly[spot[0]]
        total = np.zeros(len(self.base))
        for world in self.worlds:
            total += world.weight * self.base * self._rest(world, (name,)) * world.assemblies[name].original(spot)
        return total

    def _rest(self, world: World, without: Sequence[str]) -> Floats:
        key = (id(world), *sorted(without))
        if key not in self._rests:
            self._rests[key] = np.multiply.reduce(
                [np.ones(len(self.base)), *(a.evidence for name, a in world.assemblies.items() if name not in without)]
            )
        return self._rests[key]


def _padded(array: Floats, axes: int) -> Floats:
    """The array with so many axes of length 1 behind."""
    return array[..., *[None] * axes]


def _outer(left: Floats, right: Floats) -> Floats:
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
