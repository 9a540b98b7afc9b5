"""What people saw: sightings of real units, and readings whose truth came out later."""

from typing import ClassVar, Literal

from pydantic import Field, model_validator

from kb.words.records.record import DateText, Name, ReadingText, Record, Slug, Stamped, Text, refuse


class Sighting(Record):
    """One row of sightings.csv: this unit had this variant, or this mark."""

    table: ClassVar[str] = "sightings"
    key: ClassVar[tuple[str, ...]] = ("sighting_id",)
    private: ClassVar[frozenset[str]] = frozenset({"observer", "evidence"})

    sighting_id: Slug = Field(description="Id of the sighting.")
    series_id: Slug = Field(description="The series of the serial.")
    serial: ReadingText = Field(description="The serial, in reading notation; only whole serials count in the estimate of a change-over.")
    component_id: Slug = Field(description="The component that was looked at.")
    place: Slug | None = Field(None, description="Which of its places it was at: left.")
    variant_id: Slug | None = Field(None, description="The variant seen; give either this or mark_read.")
    mark_read: ReadingText | None = Field(None, description="What could be read of its mark, in reading notation; give either this or variant_id.")
    original: Literal["believed", "unknown", "replaced"] = Field(description="Whether the component is the one fitted at the works.")
    casting_date: Name | None = Field(None, description="The date code cast into it, as read.")
    seen_on: DateText | None = Field(None, description="When it was seen; the latest sighting counts.")
    observer: Name | None = Field(None, description="Who saw it; private.")
    evidence: Text | None = Field(None, description="Photograph, letter, file; private.")
    source_id: Slug | None = Field(None, description="The source that reports it.")
    retracted: Text | None = Field(None, description="Why the sighting is withdrawn; it is kept but not used.")
    note: Text | None = Field(None, description="Remarks; public.")

    @model_validator(mode="after")
    def _variant_or_mark(self) -> "Sighting":
        if (self.variant_id is None) is (self.mark_read is None):
            raise refuse("variant_or_mark", "Neither or both of variant_id and mark_read are given.", "Fill in exactly one of them.")
        return self


class ConfirmedReading(Record):
    """One row of readings.csv: what somebody read, and what it proved to be."""

    table: ClassVar[str] = "readings"
    key: ClassVar[tuple[str, ...]] = ("reading_id",)

    reading_id: Slug = Field(description="Id of the reading.")
    reading: ReadingText = Field(description="What was read, in reading notation.")
    truth: Stamped = Field(description="What it proved to be.")
    wear: Literal["clean", "worn", "badly-worn"] = Field(description="The state of the stamping or casting.")
    component_id: Slug | None = Field(None, description="The component it was read on; empty: it is a serial.")
    source_id: Slug | None = Field(None, description="The source that reports it.")
    note: Text | None = Field(None, description="Remarks; public.")
