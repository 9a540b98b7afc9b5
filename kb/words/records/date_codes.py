"""Date codes: how a maker cast dates into its components."""

from typing import Annotated, ClassVar

from pydantic import Field

from kb.words.records.record import Name, Record, Slug, Text, Whole


class DateCode(Record):
    """One row of date_codes.csv: the layout of one maker's casting dates."""

    table: ClassVar[str] = "date_codes"
    key: ClassVar[tuple[str, ...]] = ("date_code_id",)

    date_code_id: Slug = Field(description="Id of the layout.")
    maker_id: Slug = Field(description="The maker that used it.")
    component_id: Slug | None = Field(None, description="Only on this component.")
    layout: Name = Field(description="The order of the parts of the code; see *How the layout of a casting date is written*.")
    month_letters: Name | None = Field(None, description="If months are letters: the twelve letters for January to December.")
    century_from: Annotated[int, Whole(1000, 9999)] | None = Field(None, description="The earliest year it can mean, if it leaves out the century.")
    note: Text | None = Field(None, description="Remarks; public.")
