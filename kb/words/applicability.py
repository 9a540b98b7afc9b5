"""Where a row applies: to which units, and to which castings on them.

Fitments, options, supersessions and steps all have the columns series_id, serial_from, serial_to, model_id and variant_id, in which empty means
any and all of which must hold. What they say together is an `Applicability`, whatever the row is; the serials within a limit are looked up in
`kb.probability.production.limits`, and how probable it is that something applies to a unit is worked out in `kb.desk.fitment.joint_table`.
"""

from dataclasses import dataclass
from typing import Protocol, Self
from weakref import WeakValueDictionary


class Limited(Protocol):
    """A row with the columns of a limit."""

    @property
    def series_id(self) -> str | None:
        """Only units of this series."""
        ...

    @property
    def serial_from(self) -> str | None:
        """Only from this serial on."""
        ...

    @property
    def serial_to(self) -> str | None:
        """Only up to and including this serial."""
        ...


class Applicable(Limited, Protocol):
    """A row with all the columns that say where it applies."""

    @property
    def model_id(self) -> str | None:
        """Only units of this model."""
        ...

    @property
    def variant_id(self) -> str | None:
        """Only where this variant is fitted."""
        ...


@dataclass(frozen=True)
class Limit:
    """A stretch of a series, including both ends; None is open. A serial without a series_id is in the series of the unit."""

    series_id: str | None
    serial_from: str | None = None
    serial_to: str | None = None

    @classmethod
    def of(cls, row: Limited) -> "tuple[Limit, ...]":
        """The limit of a row, none if it has none."""
        series, first, last = row.series_id or None, row.serial_from or None, row.serial_to or None
        return (cls(series, first, last),) if series or first or last else ()


@dataclass(frozen=True)
class Condition:
    """Something that must hold at a component: a variant, or a feature with a value or a range.

    place None: the place asked about if the component has it, else every place.
    """

    component_id: str
    place: str | None = None
    variant_id: str | None = None
    feature_id: str | None = None
    value: str | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, eq=False)
class Applicability:
    """Where something applies; made by `of` and `joined`. Rows that apply alike share one object, so each is examined only once.

    Attributes:
        place: of the component that it is about; None: at every place.
        limits: the unit's serial, or the number that a component carries, must lie within every one of them.
        models: every one of them must be the unit's; more than one is never.
        conditions: must all hold.
    """

    place: str | None
    limits: tuple[Limit, ...]
    models: tuple[str, ...]
    conditions: tuple[Condition, ...]

    @classmethod
    def of(
        cls, place: str | None = None, limits: tuple[Limit, ...] = (), models: tuple[str, ...] = (), conditions: tuple[Condition, ...] = ()
    ) -> "Applicability":
        """The one applicability of these.

        >>> Applicability.of(models=("m2",)) is Applicability.of(models=("m2",))
        True
        """
        key = (place, limits, models, conditions)
        known = _KNOWN.get(key)
        if known is None:
            known = _KNOWN[key] = cls(*key)
        return known

    @classmethod
    def of_row(cls, row: Applicable, component_id: str | None, place: str | None = None, further: tuple[Condition, ...] = ()) -> "Applicability":
        """Where a row applies.

        Args:
            component_id: that the variant of the row is one of; None: the row has none, or says with it something else than where it applies.
            further: conditions beside the row's own columns.
        """
        variant = (Condition(component_id, None, row.variant_id),) if component_id and row.variant_id else ()
        return cls.of(place, Limit.of(row), (row.model_id,) if row.model_id else (), variant + further)

    def joined(self, other: Self) -> "Applicability":
        """Where both apply; the place is this one's."""
        models = tuple(dict.fromkeys(self.models + other.models))
        return self.of(self.place, self.limits + other.limits, models, self.conditions + other.conditions)

    @property
    def everywhere(self) -> bool:
        """It applies to every unit."""
        return not (self.place or self.limits or self.models or self.conditions)

    def of_model(self, model_id: str) -> bool:
        """It may apply to units of this model."""
        return all(model == model_id for model in self.models)


_KNOWN: WeakValueDictionary[tuple[object, ...], Applicability] = WeakValueDictionary()
