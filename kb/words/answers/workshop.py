"""The answers that are printed and taken to the machine: work sheets, measurements. Fields as in `kb.words.answers`."""

from typing import Any, Literal

from pydantic import Field

from kb.words.answers.base import Answer
from kb.words.answers.fitment import SourceRef, Verdict
from kb.words.answers.identification import Check, Identification


class HazardNote(Answer):
    """A kind of danger: what to do about it, and a public source."""

    hazard: str
    name: str
    text: str
    source: str


class StepBuyable(Answer):
    """A number that can be bought today, how many of it for the whole step, and whether it fits there ("" where no fitment is recorded)."""

    part_number: str
    description: str
    quantity: float
    verdict: Verdict | Literal[""]


class StepPartEntry(Answer):
    """A part used up in a step. quantity is for all the places of the entry together."""

    part_number: str
    description: str
    quantity: float
    current: list[StepBuyable] = Field(description="What can be bought today, any one of them; empty if nothing can.")


class MeasureEntry(Answer):
    """Something to measure in a step, with its limits."""

    what: str
    low: float | None
    high: float | None
    unit: str
    limits: str = Field(description="The limits in words; a length in millimetres and inches.")


class StepEntry(Answer):
    """A step as it applies to one unit."""

    step: str
    number: str = Field(description="Its number on this sheet.")
    text: str
    state: Literal["do", "undecided"]
    only_if: str = Field(description='The casting it is for; "" if it is for any.')
    places: list[str]
    probability: float = Field(description="The probability that it applies, at the place where that is least certain.")
    caution: str
    hazards: list[HazardNote]
    parts: list[StepPartEntry]
    measure: MeasureEntry | None
    decide: list[Check] = Field(description="With the first of several undecided steps: what to look at to decide between them.")
    source: SourceRef


class ProcedureEntry(Answer):
    """A procedure with the steps that apply to the unit, in order."""

    procedure: str
    title: str
    note: str
    hazards: list[HazardNote]
    steps: list[StepEntry]
    gaps: list[str] = Field(description="Castings for which no step is recorded.")
    left_out: list[str] = Field(description="Steps for other variants or units, which do not apply.")


class Sheet(Answer):
    """A work sheet (`kb sheet`)."""

    assembly: str
    unit: Identification
    procedures: list[ProcedureEntry]
    critical: str = Field(description='The caution for safety-critical components of the assembly; "" if there are none.')
    closing: str


class PackEntry(Answer):
    """Shims that bring the clearance within its limits."""

    pieces: dict[str, int]
    count: int
    thickness: float = Field(description="Together, in mm.")
    result: float = Field(description="What the measure should then be, in the unit of the step.")


class MeasureAnswer(Answer):
    """Whether a measure is within its limits, and which shims would bring it there (`kb measure`)."""

    step: str
    what: str
    value: float
    unit: str
    low: float | None
    high: float | None
    within: bool
    off_by: float = Field(description="How far it is outside the limits: negative below them, positive above.")
    says: str
    packs: list[PackEntry] = Field(description="Fewest pieces first; the second is the next best.")
    at_hand: dict[str, int]
    again: str
    applies: str = Field("", description='Whether the step applies to the unit; "" if no unit was named.')


class RemainingBlock(Answer):
    """A block with serials that match the characters exactly; castings: component -> the variants that they may have left the works with."""

    series: str
    block: str
    name: str
    castings: dict[str, list[str]]


class GuidePicture(Answer):
    """A drawing, complete in itself."""

    caption: str
    alt: str
    address: str = Field(description="A data: address.")


class GuideVariant(Answer):
    """One version of a component, and the serials of the model that left the works with it."""

    name: str
    how_to_tell: str
    marks: list[str]
    serials: list[str]
    pictures: list[GuidePicture]


class GuideComponent(Answer):
    """A component with its variants side by side."""

    name: str
    places: list[str]
    where_to_look: str
    safety_critical: bool
    pictures: list[GuidePicture]
    variants: list[GuideVariant]


class GuideSeries(Answer):
    """A series of serials, and where they are stamped."""

    name: str
    stamped_on: str
    blocks: list[str]
    pictures: list[GuidePicture]


class GuideDateCode(Answer):
    """How casting dates are read."""

    where: str
    layout: str
    example: str
    means: str
    note: str


class Guide(Answer):
    """What to know about a model before going to look at one (`kb guide`)."""

    name: str
    series: list[GuideSeries]
    components: list[GuideComponent]
    date_codes: list[GuideDateCode]
    checks: list[Check]
    look_up: list[dict[str, Any]] = Field(description="What the look-up of the page knows: see kb/desk/workshop/number_lookup.py.")
    critical: str
    closing: str


class NewSighting(Answer):
    """A row for sightings.csv from an examined unit; `name` is what a person calls the component place, not a column."""

    name: str
    sighting_id: str
    series_id: str
    serial: str
    component_id: str
    place: str
    variant_id: str
    mark_read: str
    original: str
    casting_date: str
