"""Which variants followed each other where, and what sources and sightings say about it (docs/model.md, section 5)."""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from dataclasses import dataclass
from math import ceil, floor
from typing import NamedTuple

from kb.assumptions import Assumptions

from .changeovers import Claim, Observed
from .places import Castings, Observation
from .readings import CHARACTERS, simplify
from .serials import LineKey, Spot, Works
from .tables import Row, Tables, cell, days, index, listed, number, rows


class Sighting(NamedTuple):
    """The sighting that counts for one (serial, component, place)."""

    sighting_id: str
    spot: Spot
    component: str
    original: str
    likelihoods: dict[str, float]  # L(v) of each recorded variant


class Change(NamedTuple):
    """One link old -> new of a lineage with the claims that count."""

    old: str
    new: str
    claims: list[Claim]
    widths: list[int]


@dataclass
class Lineage:
    """The variants of a component that followed each other on a line, for one model or ("") for all that have no own lineage."""

    line: LineKey
    component: str
    model: str
    variants: list[str]
    governed: set[str]
    concerned: list[int]  # orders of the line, ascending
    start: int
    changes: list[Change]

    def rank(self, order: int) -> int:
        """The order among the units concerned; a serial outside them is moved up to the next one."""
        return bisect_left(self.concerned, order)

    def rank_of_last(self, order: int) -> int:
        """The order of the last one concerned that is not after it; -1 if there is none."""
        return bisect_right(self.concerned, order) - 1


def lineages(tables: Tables, works: Works, assumptions: Assumptions) -> list[Lineage]:
    """All lineages of all lines."""
    reader = _Sources(tables, assumptions)
    on: dict[tuple[LineKey, str, str], list[Row]] = defaultdict(list)
    floating: list[Row] = []
    for row in rows(tables, "breakpoints"):
        spot = _spot(works, row, "first_new") or _spot(works, row, "last_old")
        if spot is None:
            floating.append(row)
        else:
            on[spot[0], cell(row, "component_id"), cell(row, "model_id")].append(row)
    located = set(on)
    for row in floating:  # no serial: a claim in every line that has other breakpoints of the kind, or else in every line
        component, model = cell(row, "component_id"), cell(row, "model_id")
        lines = [line for line in works.lines if line[0] == cell(row, "series_id")]
        for line in [line for line in lines if (line, component, model) in located] or lines:
            on[line, component, model].append(row)
    return [_lineage(key, its_rows, {m for line, c, m in on if m and (line, c) == key[:2]}, works, reader) for key, its_rows in on.items()]


def _lineage(key: tuple[LineKey, str, str], its_rows: list[Row], own_models: set[str], works: Works, reader: "_Sources") -> Lineage:
    line, component, model = key
    governed = {model} if model else {m for block in works.lines[line] for m, _ in block.models} - own_models
    concerned = [
        order
        for block in works.lines[line]
        if governed & {m for m, _ in block.models}
        for order in range(block.order_first, block.order_first + block.span)
    ]
    starts = [row for row in its_rows if not cell(row, "old_variant_id")]
    links = list(dict.fromkeys((cell(row, "old_variant_id"), cell(row, "new_variant_id")) for row in its_rows if cell(row, "old_variant_id")))
    lineage = Lineage(line, component, model, _path(links, starts, key), governed, concerned, 0, [])
    if starts:
        lineage.start = min((reader.grade(row), _start(lineage, works, row), cell(row, "breakpoint_id")) for row in starts)[1]
    for old, new in sorted(links, key=lambda link: lineage.variants.index(link[1])):
        rows_of_link = [row for row in its_rows if (cell(row, "old_variant_id"), cell(row, "new_variant_id")) == (old, new)]
        lineage.changes.append(reader.change(lineage, works, old, new, rows_of_link))
    return lineage


def _path(links: list[tuple[str, str]], starts: list[Row], key: object) -> list[str]:
    """The variants in order; the links must be one path, and a start row must name its first variant."""
    follows = dict(links)
    firsts = {cell(row, "new_variant_id") for row in starts} | (set(follows) - {new for _, new in links})
    path = [min(firsts)] if firsts else []
    while path and path[-1] in follows and len(path) <= len(links):
        path.append(follows[path[-1]])
    if len(firsts) != 1 or len(path) != len(links) + 1:
        raise ValueError(f"the breakpoints of {key} are not one path from old to new")
    return path


def _spot(works: Works, row: Row, column: str) -> Spot | None:
    if not cell(row, column):
        return None
    spot = works.find(cell(row, "series_id"), cell(row, column))
    if spot is None:
        raise ValueError(f"breakpoint {cell(row, 'breakpoint_id')}: {column} {cell(row, column)} is outside its series")
    return spot


def _rank(lineage: Lineage, works: Works, row: Row, column: str) -> int | None:
    spot = _spot(works, row, column)
    if spot and spot[0] != lineage.line:
        raise ValueError(f"breakpoint {cell(row, 'breakpoint_id')}: its serials are on different lines")
    if spot is None:
        return None
    return lineage.rank_of_last(spot[1]) if column == "last_old" else lineage.rank(spot[1])


def _start(lineage: Lineage, works: Works, row: Row) -> int:
    """Where a lineage begins, by a row without old variant."""
    claim, _ = _says(lineage, works, row)
    return claim[1] if claim else 0


def _says(lineage: Lineage, works: Works, row: Row) -> tuple[tuple[str, int, int] | None, int | None]:
    """The kind and the orders of a claim, and the width of the mixed stretch that it brings."""
    n = len(lineage.concerned)
    first = _rank(lineage, works, row, "first_new")
    to = _rank(lineage, works, row, "first_new_to")
    last = _rank(lineage, works, row, "last_old")
    if first is not None and to is not None:
        return ("range", first, to), None
    if first is not None and last is not None:
        if last + 1 < first:
            return ("range", last + 1, first), None
        return ("exact", first, first), last - first + 1 if last >= first else None
    if first is not None:
        return ("about" if cell(row, "about") == "yes" else "exact", first, first), None
    if last is not None:
        return ("range", last + 1, n), None
    return (_in_time(lineage, works, *days(cell(row, "when"))) if cell(row, "when") else None), None


def _in_time(lineage: Lineage, works: Works, d1: int, d2: int) -> tuple[str, int, int] | None:
    """The orders built from day d1 to day d2, if every block was built at an even pace."""
    orders: list[int] = []
    for block in works.lines[lineage.line]:
        f, t = block.built_first, block.built_last
        if not (lineage.governed & {m for m, _ in block.models}) or f is None or t is None or d2 < f or d1 > t:
            continue
        low = max(0, floor(block.span * (d1 - f) / (t - f + 1)))
        high = min(block.span - 1, ceil(block.span * (d2 - f + 1) / (t - f + 1)) - 1)
        orders += [lineage.rank(block.order_first + low), lineage.rank(block.order_first + high)]
    return ("range", min(orders), max(orders)) if orders else None


class _Sources:
    """Grades, copies, and which claims count."""

    def __init__(self, tables: Tables, assumptions: Assumptions) -> None:
        self.sources = index(tables, "sources", "source_id")
        self.assumptions = assumptions

    def grade(self, row: Row) -> str:
        return cell(self.sources[cell(row, "source_id")], "grade")

    def root(self, source: str) -> str:
        while copied := listed(self.sources[source], "copied_from"):
            source = copied[0]
        return source

    def change(self, lineage: Lineage, works: Works, old: str, new: str, its_rows: list[Row]) -> Change:
        """One claim per root, with the root's grade; then one per thing said, unless two of grade A say it."""
        by_root: dict[str, list[tuple[bool, str, str, tuple[str, int, int], int | None]]] = defaultdict(list)
        for row in its_rows:
            claim, width = _says(lineage, works, row)
            if claim:
                source = cell(row, "source_id")
                by_root[self.root(source)].append((source != self.root(source), self.grade(row), cell(row, "breakpoint_id"), claim, width))
        grades: dict[tuple[str, int, int], list[str]] = defaultdict(list)
        widths = []
        for root, said in by_root.items():
            _, _, _, claim, width = min(said, key=lambda each: each[:3])
            grades[claim].append(cell(self.sources[root], "grade"))
            widths += [] if width is None else [width]
        counted = [(claim, g) for claim, gs in grades.items() for g in (["A"] * gs.count("A") if gs.count("A") > 1 else [min(gs)])]
        return Change(old, new, [Claim(*claim, self.assumptions.grade_reliability[g]) for claim, g in counted], widths)


def sightings(tables: Tables, works: Works, castings: Castings) -> list[Sighting]:
    """One per (serial, component, place): the latest. A retracted or doubtful one is as if it were not there; a casting
    that the latest sighting calls replaced says nothing."""
    counted = []
    for (spot, component, _), row in latest_rows(tables, works).items():
        if cell(row, "original") != "replaced":
            if cell(row, "variant_id"):
                likelihoods = {v: float(v == cell(row, "variant_id")) for v in castings.variants[component]}
            else:
                mark: Observation = ("mark", cell(row, "mark_read"), None)
                likelihoods = castings.likelihoods(component, [mark])
            counted.append(Sighting(cell(row, "sighting_id"), spot, component, cell(row, "original"), likelihoods))
    return counted


def latest_rows(tables: Tables, works: Works) -> dict[tuple[Spot, str, str], Row]:
    """The latest sighting of each (serial, component, place) that can be placed."""
    latest: dict[tuple[Spot, str, str], tuple[tuple[int, int], Row]] = {}
    for i, row in enumerate(rows(tables, "sightings")):
        whole = all(c in CHARACTERS for c in simplify(cell(row, "serial")))
        spot = works.find(cell(row, "series_id"), cell(row, "serial")) if whole else None
        if spot is not None:
            key = (spot, cell(row, "component_id"), cell(row, "place"))
            seen_on = days(cell(row, "seen_on"))[1] if cell(row, "seen_on") else 0
            if key not in latest or (seen_on, i) > latest[key][0]:
                latest[key] = ((seen_on, i), row)
    return {key: row for key, (_, row) in latest.items()}


def observed(sighting: Sighting, lineage: Lineage, k: int, castings: Castings, assumptions: Assumptions) -> Observed:
    """A sighting as change-over k (0, 1, ...) of a lineage sees it."""
    if sighting.original == "believed":
        rho = assumptions.replaced_when_believed_original
    else:
        rho = number(castings.components[lineage.component], "replaced_rate", assumptions.replaced_when_unknown)
    any_variant = rho * sum(g * sighting.likelihoods[v] for v, g in castings.shares(lineage.component).items())
    best_old = max(sighting.likelihoods[v] for v in lineage.variants[: k + 1])
    best_new = max(sighting.likelihoods[v] for v in lineage.variants[k + 1 :])
    return Observed(lineage.rank(sighting.spot[1]), (1 - rho) * best_old + any_variant, (1 - rho) * best_new + any_variant, any_variant)
