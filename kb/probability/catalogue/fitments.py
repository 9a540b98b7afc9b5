"""Fitments as rules: what must be true of a unit and its castings for a part to fit, say otherwise, or say nothing.

A fitment row, with the conditions of every supersession through which it was inherited, becomes one `Rule`; whether a rule holds for
a cell and a combination of fitted variants is decided in `kb.desk.fitment.fits`. docs/model.md, section 9.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import Any

from kb.probability.catalogue.supersession import Arrow, inheritance

Row = Any  # a row of fitments, fitment_conditions or variants, by the names of its columns


@dataclass(frozen=True)
class Limit:
    """A stretch of a series, ends included; None is open. series_id None with a serial: the series of the unit."""

    series_id: str | None
    serial_from: str | None
    serial_to: str | None


@dataclass(frozen=True)
class Condition:
    """Something that must hold at a component: a variant, or a feature with a value or a range. place None: see `Rule.place`."""

    component_id: str
    place: str | None
    variant_id: str | None = None
    feature_id: str | None = None
    value: str | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, eq=False)
class Applicability:
    """Where a rule holds. Rules that hold alike have the very same claim, so that it need be looked into once. See `Rule` for the fields."""

    place: str | None
    limits: tuple[Limit, ...]
    models: tuple[str, ...]
    conditions: tuple[Condition, ...]


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
    place: str | None
    limits: tuple[Limit, ...]
    models: tuple[str, ...]  # every one of them must be the unit's; more than one is never
    conditions: tuple[Condition, ...]
    measure_first: str
    source_id: str
    page: str
    inherited_from: str = ""
    proviso: str = ""  # a condition in words alone, which a person must judge

    @cached_property
    def claim(self) -> Applicability:
        """Where it holds."""
        return _claim(self.place, self.limits, self.models, self.conditions)


@cache
def _claim(place: str | None, limits: tuple[Limit, ...], models: tuple[str, ...], conditions: tuple[Condition, ...]) -> Applicability:
    return Applicability(place, limits, models, conditions)


def rule(row: Row, conditions: Iterable[Row] = ()) -> Rule:
    """The rule of one fitment row and its further conditions."""
    wanted = [Condition(row.component_id, row.place or None, row.variant_id)] if row.variant_id else []
    wanted += [Condition(c.component_id, c.place or None, c.variant_id, c.feature_id, c.value, c.low, c.high) for c in conditions]
    limited = row.series_id or row.serial_from or row.serial_to
    return Rule(
        fitment_id=row.fitment_id,
        part_number=row.part_number,
        component_id=row.component_id,
        role=row.role,
        fits=bool(row.fits),
        quantity=float(row.quantity),
        per=row.per,
        place=row.place or None,
        limits=(Limit(row.series_id, row.serial_from, row.serial_to),) if limited else (),
        models=(row.model_id,) if row.model_id else (),
        conditions=tuple(wanted),
        measure_first=row.measure_first or "",
        source_id=row.source_id,
        page=row.page or "",
    )


def rules_of(part_number: str, own: Mapping[str, list[Rule]], arrows: Iterable[Arrow], component_of: Mapping[str, str]) -> list[Rule]:
    """All rules of a part: its own, and those of numbers it replaces through supersessions that carry fitment, with their conditions added.

    Args:
        own: part number -> its own rules. component_of: variant -> its component.

    An inherited "does not fit" is inherited too. Never the other way round: a new number's rules say nothing about the old one.
    """
    found = list(own.get(part_number, ()))
    for ancestor, path in inheritance(arrows, part_number):
        for old in own.get(ancestor, ()):
            found.append(_through(old, part_number, path, component_of))
    return found


def _through(old: Rule, part_number: str, path: Iterable[Arrow], component_of: Mapping[str, str]) -> Rule:
    rule = replace(old, part_number=part_number, inherited_from=old.part_number)
    for arrow in path:
        limits = (Limit(arrow.series_id, arrow.serial_from, arrow.serial_to),) if arrow.series_id or arrow.serial_from or arrow.serial_to else ()
        variant: tuple[Condition, ...] = ()
        if arrow.variant_id:
            component = component_of[arrow.variant_id]
            variant = (Condition(component, old.place if component == old.component_id else None, arrow.variant_id),)
        rule = replace(
            rule,
            quantity=rule.quantity * arrow.quantity,
            limits=rule.limits + limits,
            models=tuple(dict.fromkeys(rule.models + ((arrow.model_id,) if arrow.model_id else ()))),
            conditions=rule.conditions + variant,
            proviso="; ".join(filter(None, [rule.proviso, arrow.condition if arrow.only_in_words else None])),
        )
    return rule


def same_function(variants: Iterable[Row]) -> dict[str, frozenset[str]]:
    """variant_id -> all variants of the same function, itself included; "same function" holds in both directions and along chains."""
    group: dict[str, set[str]] = {}
    for variant in variants:
        mine = group.setdefault(variant.variant_id, {variant.variant_id})
        if variant.same_function_as:
            other = group.setdefault(variant.same_function_as, {variant.same_function_as})
            if other is not mine:
                mine |= other
                for name in mine:
                    group[name] = mine
    return {name: frozenset(members) for name, members in group.items()}
