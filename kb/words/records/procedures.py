"""Procedures: how to put an assembly together, step by step, and what to take care of."""

from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, Field, ValidationInfo, field_validator

from kb.words.records.features import in_order
from kb.words.records.record import Measure, Name, Quantity, Record, Slug, Slugs, Stamped, Text, Whole, refuse

# Kinds of danger of which a sheet warns by itself; kb/probability/catalogue/hazards.py has the words and the sources.
HAZARDS = ("dust", "springs", "lifting", "jacking", "pressure", "electricity", "hot-work", "lead-paint")


def _known(hazards: tuple[str, ...]) -> tuple[str, ...]:
    for hazard in hazards:
        if hazard not in HAZARDS:
            raise refuse("no_hazard", f'"{hazard}" is no kind of hazard.', f"Use {', '.join(HAZARDS)}, or say it in caution.")
    return hazards


Hazards = Annotated[Slugs, AfterValidator(_known)]


class Procedure(Record):
    """One row of procedures.csv: a job on an assembly."""

    table: ClassVar[str] = "procedures"
    key: ClassVar[tuple[str, ...]] = ("procedure_id",)

    procedure_id: Slug = Field(description="Id of the procedure.")
    assembly: Name = Field(description="The assembly that it is about.")
    title: Name = Field(description="What the procedure does.")
    maker_id: Slug | None = Field(None, description="Only on this maker's units.")
    hazards: Hazards = Field((), description=f"The dangers of the whole job, any of: {', '.join(HAZARDS)}.")
    note: Text | None = Field(None, description="Remarks; public.")


class Step(Record):
    """One row of steps.csv. Empty conditions mean: on every unit."""

    table: ClassVar[str] = "steps"
    key: ClassVar[tuple[str, ...]] = ("step_id",)

    step_id: Slug = Field(description="Id of the step.")
    procedure_id: Slug = Field(description="The procedure that it belongs to.")
    position: Annotated[int, Whole()] = Field(description="Its position in the procedure: a whole number, ascending.")
    text: Text = Field(description="What to do.")
    caution: Text | None = Field(None, description="What can go wrong.")
    hazards: Hazards = Field((), description=f"The dangers of this step, any of: {', '.join(HAZARDS)}.")
    measure: Name | None = Field(None, description="What to measure.")
    low: Measure | None = Field(None, description="The lowest value that is right.")
    high: Measure | None = Field(None, description="The highest value that is right.")
    unit: Name | None = Field(None, description="Unit of the measure.")
    shims: Literal["close", "open"] | None = Field(
        None, description="What adding shims does: close makes the measure smaller by their thickness; open makes it larger. Empty: no shims."
    )
    component_id: Slug | None = Field(None, description="The component that it is about.")
    variant_id: Slug | None = Field(None, description="Only where this variant is fitted.")
    series_id: Slug | None = Field(None, description="Only on units of this series.")
    serial_from: Stamped | None = Field(None, description="Only from this serial on.")
    serial_to: Stamped | None = Field(None, description="Only up to and including this serial.")
    model_id: Slug | None = Field(None, description="Only on units of this model.")
    source_id: Slug = Field(description="The source that says so.")
    page: Name | None = Field(None, description="Page or figure in the source.")

    @field_validator("high")
    @classmethod
    def _in_order(cls, high: float | None, info: ValidationInfo) -> float | None:
        return in_order(high, info)


class StepPart(Record):
    """One row of step_parts.csv: a part that a step uses."""

    table: ClassVar[str] = "step_parts"
    key: ClassVar[tuple[str, ...]] = ("step_id", "part_number")

    step_id: Slug = Field(description="The step.")
    part_number: Stamped = Field(description="The part.")
    quantity: Quantity = Field(description="How many of it the step uses.")
