"""What a unit may be, and what is fitted to it: the joint posterior over serials and castings of one maker.

Arrays only, axes as in `kb.probability.inference.assembly`; docs/model.md, section 8.

Every factor is kept to a scale where its largest value is about 1; the logarithm of the scale travels beside it, so
that a thousand marks neither overflow nor vanish.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, reduce
from types import MappingProxyType

from kb.probability.inference.assembly import Assembly, Floats, Spot, Totals, outer
from kb.probability.inference.subset_convolution import times


@dataclass(frozen=True)
class MakerPosterior:
    """Everything about the units of one maker.

    base: (u cells,) prior times P(serial readings | cell), up to a scale. component_assembly: component -> assembly id.
    All results are summed over the ways of placing the marks that were read somewhere on the unit.
    """

    base: Floats
    assemblies: dict[str, Assembly]
    component_assembly: dict[str, str]

    _rests: dict[tuple[str, ...], Floats] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def mass(self) -> Floats:
        """(u cells,) unnormalised joint probability of evidence and cell."""
        joint: Floats = self._rest(())[-1]
        return joint

    def table(self, places: Sequence[Spot], *, built: bool = False, x_parts: Mapping[str, Floats] = MappingProxyType({})) -> Floats:
        """`mass` split by what is at the places: (u cells, V+1 for each place..., parts of x for each assembly in `x_parts`...).

        built: by what the unit left the works with instead; then the components of `places` must differ. x_parts: assembly -> (parts, x cells)
        by which its own number is divided.
        """
        touched = dict.fromkeys([*(self.component_assembly[component] for component, _ in places), *x_parts])
        split = self._rest([*touched])
        axes: list[Spot | str] = []
        for name in touched:
            mine = [spot for spot in places if self.component_assembly[spot[0]] == name]
            assembly, parts = self.assemblies[name], x_parts.get(name)
            split = outer(split, assembly.built_table([c for c, _ in mine], parts) if built else assembly.table(mine, parts))
            axes += [*mine, *([name] if parts is not None else [])]
        table: Floats = split[-1]
        wanted: list[Spot | str] = [*places, *x_parts]
        return table.transpose([0, *(1 + axes.index(axis) for axis in wanted)])

    def totals(self, spot: Spot, parts: Floats | None = None) -> Totals:
        """`mass` summed over all cells, with what is at a place; parts: (R, u cells) which cells count for each of R sums, else all for one."""
        name = self.component_assembly[spot[0]]
        found = self.assemblies[name].totals(spot, self._rest((name,)), parts)
        return Totals(found.fitted[-1], found.built[-1], found.kept[-1])

    def original(self, spot: Spot) -> Floats:
        """(u cells,) unnormalised joint probability of evidence and: the casting at the place, dated, left the works in this unit."""
        name = self.component_assembly[spot[0]]
        joint: Floats = times(self._rest((name,)), self.assemblies[name].original(spot))[-1]
        return joint

    def _rest(self, without: Sequence[str]) -> Floats:
        """(s, u cells) base times P(everything seen on the other assemblies | cell)."""
        key = tuple(sorted(without))
        if key not in self._rests:
            self._rests[key] = reduce(times, [a.evidence for name, a in self.assemblies.items() if name not in without], self.base[None])
        return self._rests[key]
