"""Fitments: which part fits which component, and under which conditions. Empty means any; all conditions of a row must hold."""

from typing import ClassVar, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from kb.words.records.features import in_order
from kb.words.records.record import Measure, Name, Quantity, Record, Slug, Stamped, Text, Yes, refuse


class Fitment(Record):
    """One row of fitments.csv: a source's statement that a part does or does not fit a component. Rows of one part are alternatives."""

    table: ClassVar[str] = "fitments"
    key: ClassVar[tuple[str, ...]] = ("fitment_id",)

    fitment_id: Slug = Field(description="Id of the statement.")
    part_number: Stamped = Field(description="The part.")
    component_id: Slug = Field(description="The component it is for.")
    role: Name = Field(description="What it is there: seal, outer. Parts in the same role exclude each other.")
    fits: Yes = Field(True, description="yes; or no if it is known not to fit.")
    quantity: Quantity = Field(description="How many are needed.")
    per: Literal["place", "unit"] = Field("place", description="Whether the quantity is for one place of the component or for the whole unit.")
    series_id: Slug | None = Field(None, description="Only units of this series.")
    serial_from: Stamped | None = Field(None, description="Only from this serial on.")
    serial_to: Stamped | None = Field(None, description="Only up to and including this serial.")
    model_id: Slug | None = Field(None, description="Only units of this model.")
    variant_id: Slug | None = Field(None, description="Only where this variant, or one with the same function, is fitted.")
    place: Slug | None = Field(None, description="Only at this place.")
    figure: Name | None = Field(None, description="Figure in the parts list.")
    item: Name | None = Field(None, description="Item number in the figure.")
    measure_first: Text | None = Field(None, description="What to measure before ordering.")
    source_id: Slug = Field(description="The source that says so.")
    page: Name | None = Field(None, description="Page in the source.")
    retracted: Text | None = Field(None, description="Why the statement is withdrawn; it is kept but not used.")
    note: Text | None = Field(None, description="Remarks; public.")


class FitmentCondition(Record):
    """One row of fitment_conditions.csv: a further condition of a fitment, usually about another component."""

    table: ClassVar[str] = "fitment_conditions"
    key: ClassVar[tuple[str, ...]] = ("fitment_id", "component_id")

    fitment_id: Slug = Field(description="The fitment.")
    component_id: Slug = Field(description="The component the condition is about.")
    place: Slug | None = Field(None, description="Which place of it; empty: the same place, or every place.")
    variant_id: Slug | None = Field(None, description="The variant that must be fitted there, unless a feature decides.")
    feature_id: Slug | None = Field(None, description="The feature that decides, unless a variant does.")
    value: Name | None = Field(None, description="For a choice: the value it must have.")
    low: Measure | None = Field(None, description="For a measure: the lowest value.")
    high: Measure | None = Field(None, description="For a measure: the highest value.")

    @field_validator("high")
    @classmethod
    def _in_order(cls, high: float | None, info: ValidationInfo) -> float | None:
        return in_order(high, info)

    @model_validator(mode="after")
    def _variant_or_feature(self) -> "FitmentCondition":
        if (self.variant_id is None) is (self.feature_id is None):
            raise refuse("variant_or_feature", "Neither or both of variant_id and feature_id are given.", "Fill in exactly one of them.")
        measured = self.low is not None or self.high is not None
        if self.variant_id is not None and (self.value is not None or measured):
            raise refuse("value", "A value, but no feature.", "Name the feature_id, or leave value, low and high empty.")
        if self.feature_id is not None and (self.value is not None) is measured:
            raise refuse(
                "value", "Neither or both of value and low..high are given.", "Give value for a choice, low and high (or one of them) for a measure."
            )
        return self
