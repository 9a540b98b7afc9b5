"""What is said of parts in one role of one component, put so that what is said alike is judged once.

A rule set is what the rules say of one part beside what they say of the others in its role. Many parts share one: a bearing and a seal that both
go with the old housing, say. Nothing here depends on the unit that is asked about.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from kb.probability.catalogue.fitments import Rule
from kb.words.applicability import Applicability


class RuleSummary(NamedTuple):
    """What a rule says of its part. firm: it rests neither on grade D nor on a condition that a person must judge."""

    applies: Applicability
    fits: bool
    firm: bool
    quantity: float
    measure_first: str


@dataclass(frozen=True, eq=False)
class RuleSet:
    """What is said of one part in one role. others: where a rule says that another part is the one. critical: the part is safety-critical."""

    summaries: tuple[RuleSummary, ...]
    others: tuple[Applicability, ...]
    critical: bool

    @property
    def applicabilities(self) -> list[Applicability]:
        """All that it depends on."""
        return [*(summary.applies for summary in self.summaries), *self.others]


@dataclass(frozen=True, eq=False)
class PartInRole:
    """A part in one role of one component: its rules, and the rule set that they make beside those of the others."""

    part_number: str
    rules: tuple[Rule, ...]
    rule_set: RuleSet


@dataclass(frozen=True, eq=False)
class Role:
    """All parts that are said to fit, or not to fit, in one role of one component."""

    component_id: str
    role: str
    entries: tuple[PartInRole, ...]

    @cached_property
    def by_number(self) -> dict[str, PartInRole]:
        """part number -> its entry."""
        return {entry.part_number: entry for entry in self.entries}

    @cached_property
    def applicabilities(self) -> list[Applicability]:
        """Those of all its rules."""
        return list(dict.fromkeys(rule.applies for entry in self.entries for rule in entry.rules))

    @cached_property
    def further(self) -> list[Applicability]:
        """Those of them that speak of more than the unit's serial and the casting at the place asked about."""
        return [
            applies
            for applies in self.applicabilities
            if applies.limits or any(c.component_id != self.component_id or c.place for c in applies.conditions)
        ]


class RuleSets:
    """Rule sets, each there once."""

    def __init__(self, grade: Callable[[Rule], str]) -> None:
        """grade: of the source of a rule."""
        self._grade = grade
        self._known: dict[object, RuleSet] = {}

    def of(self, rules: Iterable[Rule], others: Iterable[Applicability], critical: bool) -> RuleSet:
        """The rule set of a part with these rules. others: where rules say that other parts fit in the same role."""
        summaries = tuple(RuleSummary(r.applies, r.fits, self._grade(r) != "D" and not r.proviso, r.quantity, r.measure_first) for r in rules)
        key = (summaries, tuple(dict.fromkeys(others)), critical)
        if key not in self._known:
            self._known[key] = RuleSet(*key)
        return self._known[key]

    def roles(self, by_part: Mapping[str, Sequence[Rule]], critical: Callable[[str], bool]) -> list[Role]:
        """The roles in which some parts are spoken of, by their rules, own and inherited."""
        grouped: dict[tuple[str, str], dict[str, list[Rule]]] = {}
        for number, rules in by_part.items():
            for rule in rules:
                grouped.setdefault((rule.component_id, rule.role), {}).setdefault(number, []).append(rule)
        return [Role(component, role, tuple(self._entries(parts, critical))) for (component, role), parts in grouped.items()]

    def _entries(self, parts: Mapping[str, Sequence[Rule]], critical: Callable[[str], bool]) -> Iterable[PartInRole]:
        owners: dict[Applicability, set[str]] = {}
        for number, rules in parts.items():
            for rule in rules:
                if rule.fits and not rule.inherited_from:
                    owners.setdefault(rule.applies, set()).add(number)
        for number, rules in parts.items():
            others = (applies for applies, of in owners.items() if of - {number})
            yield PartInRole(number, tuple(rules), self.of(rules, others, critical(number)))
