"""What a unit may be, and what is fitted to it: the joint posterior over serials and castings of one maker.

Arrays only, axes as in `kb.inference.assembly`; docs/model.md, section 8.

Every factor is kept to a scale where its largest value is about 1; the logarithm of the scale travels beside it, so
that a thousand marks neither overflow nor vanish.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from kb.inference.assembly import Assembly, Floats, Spot, Totals, outer


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
                split = outer(split, assembly.built_table([c for c, _ in mine], parts) if built else assembly.table(mine, parts))
                order += mine
            split = split.transpose([0, *[1 + order.index(spot) for spot in places], *range(1 + len(order), split.ndim)])
            total = split if total is None else total + split
        assert total is not None
        return total

    def totals(self, spot: Spot, parts: Floats | None = None) -> Totals:
        """`mass` summed over all cells, with what is at a place; parts: (R, u cells) which cells count for each of R sums, else all for one."""
        name = self.component_assembly[spot[0]]
        found = []
        for world in self.worlds:
            weights = (world.weight * self.base * self._rest(world, (name,)))[None]
            found.append(world.assemblies[name].totals(spot, weights if parts is None else weights * parts))
        return Totals(*(np.sum([getattr(each, of) for each in found], axis=0) for of in ("fitted", "built", "kept")))

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
