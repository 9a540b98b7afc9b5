"""Parts that can be bought, their dimensions, and what kits contain."""

from typing import ClassVar, Literal

from pydantic import Field, ValidationInfo, field_validator

from kb.words.records.record import Measure, Name, Quantity, Record, Slug, Stamped, Text, Yes, refuse


class Part(Record):
    """One row of parts.csv: something with a part number."""

    table: ClassVar[str] = "parts"
    key: ClassVar[tuple[str, ...]] = ("part_number",)

    part_number: Stamped = Field(description="The number as its maker prints it.")
    made_by: Name | None = Field(None, description="Who makes it; the same number from two makers is two parts.")
    description: Name = Field(description="What it is.")
    kind: Literal["original", "reproduction", "standard"] = Field(description="Original, reproduction, or a standard part of the trade.")
    unit: Literal["each", "pair", "set", "m"] = Field(description="What you get when you order one.")
    available: Literal["yes", "no", "unknown"] = Field(description="Whether it can be bought today.")
    safety_critical: Yes = Field(description="Whether somebody may be hurt if it is wrong; verdicts are then stricter and always carry a caution.")
    source_id: Slug | None = Field(None, description="The source that lists it.")
    note: Text | None = Field(None, description="Remarks; public.")


class Dimension(Record):
    """One row of dimensions.csv: one dimension of a part; a seal 35 x 52 x 7 mm has three."""

    table: ClassVar[str] = "dimensions"
    key: ClassVar[tuple[str, ...]] = ("part_number", "dimension")

    part_number: Stamped = Field(description="The part.")
    dimension: Name = Field(description="Which dimension: inner, outer, width.")
    value: Measure = Field(description="Its value.")
    unit: Name = Field(description="Its unit: mm.")


class Content(Record):
    """One row of contents.csv: a part in a kit."""

    table: ClassVar[str] = "contents"
    key: ClassVar[tuple[str, ...]] = ("kit_number", "part_number")

    kit_number: Stamped = Field(description="The part number of the kit.")
    part_number: Stamped = Field(description="A part in the kit.")
    quantity: Quantity = Field(description="How many of it the kit holds.")

    @field_validator("part_number")
    @classmethod
    def _not_itself(cls, part: str, info: ValidationInfo) -> str:
        if part == info.data.get("kit_number"):
            raise refuse("itself", "A kit that contains itself.", "Name the part inside the kit.")
        return part
