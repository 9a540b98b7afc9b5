"""Casting marks: text cast or stamped on a component."""

from typing import ClassVar, Literal

from pydantic import Field

from kb.words.records.record import Name, Record, Slug, Slugs, Stamped, Text


class Mark(Record):
    """One row of marks.csv: a text, and the variants that carry it."""

    table: ClassVar[str] = "marks"
    key: ClassVar[tuple[str, ...]] = ("mark_id",)

    mark_id: Slug = Field(description="Id of the mark.")
    variant_ids: Slugs = Field((), description="The variants that carry it; empty: a foundry, heat or inspection mark.")
    text: Stamped = Field(description="The text as cast or stamped. Spaces, dashes, dots, slashes and case do not count.")
    kind: Literal["casting number", "pattern letter", "stamped", "foundry", "other"] = Field(description="What kind of mark it is.")
    where: Text | None = Field(None, description="Where it is on the component.")
    source_id: Slug | None = Field(None, description="The source that records it.")
    page: Name | None = Field(None, description="Page or figure in the source.")
    note: Text | None = Field(None, description="Remarks; public.")
