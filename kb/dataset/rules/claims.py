"""Sources and claims: copies that form a circle or differ from their root, and claims that contradict each other."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import combinations

from kb.assumptions import Assumptions
from kb.dataset.rules.circles import circles
from kb.dataset.rules.problem import RowProblem
from kb.probability.production.copied_claims import Copies
from kb.probability.production.lineages import Change, Lineage, Stated
from kb.words.dataset import Dataset


def check(dataset: Dataset, lineages: Sequence[Lineage]) -> Iterator[RowProblem]:
    """All problems among sources and among their claims."""
    row_of = {row.source_id: index for index, row in enumerate(dataset.sources)}
    arrows = {row.source_id: [each for each in row.copied_from if each in row_of] for row in dataset.sources}
    for circle in circles(arrows):
        problem = f"The sources are copied from each other in a circle: {' from '.join(circle)}."
        yield RowProblem("sources", max(row_of[each] for each in circle), "copied_from", problem, "Leave copied_from of the original empty.")
    copies = Copies(dataset.sources, Assumptions())
    breakpoints = {row.breakpoint_id: index for index, row in enumerate(dataset.breakpoints)}
    for lineage in lineages:
        for change in lineage.changes:
            subject = "|".join((lineage.line_id, lineage.component_id, lineage.model_id, change.old, change.new))
            yield from _claims(dataset, change, subject, copies, breakpoints)


def _claims(dataset: Dataset, change: Change, subject: str, copies: Copies, row_of: dict[str, int]) -> Iterator[RowProblem]:
    by_root: dict[str, list[Stated]] = defaultdict(list)
    for each in change.stated:
        if each.claim is not None:
            by_root[copies.root(dataset.breakpoints[row_of[each.breakpoint_id]].source_id)].append(each)
    what = f'"{change.old}" to "{change.new}"'
    for stated in by_root.values():
        original = next((each for each in stated if each.counts), stated[0])
        for each in stated:
            if each is not original and _place(each) != _place(original):
                row, root = (dataset.breakpoints[row_of[one.breakpoint_id]] for one in (each, original))
                problem = f'{what}: "{row.source_id}" says otherwise than "{root.source_id}" ({root.breakpoint_id}), from which it comes.'
                remedy = "Compare both with the source and correct the slip; the copy is not counted."
                sources: tuple[str, ...] = (root.source_id, row.source_id)
                yield RowProblem("breakpoints", row_of[each.breakpoint_id], _column(row), problem, remedy, "doubt", "copy differs", subject, sources)
    counted = [each for each in change.stated if each.counts]
    against: dict[str, list[str]] = defaultdict(list)
    for one, other in combinations(counted, 2):
        if _apart(one, other):
            later, earlier = sorted((one, other), key=lambda each: row_of[each.breakpoint_id], reverse=True)
            against[later.breakpoint_id].append(earlier.breakpoint_id)
    for breakpoint_id, others in against.items():
        row = dataset.breakpoints[row_of[breakpoint_id]]
        problem = f"{what}: contradicts {', '.join(others)}."
        remedy = "kb review shows what claims and sightings say together; retract a claim that proves wrong."
        sources = tuple(dict.fromkeys((*(dataset.breakpoints[row_of[each]].source_id for each in others), row.source_id)))
        at = row_of[breakpoint_id]
        yield RowProblem("breakpoints", at, _column(row), problem, remedy, "doubt", "contradiction", subject, sources, tuple(others))


def _place(stated: Stated) -> tuple[str, int, int]:
    assert stated.claim is not None
    return stated.claim.kind, stated.claim.low, stated.claim.high


def _apart(one: Stated, other: Stated) -> bool:
    """They cannot both be right: neither is an "about", and they have no order in common."""
    (kind, low, high), (other_kind, other_low, other_high) = _place(one), _place(other)
    return "about" not in (kind, other_kind) and (high < other_low or other_high < low)


def _column(row: object) -> str:
    return next(name for name in ("first_new", "last_old", "when") if getattr(row, name) is not None)
