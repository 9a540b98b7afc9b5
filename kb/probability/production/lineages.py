"""Lineages: which variant followed which, in one line of a series, and what the sources claim about each change.

A lineage belongs to a line, a component and a model or, with model_id "", all models without one of their own. Its orders count
the units concerned only. Claims of copied sources count once. Rules: docs/model.md, section 5.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from kb.assumptions import Assumptions
from kb.probability.production.blocks import Block
from kb.probability.production.claims import Claim
from kb.probability.production.copied_claims import Copies
from kb.probability.production.governed_units import Concerned
from kb.probability.production.layout import Lines, SerialPlace, find
from kb.probability.production.serial_lookup import Problem
from kb.words import edtf
from kb.words.errors import DataError

if TYPE_CHECKING:
    from kb.words.dataset import Dataset
    from kb.words.records import Breakpoint

_BRANCH = "Retract one of the claims, give one a model_id, or name the variant between them."
SERIALS = ("first_new", "first_new_to", "last_old")


@dataclass(frozen=True)
class Stated:
    """A breakpoint as a claim about one change-over. `width`: the mixed stretch it reports. `counts`: it is not a copy."""

    breakpoint_id: str
    claim: Claim | None
    width: int | None
    counts: bool


@dataclass(frozen=True)
class Change:
    """One step of a lineage, `claims` and `widths` as they enter the estimate, and all that is stated about it."""

    old: str
    new: str
    claims: tuple[Claim, ...]
    widths: tuple[int, ...]
    stated: tuple[Stated, ...]


@dataclass(frozen=True)
class Lineage:
    """Variants in the order they were fitted; before `start_order` the component is unrecorded."""

    line_id: str
    component_id: str
    model_id: str
    variants: tuple[str, ...]
    start_order: int
    concerned: Concerned
    governed: frozenset[str]
    changes: tuple[Change, ...]

    def covers(self, block: Block) -> bool:
        """Whether every model of a block is governed, so that a sighting in it counts."""
        return all(model_id in self.governed for model_id, _ in block.models)

    def covered(self) -> list[tuple[int, int]]:
        """The orders among the units concerned, both ends of each block included, whose sightings count."""
        concerned = self.concerned
        stretches = zip(concerned.blocks, concerned.starts, concerned.starts[1:], strict=False)
        return [(start, end - 1) for index, start, end in stretches if self.covers(concerned.line.blocks[index])]


@dataclass(frozen=True)
class _Row:
    """A breakpoint and where its serials are."""

    row: "Breakpoint"
    places: dict[str, SerialPlace]


def draw_up(dataset: "Dataset", lines: Lines, assumptions: Assumptions) -> tuple[tuple[Lineage, ...], list[Problem]]:
    """All lineages of a dataset, in the order of their first breakpoints."""
    problems: list[Problem] = []
    copies = Copies(dataset.sources, assumptions)
    groups = _grouped(dataset.breakpoints, lines, problems)
    own: dict[tuple[str, str], set[str]] = defaultdict(set)
    for line_id, component_id, model_id in groups:
        if model_id:
            own[line_id, component_id].add(model_id)
    lineages = []
    for (line_id, component_id, model_id), rows in groups.items():
        line = lines.by_id[line_id]
        present = {model for block in line.blocks for model, _ in block.models}
        governed = frozenset({model_id} if model_id else present - own[line_id, component_id])
        indices = tuple(index for index, block in enumerate(line.blocks) if any(model in governed for model, _ in block.models))
        variants = _variants(rows, problems)
        if not indices:
            problems += _nothing_concerned(rows, line_id, model_id)
        if variants is None or not indices:
            continue
        concerned = Concerned(line, indices)
        stated = [(each.row, *_said(each, concerned, problems)) for each in rows]
        start = _start(stated, variants, copies, problems)
        if start is None:
            continue
        first, order = start
        chain = variants or (first,)
        changes = []
        for old, new in pairwise(chain):
            of_link = [each for each in stated if (each[0].old_variant_id, each[0].new_variant_id) == (old, new)]
            changes.append(_change(old, new, of_link, copies))
        lineages.append(Lineage(line_id, component_id, model_id, chain, order, concerned, governed, tuple(changes)))
    return tuple(lineages), problems


def _grouped(rows: Iterable["Breakpoint"], lines: Lines, problems: list[Problem]) -> dict[tuple[str, str, str], list[_Row]]:
    """The breakpoints by (line_id, component_id, model_id); without a serial they are of every line that has others, or of every line."""
    placed: dict[tuple[str, str, str], list[_Row]] = defaultdict(list)
    anywhere = []
    for row in rows:
        if row.retracted:
            continue
        places: dict[str, SerialPlace] | None = {}
        for column in SERIALS:
            serial = getattr(row, column)
            if serial is None or places is None:
                continue
            try:
                places[column] = find(lines, row.series_id, serial)
            except DataError as error:
                problems.append(Problem("breakpoints", row.breakpoint_id, column, error.problem, error.remedy))
                places = None
        if places is None:
            continue
        found = {place.line.line_id for place in places.values()}
        if len(found) > 1:
            problem = f"Its serials stand in several lines: {', '.join(sorted(found))}."
            problems.append(Problem("breakpoints", row.breakpoint_id, "last_old", problem, "Write one breakpoint for each line."))
        elif found:
            placed[found.pop(), row.component_id, row.model_id or ""].append(_Row(row, places))
        else:
            anywhere.append(row)
    with_serials = set(placed)
    for row in anywhere:
        keys = [(line.line_id, row.component_id, row.model_id or "") for line in lines.by_series.get(row.series_id, ())]
        for key in [key for key in keys if key in with_serials] or keys:
            placed[key].append(_Row(row, {}))
    return placed


def _nothing_concerned(rows: Sequence[_Row], line_id: str, model_id: str) -> Iterable[Problem]:
    for each in rows:
        if each.places:
            whom = f'of the model "{model_id}"' if model_id else "without breakpoints of its own model"
            problem = f'No block of "{line_id}" has a unit {whom}, so the claim is about nothing.'
            yield Problem("breakpoints", each.row.breakpoint_id, "model_id", problem, "Correct model_id, or the models of the blocks.", "doubt")


def _variants(rows: Sequence[_Row], problems: list[Problem]) -> tuple[str, ...] | None:
    """The variants in order, () without any link; None if the links do not form a chain, which is reported."""
    links = {(old, each.row.new_variant_id): each.row.breakpoint_id for each in rows if (old := each.row.old_variant_id)}
    after: dict[str, str] = {}
    before: dict[str, str] = {}
    wrong: list[tuple[str, str, str, str]] = []
    for (old, new), breakpoint_id in links.items():
        if after.setdefault(old, new) != new:
            wrong.append((breakpoint_id, "new_variant_id", f'After "{old}" come both "{after[old]}" and "{new}".', _BRANCH))
        elif before.setdefault(new, old) != old:
            wrong.append((breakpoint_id, "old_variant_id", f'Before "{new}" come both "{before[new]}" and "{old}".', _BRANCH))
    heads = [old for old in after if old not in before]
    chain = heads[:1]
    while chain and chain[-1] in after and len(chain) <= len(links):
        chain.append(after[chain[-1]])
    apart = [link for link in links if link[0] not in chain]
    if apart and not wrong:
        if len(heads) > 1:
            problem = f'Nothing says whether "{heads[1]}" came before "{chain[0]}" or after "{chain[-1]}".'
            remedy = "Add the breakpoint that leads from the one to the other."
        else:
            problem, remedy = f"The claims run in a circle: {_walk(apart[0][0], after)}.", "Retract the claim that is wrong."
        wrong.append((links[apart[0]], "old_variant_id", problem, remedy))
    problems += [Problem("breakpoints", *each) for each in wrong]
    return None if wrong else tuple(chain)


def _walk(start: str, after: dict[str, str]) -> str:
    walked = [start]
    while (following := after[walked[-1]]) not in walked:
        walked.append(following)
    return " to ".join([*walked, following])


def _said(each: _Row, concerned: Concerned, problems: list[Problem]) -> tuple[Claim | None, int | None]:
    """What a breakpoint says, before its reliability is known, and the mixed stretch it reports."""
    row, n = each.row, concerned.count
    at = {
        column: concerned.last_before(place.order) if column == "last_old" else concerned.order(place.order)
        for column, place in each.places.items()
    }
    first, last = at.get("first_new"), at.get("last_old")
    if first is not None:
        if "first_new_to" in at:
            if at["first_new_to"] < first:
                problem = f"The range ends at {row.first_new_to}, before it begins at {row.first_new}."
                problems.append(Problem("breakpoints", row.breakpoint_id, "first_new_to", problem, "Swap the two."))
                return None, None
            return Claim("range", first, at["first_new_to"], 0.0), None
        if last is None:
            return Claim("about" if row.about else "exact", first, first, 0.0), None
        if last + 1 < first:
            return Claim("range", last + 1, first, 0.0), None
        return Claim("exact", first, first, 0.0), last - first + 1 or None
    if last is not None:
        return Claim("range", last + 1, n, 0.0), None
    if row.when is None:
        return None, None
    built = _built_in(row.when, concerned)
    if built is None:
        problem = f'No block of "{concerned.line.line_id}" that it concerns was built in {row.when}.'
        remedy = "Add first_new or last_old, or the dates of the blocks."
        problems.append(Problem("breakpoints", row.breakpoint_id, "when", problem, remedy, "doubt"))
        return None, None
    return Claim("range", *built, 0.0), None


def _built_in(when: str, concerned: Concerned) -> tuple[int, int] | None:
    """First and last order built in that time, if each block was built evenly over its days."""
    asked = edtf.parse(when)
    found = []
    for index, start in zip(concerned.blocks, concerned.starts, strict=False):
        block = concerned.line.blocks[index]
        if block.built is None or asked.first > block.built.last or asked.last < block.built.first:
            continue
        days = (block.built.last - block.built.first).days + 1
        low = block.count * (asked.first - block.built.first).days // days
        high = -(-block.count * ((asked.last - block.built.first).days + 1) // days) - 1
        found.append((start + min(max(low, 0), block.count - 1), start + min(max(high, 0), block.count - 1)))
    return (min(low for low, _ in found), max(high for _, high in found)) if found else None


def _start(
    stated: Sequence[tuple["Breakpoint", Claim | None, int | None]], variants: tuple[str, ...], copies: Copies, problems: list[Problem]
) -> tuple[str, int] | None:
    """The first variant and the order from which it was fitted; None if the rows do not agree on the variant, which is reported."""
    starts = [(copies.grade(row.source_id), claim.low if claim else 0, row.breakpoint_id, row) for row, claim, _ in stated if not row.old_variant_id]
    if not starts:
        return variants[0], 0
    first = variants[0] if variants else min(starts, key=lambda each: each[:3])[3].new_variant_id
    wrong = [row for *_, row in starts if row.new_variant_id != first]
    for row in wrong:
        problem = f'It starts with "{row.new_variant_id}", but the first variant is "{first}".'
        problems.append(Problem("breakpoints", row.breakpoint_id, "new_variant_id", problem, "Write in old_variant_id what was fitted before."))
    return None if wrong else (first, min(starts, key=lambda each: each[:3])[1])


def _change(old: str, new: str, stated: Sequence[tuple["Breakpoint", Claim | None, int | None]], copies: Copies) -> Change:
    made = [(row.breakpoint_id, row.source_id, claim) for row, claim, _ in stated if claim is not None]
    width_of = {row.breakpoint_id: width for row, _, width in stated}
    claims, origin = copies.count_once(made)
    entries = []
    for row, claim, width in stated:
        reliability = copies.reliability(row.source_id)
        said = Claim(claim.kind, claim.low, claim.high, reliability) if claim else None
        entries.append(Stated(row.breakpoint_id, said, width, row.breakpoint_id in origin))
    widths = sorted({width for breakpoint_id in origin if (width := width_of[breakpoint_id])})
    return Change(old, new, tuple(claims), tuple(widths), tuple(entries))
