"""Fitments as rules: what must be true of a unit and its castings for a part to fit, say otherwise, or say nothing.

A fitment row, with the conditions of every supersession through which it was inherited, becomes one `Rule`; whether it applies to a cell and a
combination of fitted variants is decided in `kb.desk.fitment.joint_table`. docs/model.md, section 9.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from kb.probability.catalogue.supersession import Arrow, inheritance
from kb.words.applicability import Applicability


@dataclass(frozen=True)
class Rule:
    """One fitment row as it applies to one part number, its own or an inherited one."""

    fitment_id: str
    part_number: str
    component_id: str
    role: str
    fits: bool
    quantity: float
    per: str
    applies: Applicability
    measure_first: str
    source_id: str
    page: str
    inherited_from: str = ""
    proviso: str = ""  # a condition in words alone, which a person must judge


def rules_of(part_number: str, own: Mapping[str, list[Rule]], arrows: Iterable[Arrow]) -> list[Rule]:
    """All rules of a part: its own, and those of numbers it replaces through supersessions that carry fitment, with their conditions added.

    Args:
        own: part number -> its own rules.

    An inherited "does not fit" is inherited too. Never the other way round: a new number's rules say nothing about the old one.
    """
    found = list(own.get(part_number, ()))
    for ancestor, path in inheritance(arrows, part_number):
        for old in own.get(ancestor, ()):
            found.append(_through(old, part_number, path))
    return found


def _through(old: Rule, part_number: str, path: Iterable[Arrow]) -> Rule:
    rule = replace(old, part_number=part_number, inherited_from=old.part_number)
    for arrow in path:
        rule = replace(
            rule,
            quantity=rule.quantity * arrow.quantity,
            applies=rule.applies.joined(arrow.applies),
            proviso="; ".join(filter(None, [rule.proviso, arrow.condition if arrow.only_in_words else None])),
        )
    return rule


def same_function(same_as: Mapping[str, str | None]) -> dict[str, frozenset[str]]:
    """variant_id -> all variants of the same function, itself included; "same function" holds in both directions and along chains.

    Args:
        same_as: for every variant the one whose function it is said to have, if any.
    """
    group: dict[str, set[str]] = {}
    for variant, named in same_as.items():
        mine = group.setdefault(variant, {variant})
        if named:
            other = group.setdefault(named, {named})
            if other is not mine:
                mine |= other
                for name in mine:
                    group[name] = mine
    return {name: frozenset(members) for name, members in group.items()}
