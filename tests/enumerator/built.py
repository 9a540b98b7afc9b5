"""What left the works, and which number of its own a component has (docs/model.md, section 6)."""

from collections import defaultdict

from kb.assumptions import Assumptions

from .changeovers import Single, estimate, stages
from .lineages import Lineage, Sighting, lineages, observed, sightings
from .places import UNRECORDED, Castings
from .serials import Block, Spot, Unit, Works
from .tables import Row, Tables, cell, number, rows

DAYS_A_YEAR = 366  # an own number may lie this long before its machine, for each year of own_number_lead_years


class Built:
    """P(o | u): what each unit was built with."""

    def __init__(self, tables: Tables, works: Works, castings: Castings, assumptions: Assumptions) -> None:
        self.works, self.castings, self.assumptions = works, castings, assumptions
        self.lineages = lineages(tables, works, assumptions)
        self.sightings = sightings(tables, works, castings)
        self.options = rows(tables, "options")
        self._posteriors: dict[tuple[int, Spot | None], list[Single]] = {}
        self._chances: dict[tuple[int, Spot | None, int], list[float]] = {}
        self._as_built: dict[tuple[Unit, str], dict[str, float]] = {}

    def posteriors(self, lineage: Lineage, left_out: Spot | None = None) -> list[Single]:
        """The posterior of (b, w) of each change-over by itself, without the sightings of one unit if it is named."""
        key = (id(lineage), left_out)
        if key not in self._posteriors:
            counted = [s for s in self.counted(lineage) if s.spot != left_out]
            self._posteriors[key] = [
                estimate(
                    len(lineage.concerned), change.claims, change.widths,
                    [observed(s, lineage, k, self.castings, self.assumptions) for s in counted],
                    self.assumptions,
                )
                for k, change in enumerate(lineage.changes)
            ]  # fmt: skip
        return self._posteriors[key]

    def counted(self, lineage: Lineage) -> list[Sighting]:
        """The sightings that count for a lineage: it governs every model of their block, and they are possible at all."""
        return [
            s for s in self.sightings
            if s.component == lineage.component and s.spot[0] == lineage.line
            and {m for m, _ in self.works.block_at(s.spot).models} <= lineage.governed
            and any(s.likelihoods[v] > 0 for v in lineage.variants + [v for v, g in self.castings.shares(s.component).items() if g])
        ]  # fmt: skip

    def as_built(self, unit: Unit, component: str) -> dict[str, float]:
        """P(o | u) of each variant and the unrecorded one: options first, the lineage for the rest."""
        if (unit, component) not in self._as_built:
            chances = dict.fromkeys([*self.castings.variants[component], UNRECORDED], 0.0)
            for row in self.options:
                if cell(row, "component_id") == component and within(row, unit, self.works):
                    chances[cell(row, "variant_id")] += float(cell(row, "share"))
            rest = max(0.0, 1 - sum(chances.values()))
            for variant, p in self._from_lineage(unit, component).items():
                chances[variant] += rest * p
            self._as_built[unit, component] = chances
        return self._as_built[unit, component]

    def _from_lineage(self, unit: Unit, component: str) -> dict[str, float]:
        everywhere = [each for each in self.lineages if each.component == component]
        if not everywhere:  # nothing says which
            return self.castings.shares(component) or {UNRECORDED: 1.0}
        here = [each for each in everywhere if each.line == unit.line and unit.model in each.governed]
        own = [each for each in here if each.model] or here
        if not own or own[0].rank(unit.order) < own[0].start:
            return {UNRECORDED: 1.0}
        lineage, s = own[0], own[0].rank(unit.order)
        seen_itself = any(each.spot == unit.spot and each.component == component for each in self.sightings)
        key = (id(lineage), unit.spot if seen_itself else None, s)
        if key not in self._chances:
            self._chances[key] = stages(self.posteriors(lineage, key[1]), s)
        return dict(zip(lineage.variants, self._chances[key], strict=True))


def within(row: Row, unit: Unit, works: Works) -> bool:
    """Whether series, serial range and model of a row allow a unit; an empty cell allows all."""
    series = cell(row, "series_id")
    if series and series != unit.line[0]:
        return False
    if cell(row, "model_id") and cell(row, "model_id") != unit.model:
        return False
    for column, sign in (("serial_from", 1), ("serial_to", -1)):
        if cell(row, column):
            end = works.find(unit.line[0], cell(row, column))
            if end is None and series:
                raise ValueError(f'{column} "{cell(row, column)}" is outside series {series}')
            if end is None or end[0] != unit.line or sign * unit.order < sign * end[1]:
                return False
    return True


def replaced_rate(castings: Castings, component: str, assumptions: Assumptions) -> float:
    """rho of a component in front of us; a rate given for the occasion replaces all recorded ones."""
    if "replaced_rate" in assumptions.changed():
        return assumptions.replaced_rate
    return number(castings.components[component], "replaced_rate", assumptions.replaced_rate)


class OwnNumbers:
    """P(x | u): which number of its own a component of a unit has."""

    def __init__(self, works: Works, castings: Castings, assumptions: Assumptions) -> None:
        self.works, self.castings, self.assumptions = works, castings, assumptions
        self.units: dict[str, list[Unit]] = defaultdict(list)
        for line, blocks in works.lines.items():
            if blocks and blocks[0].component:
                self.units[blocks[0].component] += works.units(line)

    def chances(self, component: str, unit: Unit) -> list[float]:
        """P(x | u) for each x of self.units[component]."""
        rho = replaced_rate(self.castings, component, self.assumptions)
        every = self.units[component]
        block = self.works.blocks[unit.block_id]
        fitting = {b.block_id for b in self.works.blocks.values() if b.component == component and self._compatible(b, block, unit.model)}
        total = sum(x.units for x in every)
        among = sum(x.units for x in every if x.block_id in fitting)
        pi = [x.units / total for x in every]
        c = [x.units / among if x.block_id in fitting else 0.0 for x in every] if among else pi
        return [(1 - rho) * c[i] + rho * pi[i] for i in range(len(every))]

    def _compatible(self, x: Block, u: Block, model: str) -> bool:
        listed = {m for m, _ in x.models if m}
        if model and listed and model not in listed:
            return False
        if x.built_first is not None and u.built_last is not None and x.built_first > u.built_last:
            return False
        lead = DAYS_A_YEAR * self.assumptions.own_number_lead_years
        return x.built_last is None or u.built_first is None or x.built_last + lead >= u.built_first
