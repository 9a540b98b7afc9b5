"""Supersessions: old part number -> new part number(s)."""

from typing import ClassVar, Literal

from pydantic import Field, ValidationInfo, field_validator

from kb.words.records.record import DateText, Quantity, Record, Slug, Stamped, Text, Yes, refuse


class Supersession(Record):
    """One row of supersessions.csv. Rows without a group are alternatives; rows of one group are needed together."""

    table: ClassVar[str] = "supersessions"
    key: ClassVar[tuple[str, ...]] = ("supersession_id",)

    supersession_id: Slug = Field(description="Id of the supersession.")
    old_part: Stamped = Field(description="The part number that was replaced.")
    new_part: Stamped = Field(description="The part number that replaces it.")
    group: Slug | None = Field(None, description="Rows of one old part with the same group are needed together.")
    quantity: Quantity = Field(1.0, description="How many of the new part replace one of the old.")
    direction: Literal["one-way", "both-ways"] = Field(description="Whether the old part may also stand in for the new one.")
    carries_fitment: Yes = Field(True, description="Whether the new part fits wherever the old one did.")
    series_id: Slug | None = Field(None, description="Only for units of this series.")
    serial_from: Stamped | None = Field(None, description="Only from this serial on.")
    serial_to: Stamped | None = Field(None, description="Only up to and including this serial.")
    model_id: Slug | None = Field(None, description="Only for units of this model.")
    variant_id: Slug | None = Field(None, description="Only where this variant is fitted.")
    with_part: Stamped | None = Field(None, description="Only together with this part.")
    condition: Text | None = Field(None, description="The condition in the words of the source.")
    from_date: DateText | None = Field(None, description="From when it applies; of several dated rows for one old number the latest counts.")
    source_id: Slug = Field(description="The source that says so.")
    retracted: Text | None = Field(None, description="Why the row is withdrawn; it is kept but not used.")
    note: Text | None = Field(None, description="Remarks; public.")

    @field_validator("new_part")
    @classmethod
    def _is_another(cls, new: str, info: ValidationInfo) -> str:
        if new == info.data.get("old_part"):
            raise refuse("itself", "A part number that replaces itself.", "Name the number that replaces it, or delete the row.")
        return new
