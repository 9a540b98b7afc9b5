"""Several parts with the same rules share one rule set, and what speaks against a part is what others say."""

from typing import Any

import pytest

from kb.desk.fitment.rulesets import Role, RuleSets
from kb.probability.catalogue.fitments import Rule
from kb.words.applicability import Applicability, Condition, Limit

OLD, NEW = (Applicability.of(conditions=(Condition("head", None, variant),)) for variant in ("old", "new"))


def rule(number: str, applies: Applicability = OLD, **more: Any) -> Rule:
    fields = {"component_id": "head", "role": "seal", "fits": True, "quantity": 1.0, "per": "place", "measure_first": "", "source_id": "book"}
    return Rule(fitment_id=f"f-{number}", part_number=number, applies=applies, page="", **{**fields, **more})  # type: ignore[arg-type]


def sets() -> RuleSets:
    return RuleSets(lambda each: "D" if each.source_id == "rumour" else "A")


def roles(*rules: Rule) -> dict[tuple[str, str], Role]:
    by_part: dict[str, list[Rule]] = {}
    for each in rules:
        by_part.setdefault(each.part_number, []).append(each)
    return {(role.component_id, role.role): role for role in sets().roles(by_part, lambda number: number == "CRITICAL")}


def test_parts_of_which_the_same_is_said_share_a_rule_set() -> None:
    known = sets()
    assert known.of([rule("A")], [NEW], False) is known.of([rule("B")], [NEW], False)
    assert known.of([rule("A")], [NEW, NEW], False) is known.of([rule("A")], [NEW], False)  # said once or twice
    different = [
        known.of([rule("A")], [NEW], False), known.of([rule("A")], [], False), known.of([rule("A")], [NEW], True),
        known.of([rule("A", NEW)], [NEW], False), known.of([rule("A", fits=False)], [NEW], False), known.of([rule("A", quantity=2.0)], [NEW], False),
        known.of([rule("A", measure_first="bore")], [NEW], False), known.of([rule("A", source_id="rumour")], [NEW], False),
    ]  # fmt: skip
    assert len({id(each) for each in different}) == len(different)


@pytest.mark.parametrize(("more", "firm"), [({}, True), ({"source_id": "rumour"}, False), ({"proviso": "if the late pump is fitted"}, False)])
def test_a_rule_is_firm_unless_it_rests_on_grade_d_or_on_words_alone(more: dict[str, str], firm: bool) -> None:
    assert sets().of([rule("A", **more)], [], False).summaries[0].firm is firm


def test_against_a_part_speak_the_rules_by_which_others_fit() -> None:
    (role,) = roles(rule("A"), rule("B", NEW), rule("C", NEW)).values()
    assert role.by_number["A"].rule_set.others == (NEW,)
    assert role.by_number["B"].rule_set.others == (OLD, NEW)  # C is for new ones, too
    assert role.by_number["B"].rule_set is role.by_number["C"].rule_set


def test_its_own_rules_do_not_speak_against_a_part_nor_do_exceptions_and_what_is_inherited() -> None:
    (role,) = roles(rule("A"), rule("A", NEW), rule("B", fits=False), rule("C", NEW, inherited_from="A")).values()
    assert role.by_number["A"].rule_set.others == ()
    assert role.by_number["C"].rule_set.others == (OLD, NEW)


def test_other_roles_and_components_are_no_others() -> None:
    found = roles(rule("A"), rule("B", NEW, role="bearing"), rule("CRITICAL", NEW, component_id="case"))
    assert set(found) == {("head", "seal"), ("head", "bearing"), ("case", "seal")}
    assert [entry.rule_set.others for role in found.values() for entry in role.entries] == [(), (), ()]
    assert [entry.rule_set.critical for role in found.values() for entry in role.entries] == [False, False, True]


def test_what_a_rule_set_depends_on() -> None:
    assert sets().of([rule("A")], [NEW], False).applicabilities == [OLD, NEW]


def test_what_speaks_of_more_than_the_serial_and_the_casting_asked_about() -> None:
    model, limited = Applicability.of(models=("m",)), Applicability.of(limits=(Limit("no", "5"),))
    elsewhere = Applicability.of(conditions=(Condition("case", None, "late"),))
    at_a_place = Applicability.of(conditions=(Condition("head", "right", "new"),))
    (role,) = roles(rule("A"), rule("B", model), rule("C", limited), rule("D", elsewhere), rule("E", at_a_place), rule("F")).values()
    assert role.applicabilities == [OLD, model, limited, elsewhere, at_a_place]
    assert role.further == [limited, elsewhere, at_a_place]
