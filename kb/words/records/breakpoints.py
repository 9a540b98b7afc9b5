"""Breakpoints: a source's claim that a new variant was fitted from a given serial on.

A breakpoint is a claim and is kept as printed. What really happened, the change-over, is estimated from claims and sightings
in `kb.probability.production.changeovers`.
"""

from typing import ClassVar

from pydantic import Field, ValidationInfo, field_validator, model_validator

from kb.words.records.record import DateText, Name, Record, Slug, Stamped, Text, Yes, refuse


class Breakpoint(Record):
    """One row of breakpoints.csv: a source's claim about one component of one series."""

    table: ClassVar[str] = "breakpoints"
    key: ClassVar[tuple[str, ...]] = ("breakpoint_id",)

    breakpoint_id: Slug = Field(description="Id of the claim.")
    series_id: Slug = Field(description="The series whose serials it gives.")
    component_id: Slug = Field(description="The component that changed.")
    model_id: Slug | None = Field(None, description="Only units of this model.")
    old_variant_id: Slug | None = Field(None, description="The variant fitted before; empty: the new one was fitted from the start.")
    new_variant_id: Slug = Field(description="The variant fitted from then on.")
    first_new: Stamped | None = Field(None, description="First serial with the new variant.")
    first_new_to: Stamped | None = Field(None, description="The source gives a range: the first new serial lies between first_new and this one.")
    about: Yes = Field(False, description="Whether the source says \"about\".")
    when: DateText | None = Field(None, description="When it changed, if no serial is known.")
    last_old: Stamped | None = Field(None, description="Last serial with the old variant; if it is after first_new, both were fitted for a while.")
    as_printed: Text | None = Field(None, description="The words of the source.")
    source_id: Slug = Field(description="The source that says so.")
    page: Name | None = Field(None, description="Page or figure in the source.")
    retracted: Text | None = Field(None, description="Why the claim is withdrawn; it is kept but not used.")
    note: Text | None = Field(None, description="Remarks; public.")

    @field_validator("new_variant_id")
    @classmethod
    def _is_a_change(cls, new: str, info: ValidationInfo) -> str:
        if new == info.data.get("old_variant_id"):
            raise refuse("no_change", "Old and new variant are the same.", "Name the variant fitted before, or leave old_variant_id empty.")
        return new

    @field_validator("first_new_to", "about")
    @classmethod
    def _goes_with_first_new(cls, value: str | bool | None, info: ValidationInfo) -> str | bool | None:
        if value and "first_new" in info.data and info.data["first_new"] is None:
            raise refuse("no_first_new", f"{info.field_name} without first_new.", f"Give the serial in first_new, or leave {info.field_name} empty.")
        return value

    @model_validator(mode="after")
    def _says_where(self) -> "Breakpoint":
        if self.old_variant_id is not None and self.first_new is None and self.when is None and self.last_old is None:
            raise refuse("no_place", "The claim names neither a serial nor a date.", "Fill in first_new, last_old or when.")
        return self
