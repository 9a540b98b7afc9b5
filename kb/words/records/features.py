"""Features: what to look at or measure to tell variants apart, and its value on each variant."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from kb.words.records.record import Measure, Name, Number, Record, Share, Slug, Text, refuse


class Feature(Record):
    """One row of features.csv: a question about the component in hand."""

    table: ClassVar[str] = "features"
    key: ClassVar[tuple[str, ...]] = ("feature_id",)

    feature_id: Slug = Field(description="Id of the feature.")
    component_id: Slug = Field(description="The component to look at.")
    question: Text = Field(description="The question, as you would ask it at the machine.")
    kind: Literal["choice", "measure"] = Field("choice", description="Whether it has one of several values or is a measure.")
    unit: Name | None = Field(None, description="The unit of a measure: mm.")
    effort: Annotated[float, Number(above=0)] = Field(description="Minutes it takes: 1 to look, 5 to clean or measure, 60 to dismantle.")
    error: Share | None = Field(None, description="How often people get it wrong; empty: the assumption feature_error.")
    note: Text | None = Field(None, description="Remarks; public.")


class FeatureValue(Record):
    """One row of feature_values.csv: the value of a feature on a variant."""

    table: ClassVar[str] = "feature_values"
    key: ClassVar[tuple[str, ...]] = ("variant_id", "feature_id")

    variant_id: Slug = Field(description="The variant.")
    feature_id: Slug = Field(description="The feature.")
    value: Name | None = Field(None, description="For a choice: its value on this variant.")
    low: Measure | None = Field(None, description="For a measure: the lowest value.")
    high: Measure | None = Field(None, description="For a measure: the highest value.")
    source_id: Slug | None = Field(None, description="The source that says so.")
    page: Name | None = Field(None, description="Page or figure in the source.")

    @field_validator("high")
    @classmethod
    def _in_order(cls, high: float | None, info: ValidationInfo) -> float | None:
        return in_order(high, info)

    @model_validator(mode="after")
    def _says_something(self) -> "FeatureValue":
        if (self.value is None) is (self.low is None and self.high is None):
            raise refuse(
                "value", "Neither or both of value and low..high are given.", "Give value for a choice, low and high (or one of them) for a measure."
            )
        return self


def in_order(high: float | None, info: ValidationInfo) -> float | None:
    """`high`, unless it is below `low`."""
    low = info.data.get("low")
    if high is not None and low is not None and high < low:
        raise refuse(
            "reversed", f"The greatest value ({high:g}) is below the least ({low:g}).", "Swap low and high, or correct the one that is wrong."
        )
    return high
