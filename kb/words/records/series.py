"""Series of serial numbers, the letters they may carry, and the blocks they are made of."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field, ValidationInfo, field_validator

from kb.words.records.record import LARGEST, BlockAffix, DateText, Name, Record, Serials, Slug, Stamped, Text, Whole, not_before, refuse

CheckScheme = Literal["luhn", "verhoeff", "damm", "iso7064-11-2", "iso7064-11-10", "iso7064-37-2", "iso7064-37-36", "iso7064-97-10", "weighted-11-17"]


class Series(Record):
    """One row of series.csv: one run of serial numbers a maker stamped."""

    table: ClassVar[str] = "series"
    key: ClassVar[tuple[str, ...]] = ("series_id",)

    series_id: Slug = Field(description="Id of the series.")
    maker_id: Slug = Field(description="Who stamped it.")
    name: Name = Field(description="What the series is called: frame numbers, engine numbers.")
    stamped_on: Name = Field(description="Where to find the number on the unit.")
    component_id: Slug | None = Field(None, description="The component these numbers belong to, such as an engine; empty: they number whole units.")
    check: CheckScheme | None = Field(None, description="Check-digit scheme of the numbers, if they have one.")
    note: Text | None = Field(None, description="Remarks; public.")


class Affix(Record):
    """One row of affixes.csv: letters before or after a serial that mean something but do not affect its order."""

    table: ClassVar[str] = "affixes"
    key: ClassVar[tuple[str, ...]] = ("series_id", "affix")

    series_id: Slug = Field(description="The series in which the letters occur.")
    affix: Stamped = Field(description="The letters.")
    at: Literal["prefix", "suffix"] = Field(description="Whether they come before or after everything else.")
    means: Name = Field(description="What they mean: export, rebuilt.")
    note: Text | None = Field(None, description="Remarks; public.")


class Block(Record):
    """One row of blocks.csv: a stretch of a series, usually one model and one year.

    A block with an empty `last` ends before the next block of the same prefix and suffix; one with an empty `first` follows the block before it.
    """

    table: ClassVar[str] = "blocks"
    key: ClassVar[tuple[str, ...]] = ("block_id",)

    block_id: Slug = Field(description="Id of the block.")
    series_id: Slug = Field(description="The series that it is part of.")
    line: Slug | None = Field(None, description="Plant or line with its own production order.")
    position: Annotated[int, Whole()] = Field(description="Its position in the production order of the line: a whole number, ascending.")
    prefix: BlockAffix | None = Field(None, description="What comes before the digits; # holds the place of a check character.")
    first: Serials | None = Field(None, description="First number of the block, without leading zeros.")
    last: Serials | None = Field(None, description="Last number of the block; empty: up to the next block with the same prefix and suffix.")
    suffix: BlockAffix | None = Field(None, description="What comes after the digits.")
    width: Annotated[int, Whole(1, 18)] | None = Field(
        None, description="How many digits are stamped, including leading zeros; empty: no leading zeros."
    )
    model_id: Slug | None = Field(None, description="The model these numbers were stamped on.")
    built_from: DateText | None = Field(None, description="When the first of them was built.")
    built_to: DateText | None = Field(None, description="When the last of them was built.")
    dates_are: Literal["built", "shipped", "registered", "model year"] | None = Field(None, description="What the dates are dates of.")
    units: Annotated[int, Whole(1, LARGEST)] | None = Field(None, description="How many were actually built, if fewer than there are numbers.")
    kind: Literal["new", "rebuilt", "service"] = Field("new", description="New units, rebuilt ones, or replacement numbers.")
    rival_of: Slug | None = Field(None, description="The block of which this is another source's version; shown as a dispute, not used.")
    source_id: Slug = Field(description="The source that says so.")
    page: Name | None = Field(None, description="Page or figure in the source.")
    retracted: Text | None = Field(None, description="Why the row is no longer believed; it is kept but not used.")
    note: Text | None = Field(None, description="Remarks; public.")

    @field_validator("last")
    @classmethod
    def _ends_after_it_begins(cls, last: int | None, info: ValidationInfo) -> int | None:
        first = info.data.get("first")
        if last is not None and first is not None and last < first:
            raise refuse(
                "reversed", f"The block ends ({last}) before it begins ({first}).", "Swap first and last, or correct the one that is wrong."
            )
        return last

    @field_validator("built_to")
    @classmethod
    def _not_over_before_it_begins(cls, built_to: str | None, info: ValidationInfo) -> str | None:
        return not_before(built_to, info.data.get("built_from"))

    @field_validator("units")
    @classmethod
    def _no_more_units_than_numbers(cls, units: int | None, info: ValidationInfo) -> int | None:
        first, last = info.data.get("first"), info.data.get("last")
        if units is not None and first is not None and last is not None and units > last - first + 1:
            problem = f"{units} units, but first to last are only {last - first + 1} numbers."
            raise refuse("too_many", problem, "Leave units empty unless fewer were built than there are numbers.")
        return units


class BlockModel(Record):
    """One row of block_models.csv: a model among those that share the numbers of a block."""

    table: ClassVar[str] = "block_models"
    key: ClassVar[tuple[str, ...]] = ("block_id", "model_id")

    block_id: Slug = Field(description="The block whose numbers are shared.")
    model_id: Slug = Field(description="One of the models that share them.")
    units: Annotated[int, Whole(1, LARGEST)] = Field(description="How many of this model were built in the block.")
