"""What a knowledge base says about parts: numbers, rules of fitment, supersessions; loaded for the numbers that matter and kept."""

from collections.abc import Iterable
from functools import cached_property

from kb.desk.fitment.cell_groups import Distinctions
from kb.desk.fitment.rulesets import PartInRole, Role, RuleSets
from kb.probability.catalogue.fitments import Rule, rules_of, same_function
from kb.probability.catalogue.partnumbers import KnownNumbers, ways_to_read
from kb.probability.catalogue.supersession import Arrow, Judge
from kb.probability.catalogue.trace import Trace, trace
from kb.store import parts as stored
from kb.store.book import Book
from kb.store.rows import FitmentConditionRow, FitmentRow, PartRow, SupersessionInOrderRow
from kb.words.applicability import Applicability, Condition, Limit


class Rulebook:
    """The parts side of one opened book."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self._parts: dict[str, PartRow | None] = {}
        self._own: dict[str, list[Rule]] = {}
        self._arrows: dict[str, tuple[Arrow, ...]] = {}
        self._by_role: dict[tuple[str, str], list[Rule]] = {}
        self._roles: dict[str, list[Role]] = {}
        self._cuts: dict[str, Distinctions] = {}
        self._inherited: dict[str, list[Rule]] = {}
        self._traces: dict[str, Trace] = {}
        self.rule_sets = RuleSets(self.grade)

    def part(self, part_number: str) -> PartRow | None:
        """The part with exactly this number."""
        if part_number not in self._parts:
            self._parts[part_number] = stored.part(self.book, part_number)
        return self._parts[part_number]

    def asked_for(self, typed: str) -> list[PartRow]:
        """The parts that a typed number surely means, whatever its case, spaces and dashes; several makers may use one number.

        The part written exactly so alone, if there is one. A supplier's own number for a part is none of these: see `kb.desk.trade.search`.
        """
        exact = self.part(typed)
        if exact is not None:
            return [exact]
        ways = (stored.parts_of_form(self.book, form) for form in ways_to_read(typed))
        return next((rows for rows in ways if rows), [])

    @cached_property
    def numbers(self) -> KnownNumbers:
        """All part numbers, to offer near ones."""
        found: dict[str, list[str]] = {}
        for row in stored.numbers(self.book):
            found.setdefault(row.normal, []).append(row.part_number)
        return KnownNumbers(found)

    @cached_property
    def alike(self) -> dict[str, frozenset[str]]:
        """variant_id -> variants of the same function."""
        return same_function({row.variant_id: row.same_function_as for row in self.book.variants.values()})

    @cached_property
    def component_of(self) -> dict[str, str]:
        """variant_id -> its component."""
        return {v.variant_id: v.component_id for v in self.book.variants.values()}

    def own_rules(self, part_number: str) -> list[Rule]:
        """The rules of a part's own fitment rows."""
        if part_number not in self._own:
            self._own[part_number] = _rules(stored.fitments_of_part(self.book, part_number))
        return self._own[part_number]

    def rules(self, part_number: str) -> list[Rule]:
        """Own and inherited rules."""
        if part_number not in self._inherited:
            arrows = self.arrows(part_number)
            numbers = {part_number, *(a.old for a in arrows), *(a.new for a in arrows)}
            own = {number: self.own_rules(number) for number in numbers}
            self._inherited[part_number] = rules_of(part_number, own, arrows)
        return self._inherited[part_number]

    def entry(self, part_number: str, component_id: str, role: str) -> PartInRole | None:
        """A part in one role of a component, beside the others in that role; None if nothing is said of it there."""
        rules = [r for r in self.rules(part_number) if (r.component_id, r.role) == (component_id, role)]
        others = (r.applies for r in self.in_role(component_id, role) if r.part_number != part_number and r.fits)
        return PartInRole(part_number, tuple(rules), self.rule_sets.of(rules, others, self.critical(part_number))) if rules else None

    def critical(self, part_number: str) -> bool:
        """The part is safety-critical."""
        part = self.part(part_number)
        return bool(part is not None and part.safety_critical)

    def grade(self, rule: Rule) -> str:
        """The grade of a rule's source."""
        source = self.book.sources.get(rule.source_id)
        return source.grade if source is not None else "D"

    def in_role(self, component_id: str, role: str) -> list[Rule]:
        """All rules, of any part, in one role of a component."""
        key = (component_id, role)
        if key not in self._by_role:
            self._by_role[key] = _rules(stored.fitments_in_role(self.book, component_id, role))
        return self._by_role[key]

    def roles(self, maker_id: str) -> list[Role]:
        """Everything that is said of parts at the components of a maker."""
        if maker_id not in self._roles:
            mine = _rules(stored.fitments_of_maker(self.book, maker_id))
            numbers = set(dict.fromkeys(r.part_number for r in mine))
            heirs = stored.heirs(self.book, maker_id)
            own: dict[str, list[Rule]] = {}
            for each in mine:
                own.setdefault(each.part_number, []).append(each)
            found = {}
            for number in sorted(numbers | heirs):
                arrows = self.arrows(number) if number in heirs else ()
                rules = rules_of(number, own, arrows)
                if rules:
                    found[number] = rules
            self._roles[maker_id] = self.rule_sets.roles(found, self.critical)
        return self._roles[maker_id]

    def cuts(self, maker_id: str) -> Distinctions:
        """What all that is said of parts at the components of a maker tells units apart by."""
        if maker_id not in self._cuts:
            self._cuts[maker_id] = self.cuts_of(applies for role in self.roles(maker_id) for applies in role.applicabilities)
        return self._cuts[maker_id]

    def cuts_of(self, asked: Iterable[Applicability]) -> Distinctions:
        """What these tell units apart by."""
        limits, models = dict[Limit, None](), dict[str, None]()
        for applies in asked:
            limits.update(dict.fromkeys(limit for limit in applies.limits if self.own_assembly(limit) is None))
            models.update(dict.fromkeys(applies.models))
        return Distinctions(tuple(limits), tuple(models))

    def own_assembly(self, limit: Limit) -> str | None:
        """The assembly whose own number a limit speaks of, None if it speaks of the unit's serial."""
        component = self.book.series[limit.series_id].component_id if limit.series_id else None
        return self.book.components[component].assembly if component else None

    def trace(self, part_number: str, holds: Judge) -> Trace:
        """What can be bought today instead of a number, its conditions judged for a unit; kept where there are none."""
        if part_number in self._traces:
            return self._traces[part_number]
        arrows = self.arrows(part_number)
        numbers = {part_number, *(a.old for a in arrows), *(a.new for a in arrows)}
        rows = {number: self.part(number) for number in numbers}
        available = {number: row.available if row is not None and row.available else "unknown" for number, row in rows.items()}
        found = trace(arrows, part_number, available, holds)
        if all(arrow.applies.everywhere for arrow in arrows):
            self._traces[part_number] = found
        return found

    def arrows(self, part_number: str) -> tuple[Arrow, ...]:
        """Every supersession connected with a number, in either direction, in file order."""
        if part_number not in self._arrows:
            rows: dict[str, SupersessionInOrderRow] = {}
            numbers, fresh = {part_number}, [part_number]
            while fresh:
                number = fresh.pop()
                for row in stored.supersessions_of(self.book, number):
                    rows[row.supersession_id] = row
                    for other in (row.old_part, row.new_part):
                        if other not in numbers:
                            numbers.add(other)
                            fresh.append(other)
            arrows = tuple(Arrow.of(row, self.component_of) for row in sorted(rows.values(), key=lambda row: row.position))
            for number in numbers:
                self._arrows[number] = arrows
        return self._arrows[part_number]


def rule(row: FitmentRow, conditions: Iterable[FitmentConditionRow] = ()) -> Rule:
    """The rule of one fitment row and its further conditions."""
    further = tuple(Condition(c.component_id, c.place or None, c.variant_id, c.feature_id, c.value, c.low, c.high) for c in conditions)
    return Rule(
        fitment_id=row.fitment_id,
        part_number=row.part_number,
        component_id=row.component_id,
        role=row.role,
        fits=row.fits,
        quantity=row.quantity,
        per=row.per,
        applies=Applicability.of_row(row, row.component_id, row.place or None, further),
        measure_first=row.measure_first or "",
        source_id=row.source_id,
        page=row.page or "",
    )


def _rules(ruled: Iterable[stored.Ruled]) -> list[Rule]:
    return [rule(row, conditions) for row, conditions in ruled]
