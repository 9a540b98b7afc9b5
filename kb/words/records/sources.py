"""Sources: the documents and people that claims rest on."""

from typing import ClassVar, Literal

from pydantic import Field

from kb.words.records.record import DateText, Name, Record, Slug, Slugs, Text

SourceKind = Literal["factory record", "parts list", "service bulletin", "club register", "plate", "letter", "hearsay", "other"]
Grade = Literal["A", "B", "C", "D"]


class Source(Record):
    """One row of sources.csv: a document or person, and how far to trust it."""

    table: ClassVar[str] = "sources"
    key: ClassVar[tuple[str, ...]] = ("source_id",)

    source_id: Slug = Field(description="Id of the source, named wherever a claim rests on it.")
    title: Name = Field(description="Title, edition and number, or the person's name, as you would cite it.")
    kind: SourceKind = Field(description="What kind of source it is.")
    issued: DateText | None = Field(None, description="When it was printed or written.")
    grade: Grade = Field(description="How far it is trusted: A factory record, B printed by the maker, C careful but second-hand, D hearsay.")
    copied_from: Slugs = Field((), description="Sources that it copies; copies of one root count once. The first one named is the root.")
    note: Text | None = Field(None, description="Remarks; public.")
