"""What is recorded of a component's variants side by side, of a part, and what a text may mean here."""

from typing import Literal

from pydantic import Field

from kb.words.answers.base import Answer
from kb.words.answers.fitment import TraceAnswer, UnitsAnswer


class MarkOf(Answer):
    """A mark of a variant."""

    text: str
    kind: str
    where: str


class FeatureOf(Answer):
    """What a question is answered with on a variant; "" where nothing is recorded."""

    feature: str
    question: str
    value: str


class PictureOf(Answer):
    """A picture, at the address `file` of the site."""

    picture: str
    file: str
    caption: str
    alt: str
    credit: str
    licence: str


class SpanOf(Answer):
    """When a variant was fitted in a line: first new by `from_low`..`from_high` ("" from the start), until the next by `to_low`..`to_high`."""

    where: str = Field(description="The series, its line and the model, in words.")
    series: str
    line: str
    model: str
    from_low: str
    from_high: str
    to_low: str
    to_high: str


class VariantOf(Answer):
    """One version of the component."""

    variant: str
    name: str
    how_to_tell: str
    same_function_as: str
    note: str
    marks: list[MarkOf]
    features: list[FeatureOf]
    spans: list[SpanOf]
    pictures: list[PictureOf]


class Comparison(Answer):
    """The variants of a component side by side (`kb compare`)."""

    component: str
    name: str
    where_to_look: str
    variants: list[VariantOf]


class Meaning(Answer):
    """One thing that a text may mean, and where to ask further."""

    kind: Literal["part", "serial", "casting", "model", "component", "variant", "words", "near"] = Field(
        description='How it was found; "words": by words or measures of its description; "near": it may have been meant.'
    )
    what: str
    subject: Literal["part", "unit", "casting", "model", "component"]
    id: str = Field(description="The part number, reading or id to ask further with.")
    address: str = Field(description="The page of the site that says more.")
    probability: float | None = Field(
        None, description="That a number so read is in this knowledge base, or that it was meant; null for what is found by name."
    )


class Meanings(Answer):
    """What a text may mean (`kb look`)."""

    asked: str
    meanings: list[Meaning]


class PartAnswer(Answer):
    """A part number: what it is, what it has become (`kb trace`), which units it fits (`kb units`)."""

    part_number: str
    description: str
    kind: str
    unit: str
    available: str
    trace: TraceAnswer
    units: UnitsAnswer
