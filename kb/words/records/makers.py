"""Makers and their models."""

from typing import ClassVar

from pydantic import Field, ValidationInfo, field_validator

from kb.words.records.record import DateText, Name, Record, Slug, Text, not_before


class Maker(Record):
    """One row of makers.csv: who built the machines."""

    table: ClassVar[str] = "makers"
    key: ClassVar[tuple[str, ...]] = ("maker_id",)

    maker_id: Slug = Field(description="Id of the maker.")
    name: Name = Field(description="Name as it appears on the plate.")
    left_means: Text | None = Field(None, description="From where left and right are seen, for example: seen from the saddle.")
    note: Text | None = Field(None, description="Remarks; public.")


class Model(Record):
    """One row of models.csv: a model of a maker."""

    table: ClassVar[str] = "models"
    key: ClassVar[tuple[str, ...]] = ("model_id",)

    model_id: Slug = Field(description="Id of the model.")
    maker_id: Slug = Field(description="Its maker.")
    name: Name = Field(description="Name in the maker's lists.")
    built_from: DateText | None = Field(None, description="When the first one was built.")
    built_to: DateText | None = Field(None, description="When the last one was built.")
    note: Text | None = Field(None, description="Remarks; public.")

    @field_validator("built_to")
    @classmethod
    def _not_over_before_it_begins(cls, built_to: str | None, info: ValidationInfo) -> str | None:
        return not_before(built_to, info.data.get("built_from"))
