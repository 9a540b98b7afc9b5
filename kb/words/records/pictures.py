"""Pictures and what they show."""

from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, Field

from kb.words.records.record import Name, Record, Slug, Text, refuse


def _inside(file: str) -> str:
    steps = file.replace("\\", "/").split("/")
    if steps[0] == "" or ":" in file or any(step in ("", ".", "..") for step in steps):
        raise refuse(
            "path", f'"{file}" leads out of the folder.', 'Put the file under pictures/ and write its path from there, as in "head-old.jpg".'
        )
    return file


class Picture(Record):
    """One row of pictures.csv: a file under `pictures/`."""

    table: ClassVar[str] = "pictures"
    key: ClassVar[tuple[str, ...]] = ("picture_id",)

    picture_id: Slug = Field(description="Id of the picture.")
    file: Annotated[Name, AfterValidator(_inside)] = Field(description="The file, as a path under pictures/: PNG, JPEG or SVG, at most 2 MB.")
    shows: Literal["variant", "mark", "feature", "component", "series", "source"] = Field(description="What kind of thing it shows.")
    shows_id: Slug = Field(description="The id of what it shows.")
    caption: Name = Field(description="The line under the picture.")
    alt: Text = Field(description="What somebody who cannot see the picture needs to know.")
    credit: Name | None = Field(None, description="Who made it.")
    licence: Name | None = Field(None, description="The licence under which it may be used.")
