"""Copies: a list copied from another is not a second witness.

All claims of one root source on one change-over count once, and claims that say the same count once unless two factory-grade
sources make them. Rules: docs/model.md, section 5.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from kb.assumptions import Assumptions
from kb.probability.production.claims import Claim

if TYPE_CHECKING:
    from kb.words.records import Source

BEST, WORST = "A", "D"


class Copies:
    """The sources of a dataset and what each was copied from."""

    def __init__(self, sources: Iterable["Source"], assumptions: Assumptions) -> None:
        """A source that is not recorded counts as the worst grade."""
        rows = list(sources)
        self._grade = {row.source_id: str(row.grade) for row in rows}
        self._from = {row.source_id: row.copied_from[0] for row in rows if row.copied_from}
        self._reliability = assumptions.grade_reliability

    def grade(self, source_id: str) -> str:
        """A, B, C or D."""
        return self._grade.get(source_id, WORST)

    def root(self, source_id: str) -> str:
        """Where the first `copied_from` of each finally leads; in a circle, which is an error elsewhere, the last new one."""
        walked = [source_id]
        while (before := self._from.get(walked[-1])) is not None and before not in walked:
            walked.append(before)
        return walked[-1]

    def reliability(self, source_id: str) -> float:
        """P(the source is right), by the grade of its root."""
        return float(self._reliability[self.grade(self.root(source_id))])

    def count_once(self, made: Sequence[tuple[str, str, Claim]]) -> tuple[list[Claim], set[str]]:
        """The claims that count, and the breakpoints that are not copies.

        Args:
            made: (breakpoint_id, source_id, claim) about one change-over; reliabilities are filled in here.
        """
        by_root: dict[str, list[tuple[bool, str, str, Claim]]] = defaultdict(list)
        for breakpoint_id, source_id, claim in made:
            root = self.root(source_id)
            by_root[root].append((source_id != root, self.grade(source_id), breakpoint_id, claim))
        alike: dict[tuple[str, int, int], list[str]] = defaultdict(list)
        originals = set()
        for root, claims in by_root.items():
            _, _, breakpoint_id, claim = min(claims, key=lambda each: each[:3])
            originals.add(breakpoint_id)
            alike[claim.kind, claim.low, claim.high].append(self.grade(root))
        counted = []
        for (kind, low, high), grades in alike.items():
            for grade in [BEST] * grades.count(BEST) or [min(grades)]:
                counted.append(Claim(kind, low, high, float(self._reliability[grade])))  # type: ignore[arg-type]
        return counted, originals
