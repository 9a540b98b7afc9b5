"""What is said of parts in one role of one component, put so that what is said alike is judged once.

A case is the statements about one part beside those about the others in its role. Many parts are the same case: a bearing and a seal
that both go with the old housing, say. Nothing here depends on the unit that is asked about.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

from kb.probability.catalogue.fitments import Applicability, Rule
from kb.words.answers.fitment import Fit


class RuleSummary(NamedTuple):
    """What a rule says of its part. firm: it rests neither on grade D nor on a condition that a person must judge."""

    claim: Applicability
    fits: bool
    firm: bool
    quantity: float
    measure_first: str


@dataclass(frozen=True, eq=False)
class RuleSet:
    """The statements about one part in one role. others: where a rule says that another part is the one. critical: the part is safety-critical."""

    statements: tuple[RuleSummary, ...]
    others: tuple[Applicability, ...]
    critical: bool

    @property
    def claims(self) -> list[Applicability]:
        """All claims that it rests on."""
        return [*(statement.claim for statement in self.statements), *self.others]


@dataclass(frozen=True, eq=False)
class PartInRole:
    """A part in one role of one component: its rules, and the case that they make. fits: answers begun, kept by `kb.desk.fitment.fits`."""

    part_number: str
    rules: tuple[Rule, ...]
    case: RuleSet
    begun: dict[object, Fit] = field(default_factory=dict)


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
    def claims(self) -> list[Applicability]:
        """The claims of all its rules."""
        return list(dict.fromkeys(rule.claim for entry in self.entries for rule in entry.rules))

    @cached_property
    def further(self) -> list[Applicability]:
        """Those of them that speak of more than the unit's serial and the casting at the place asked about."""
        return [claim for claim in self.claims if claim.limits or any(c.component_id != self.component_id or c.place for c in claim.conditions)]


class RuleSets:
    """Cases, each there once."""

    def __init__(self, grade: Callable[[Rule], str]) -> None:
        """grade: of the source of a rule."""
        self._grade = grade
        self._known: dict[object, RuleSet] = {}

    def case(self, rules: Iterable[Rule], others: Iterable[Applicability], critical: bool) -> RuleSet:
        """The case of a part with these rules. others: the claims of rules by which other parts fit in the same role."""
        statements = tuple(RuleSummary(r.claim, r.fits, self._grade(r) != "D" and not r.proviso, r.quantity, r.measure_first) for r in rules)
        key = (statements, tuple(dict.fromkeys(others)), critical)
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
                    owners.setdefault(rule.claim, set()).add(number)
        for number, rules in parts.items():
            others = (claim for claim, of in owners.items() if of - {number})
            yield PartInRole(number, tuple(rules), self.case(rules, others, critical(number)))
