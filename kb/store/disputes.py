"""Disputes: everything on which what is recorded does not agree, in one list, worst first.

Worst is what has already cost somebody money, then what moves answers most: a claim that the evidence speaks against, sources that contradict
each other, a part listed in two ways; then single units, then slips that no answer rests on.
"""

import json
from collections.abc import Iterator, Sequence

from kb.dataset.rules import RowProblem
from kb.probability.production.estimate import ChangeOver, Production
from kb.words.dataset import Dataset
from kb.words.records import TABLES

Row = tuple[str, str, str, str, str]
WORST_FIRST = (
    "outcome", "claim against evidence", "contradiction", "description", "casting date", "unknown serial", "copy differs", "rival block", "units",
    "look-alike",
)  # fmt: skip
AGAINST = "claim against evidence"


def dispute_rows(dataset: Dataset, problems: Sequence[RowProblem], production: Production, *, public: bool = False) -> Iterator[Row]:
    """(dispute_id, kind, subject, text, sources) of every doubt and every claim that is contradicted, worst first.

    Two claims that contradict each other, of which the evidence contradicts one, are one dispute: that of the claim against the evidence.

    public: say nothing about private files.
    """
    known = set()
    against = list(_against(dataset, production))
    settled = {(row[2], breakpoint_id) for breakpoint_id, _, row in against}
    rows: list[tuple[float, Row]] = [(probability, row) for _, probability, row in against]
    for doubt in problems:
        if doubt.severity == "doubt" and doubt.index is not None and not (public and TABLES[doubt.table].private_table):
            key = getattr(dataset, doubt.table)[doubt.index].key_text
            known.add((doubt.table, key))
            problem, left = doubt.problem, [each for each in doubt.against if not {(doubt.subject, key), (doubt.subject, each)} & settled]
            if doubt.against:
                if not left:
                    continue
                problem = problem.replace(", ".join(doubt.against), ", ".join(left))
            name = f"{doubt.table}/{key}/{doubt.column}"
            rows.append((0.0, (name, doubt.kind, doubt.subject, _text(problem, doubt.remedy), _json(doubt.sources))))
    for found in production.problems:
        if found.severity == "doubt" and (found.table, found.key) not in known:
            name = f"{found.table}/{found.key}/{found.column}"
            rows.append((0.0, (name, found.table, found.key, _text(found.problem, found.remedy), _json(()))))
    rank = {kind: number for number, kind in enumerate(WORST_FIRST)}
    rows.sort(key=lambda row: (rank.get(row[1][1], len(rank)), row[0]))
    seen: dict[str, int] = {}
    for _, row in rows:
        seen[row[0]] = seen.get(row[0], 0) + 1
        yield (f"{row[0]}/{seen[row[0]]}" if seen[row[0]] > 1 else row[0], *row[1:])


def _against(dataset: Dataset, production: Production) -> Iterator[tuple[str, float, Row]]:
    """(breakpoint_id, P(it is right), row) of claims that sightings, or sightings and better sources together, contradict."""
    claimed = {row.breakpoint_id: row for row in dataset.breakpoints}
    seen_in: dict[tuple[str, str], dict[str, None]] = {}
    for row in dataset.sightings:
        if row.source_id and not row.retracted:
            seen_in.setdefault((row.series_id, row.component_id), {})[row.source_id] = None
    for each in production.changeovers:
        for claim in each.claims if each.sightings else ():
            if claim.standing == "contradicted":
                said = claimed[claim.breakpoint_id]
                others = [claimed[other.breakpoint_id].source_id for other in each.claims if other.standing != "contradicted"]
                sources = tuple(dict.fromkeys((said.source_id, *others, *seen_in.get((each.series_id, each.component_id), ()))))
                text = (
                    f'"{each.old_variant_id}" to "{each.new_variant_id}": {claim.breakpoint_id} ({said.first_new or said.last_old or said.when}) is '
                    f"contradicted; {each.sightings} sightings and all claims together put the first new one {_where(each)}."
                )
                remedy = "Look the page up again; retract the claim if it is a slip, or add the sightings that speak for it."
                key = f"breakpoints/{claim.breakpoint_id}/contradicted"
                yield claim.breakpoint_id, claim.probability, (key, AGAINST, each.changeover_id, _text(text, remedy), _json(sources))


def _where(each: ChangeOver) -> str:
    if each.low == each.high:
        return f"at {each.low}"
    return f"in {each.low} to {each.high}" if each.high else f"at {each.low} or later"


def _text(problem: str, remedy: str) -> str:
    return f"{problem} {remedy}"


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)
