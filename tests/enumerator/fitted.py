"""What is fitted now, given what was built, assembly by assembly (docs/model.md, section 7).

A table is a dict from facts to weights. Facts are ((kind, component, place), value) pairs in order; the kinds are "fitted" (value: the
variant now at a place), "original" (value: "yes" if that casting left the works there), "built" (the variant it left the works with) and
"own" (the number of its own that a component has).
A table over no facts has the single key () and holds a plain weight.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable
from math import prod

from kb.assumptions import Assumptions

from .built import Built, OwnNumbers, replaced_rate
from .places import UNRECORDED, Castings, Likelihoods
from .serials import Unit, Works
from .tables import cell

Slot = tuple[str, str, str]
Facts = tuple[tuple[Slot, "str | Unit"], ...]
Dates = dict[tuple[str, str], tuple[Callable[[Unit], float], float]]  # (component, place) -> P(codes | built in), P(codes | not)
Table = dict[Facts, float]


def fitted_chances(built: str, shares: dict[str, float], rho: float, unrecorded: float) -> dict[str, float]:
    """P(v | o) for each variant v and the unrecorded one; shares is g. A component without variants is always the unrecorded one."""
    if not shares:
        return {UNRECORDED: 1.0}
    chances = {v: (1 - unrecorded) * ((1 - rho) * (v == built) + rho * g) for v, g in shares.items()}
    chances[UNRECORDED] = (1 - unrecorded) * (1 - rho) * (built == UNRECORDED) + unrecorded
    return chances


def original_chance(rho: float, unrecorded: float) -> float:
    """P(the casting is the one built in | o): never replaced, by anything."""
    return (1 - unrecorded) * (1 - rho)


def component_weight(as_built: dict[str, float], places: Iterable[Likelihoods], fitted: Callable[[str], dict[str, float]]) -> float:
    """f = sum over o of P(o) product over places of sum over v of P(v | o) L(v): left and right share o."""
    every = list(places)
    return sum(p * prod(sum(q * at[v] for v, q in fitted(o).items()) for at in every) for o, p in as_built.items())


def posterior(prior: list[float], likelihood: list[float]) -> list[float]:
    """Bayes' rule."""
    joint = [p * q for p, q in zip(prior, likelihood, strict=True)]
    return [j / sum(joint) for j in joint]


def combine(one: Table, other: Table) -> Table:
    """Facts of both, which are independent; facts are kept in the order of their names."""
    table: Table = defaultdict(float)
    for facts, p in one.items():
        for more, q in other.items():
            table[tuple(sorted(facts + more, key=lambda fact: fact[0]))] += p * q
    return dict(table)


def add(total: Table, table: Table, times: float) -> None:
    """Add a table, multiplied, to a sum."""
    for facts, p in table.items():
        total[facts] = total.get(facts, 0.0) + times * p


class Assemblies:
    """The weight of what is seen on each assembly of one maker's units, and tables over what may be fitted there.

    seen: (component, place) -> L(v); own_weights: component -> P(its own reading | x) for each of its numbers x.
    """

    def __init__(
        self, maker: str, works: Works, castings: Castings, built: Built, own: OwnNumbers, assumptions: Assumptions,
        seen: dict[tuple[str, str], Likelihoods], own_weights: dict[str, list[float]], dates: Dates | None = None,
    ) -> None:  # fmt: skip
        self.dates: Dates = dates or {}
        self.castings, self.built, self.own, self.assumptions, self.seen, self.own_weights = castings, built, own, assumptions, seen, own_weights
        self.components: dict[str, list[str]] = defaultdict(list)  # assembly -> its components
        for component, row in castings.components.items():
            if cell(row, "maker_id") == maker:
                self.components[cell(row, "assembly")].append(component)
        self.numbered = {a: [c for c in components if own.units.get(c)] for a, components in self.components.items()}
        self.units = [u for line, blocks in works.lines.items() if blocks and blocks[0].maker == maker and not blocks[0].component
                      for u in works.units(line)]  # fmt: skip
        self._chances: dict[tuple[str, Unit], list[float]] = {}
        self._tables: dict[tuple[object, ...], Table] = {}

    def numbered_by(self, component: str) -> str:
        """The component of the same assembly from whose own number a component takes P(o | x); "" if from the unit's."""
        assembly = cell(self.castings.components[component], "assembly")
        lines = {each.line for each in self.built.lineages if each.component == component}
        return next((e for e in self.numbered[assembly] if lines & {x.line for x in self.own.units[e]}), "")

    def chances(self, component: str, unit: Unit) -> list[float]:
        """P(x | u), remembered."""
        if (component, unit) not in self._chances:
            self._chances[component, unit] = self.own.chances(component, unit)
        return self._chances[component, unit]

    def table(self, unit: Unit, assembly: str, wanted: frozenset[Slot]) -> Table:
        """A(u) = .99 X(u) + .01 sum over u' of pi(u') X(u'), as a table over the wanted facts.

        What a swapped assembly bears says nothing about what the unit was built with.
        """
        if ("whole", unit, assembly, wanted) in self._tables:
            return self._tables["whole", unit, assembly, wanted]
        swapped = self.assumptions.swapped_assembly
        total: Table = {}
        add(total, self._itself(unit, assembly, wanted), 1 - swapped)
        from_elsewhere = self._elsewhere(assembly, frozenset(slot for slot in wanted if slot[0] not in ("built", "original")))
        for kind, component, place in wanted:
            if kind == "original":
                from_elsewhere = combine(from_elsewhere, {((("original", component, place), "no"),): 1.0})
            if kind == "built":
                from_elsewhere = combine(from_elsewhere, self._built_with(unit, component))
        add(total, from_elsewhere, swapped)
        self._tables["whole", unit, assembly, wanted] = total
        return total

    def _elsewhere(self, assembly: str, wanted: frozenset[Slot]) -> Table:
        if ("elsewhere", assembly, wanted) not in self._tables:
            everything = sum(u.units for u in self.units)
            total: Table = {}
            for u in self.units:
                add(total, self._itself(u, assembly, wanted), u.units / everything)
            self._tables["elsewhere", assembly, wanted] = total
        return self._tables["elsewhere", assembly, wanted]

    def _built_with(self, unit: Unit, component: str) -> Table:
        """P(o | u) before anything is seen of the component."""
        e = self.numbered_by(component)
        carriers = zip(self.own.units[e], self.chances(e, unit), strict=True) if e else [(unit, 1.0)]
        total: Table = {}
        for carrier, p in carriers:
            add(total, {((("built", component, ""), o),): q for o, q in self.built.as_built(carrier, component).items()}, p)
        return total

    def _itself(self, unit: Unit, assembly: str, wanted: frozenset[Slot]) -> Table:
        """X(u): the assembly that the unit left the works with."""
        table: Table = {(): 1.0}
        for component in self.components[assembly]:
            if not self.numbered_by(component):
                table = combine(table, self._component(unit, component, wanted))
        for e in self.numbered[assembly]:
            total: Table = {}
            for p, of_x in zip(self.chances(e, unit), self._numbers(e, assembly, wanted), strict=True):
                add(total, of_x, p)
            table = combine(table, total)
        return table

    def _numbers(self, e: str, assembly: str, wanted: frozenset[Slot]) -> list[Table]:
        """For each own number x: P(own reading | x) times what is seen of the components that x speaks of."""
        tables = []
        by_x = [component for component in self.components[assembly] if self.numbered_by(component) == e]
        for i, x in enumerate(self.own.units[e]):
            if ("number", x, wanted) not in self._tables:
                slot = ("own", e, "")
                table: Table = {((slot, x),) if slot in wanted else (): self.own_weights[e][i] if e in self.own_weights else 1.0}
                for component in by_x:
                    table = combine(table, self._component(x, component, wanted))
                self._tables["number", x, wanted] = table
            tables.append(self._tables["number", x, wanted])
        return tables

    def _component(self, carrier: Unit, component: str, wanted: frozenset[Slot]) -> Table:
        """f_c(u): sum over o of P(o | u) product over places of sum over v of P(v | o) L(v), as a table."""
        key = ("component", carrier, component, frozenset(slot for slot in wanted if slot[1] == component and slot[0] != "own"))
        if key not in self._tables:
            rho = replaced_rate(self.castings, component, self.assumptions)
            shares = self.castings.shares(component)
            total: Table = {}
            for o, p in self.built.as_built(carrier, component).items():
                built = ("built", component, "")
                table: Table = {((built, o),) if built in wanted else (): p}
                for place in self.castings.places(component):
                    slot, seen = ("fitted", component, place), self.seen.get((component, place), {})
                    at_place: Table = {}
                    in_time, later = self.dates.get((component, place), (lambda _: 1.0, 1.0))
                    kept = original_chance(rho, self.assumptions.unrecorded_variant)
                    whose: Slot = ("original", component, place)
                    for v, q in fitted_chances(o, shares, rho, self.assumptions.unrecorded_variant).items():
                        for original, p_v in (("yes", kept * (v == o)), ("no", q - kept * (v == o))):
                            facts = (*(((slot, v),) if slot in wanted else ()), *(((whose, original),) if whose in wanted else ()))
                            dated = in_time(carrier) if original == "yes" else later
                            add(at_place, {facts: p_v * dated * seen.get(v, 1.0)}, 1.0)
                    table = combine(table, at_place)
                add(total, table, 1.0)
            self._tables[key] = total
        return self._tables[key]
