"""Components, the variants of each, and variants fitted side by side."""

from typing import Annotated, ClassVar

from pydantic import Field

from kb.words.records.record import Name, Number, Record, Share, Slug, Slugs, Stamped, Text, Yes


class Component(Record):
    """One row of components.csv: a kind of casting or part position."""

    table: ClassVar[str] = "components"
    key: ClassVar[tuple[str, ...]] = ("component_id",)

    component_id: Slug = Field(description="Id of the component.")
    maker_id: Slug = Field(description="The maker whose units it is found on.")
    assembly: Name = Field(description="The assembly that it belongs to; assemblies are swapped as a whole.")
    name: Name = Field(description="What it is called.")
    places: Slugs = Field((), description="The places where it occurs on one unit, if more than one: left;right.")
    where_to_look: Text | None = Field(None, description="Where to find its number or mark.")
    safety_critical: Yes = Field(description="Whether somebody may be hurt if it is wrong; verdicts are then stricter and always carry a caution.")
    replaced_rate: Share | None = Field(None, description="Share of old units on which it is no longer the one fitted at the works.")
    note: Text | None = Field(None, description="Remarks; public.")


class Variant(Record):
    """One row of variants.csv: one version of a component that can be told from the others."""

    table: ClassVar[str] = "variants"
    key: ClassVar[tuple[str, ...]] = ("variant_id",)

    variant_id: Slug = Field(description="Id of the variant.")
    component_id: Slug = Field(description="The component it is a version of.")
    name: Name = Field(description="What it is called.")
    how_to_tell: Text = Field(description="How to tell it from the others with the part in hand.")
    same_function_as: Slug | None = Field(None, description="The variant that it replaces without a change in function; fitments carry over.")
    service_share: Annotated[float, Number(0)] | None = Field(None, description="Weight among the castings supplied as replacements; empty: 1.")
    note: Text | None = Field(None, description="Remarks; public.")


class Option(Record):
    """One row of options.csv: a variant fitted to a share of the units, whatever their serial (second supplier, export, optional)."""

    table: ClassVar[str] = "options"
    key: ClassVar[tuple[str, ...]] = ("option_id",)

    option_id: Slug = Field(description="Id of the option.")
    component_id: Slug = Field(description="The component.")
    variant_id: Slug = Field(description="The variant fitted to that share.")
    share: Share = Field(description="Share of the units, 0 to 1.")
    model_id: Slug | None = Field(None, description="Only units of this model.")
    series_id: Slug | None = Field(None, description="Only units of this series.")
    serial_from: Stamped | None = Field(None, description="Only from this serial on.")
    serial_to: Stamped | None = Field(None, description="Only up to and including this serial.")
    source_id: Slug = Field(description="The source that says so.")
    page: Name | None = Field(None, description="Page or figure in the source.")
