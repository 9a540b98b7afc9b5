"""Rows as the program reads them: a named tuple for each table, and for each select that reads a whole table with something beside it.

Written by `make docs` from the records and the schema; change those. A yes/no column is a bool here and a list a tuple, however they are
stored; the columns of PRIVATE are None in a file that was built with --public.
"""

from typing import Literal, NamedTuple


class SourceRow(NamedTuple):
    """A row of sources.csv as it is stored."""

    source_id: str
    title: str
    kind: Literal["factory record", "parts list", "service bulletin", "club register", "plate", "letter", "hearsay", "other"]
    issued: str | None
    grade: Literal["A", "B", "C", "D"]
    copied_from: tuple[str, ...]
    note: str | None


class MakerRow(NamedTuple):
    """A row of makers.csv as it is stored."""

    maker_id: str
    name: str
    left_means: str | None
    note: str | None


class ModelRow(NamedTuple):
    """A row of models.csv as it is stored."""

    model_id: str
    maker_id: str
    name: str
    built_from: str | None
    built_to: str | None
    note: str | None


class SeriesRow(NamedTuple):
    """A row of series.csv as it is stored."""

    series_id: str
    maker_id: str
    name: str
    stamped_on: str
    component_id: str | None
    check: Literal[
        "luhn",
        "verhoeff",
        "damm",
        "iso7064-11-2",
        "iso7064-11-10",
        "iso7064-37-2",
        "iso7064-37-36",
        "iso7064-97-10",
        "weighted-11-17",
    ] | None
    note: str | None


class AffixRow(NamedTuple):
    """A row of affixes.csv as it is stored."""

    series_id: str
    affix: str
    at: Literal["prefix", "suffix"]
    means: str
    note: str | None


class BlockRow(NamedTuple):
    """A row of blocks.csv as it is stored."""

    block_id: str
    series_id: str
    line: str | None
    position: int
    prefix: str | None
    first: int | None
    last: int | None
    suffix: str | None
    width: int | None
    model_id: str | None
    built_from: str | None
    built_to: str | None
    dates_are: Literal["built", "shipped", "registered", "model year"] | None
    units: int | None
    kind: Literal["new", "rebuilt", "service"]
    rival_of: str | None
    source_id: str
    page: str | None
    retracted: str | None
    note: str | None


class BlockModelRow(NamedTuple):
    """A row of block_models.csv as it is stored."""

    block_id: str
    model_id: str
    units: int


class ComponentRow(NamedTuple):
    """A row of components.csv as it is stored."""

    component_id: str
    maker_id: str
    assembly: str
    name: str
    places: tuple[str, ...]
    where_to_look: str | None
    safety_critical: bool
    replaced_rate: float | None
    note: str | None


class VariantRow(NamedTuple):
    """A row of variants.csv as it is stored."""

    variant_id: str
    component_id: str
    name: str
    how_to_tell: str
    same_function_as: str | None
    service_share: float | None
    note: str | None


class OptionRow(NamedTuple):
    """A row of options.csv as it is stored."""

    option_id: str
    component_id: str
    variant_id: str
    share: float
    model_id: str | None
    series_id: str | None
    serial_from: str | None
    serial_to: str | None
    source_id: str
    page: str | None


class MarkRow(NamedTuple):
    """A row of marks.csv as it is stored."""

    mark_id: str
    variant_ids: tuple[str, ...]
    text: str
    kind: Literal["casting number", "pattern letter", "stamped", "foundry", "other"]
    where: str | None
    source_id: str | None
    page: str | None
    note: str | None
    normal: str


class FeatureRow(NamedTuple):
    """A row of features.csv as it is stored."""

    feature_id: str
    component_id: str
    question: str
    kind: Literal["choice", "measure"]
    unit: str | None
    effort: float
    error: float | None
    note: str | None


class FeatureValueRow(NamedTuple):
    """A row of feature_values.csv as it is stored."""

    variant_id: str
    feature_id: str
    value: str | None
    low: float | None
    high: float | None
    source_id: str | None
    page: str | None


class BreakpointRow(NamedTuple):
    """A row of breakpoints.csv as it is stored."""

    breakpoint_id: str
    series_id: str
    component_id: str
    model_id: str | None
    old_variant_id: str | None
    new_variant_id: str
    first_new: str | None
    first_new_to: str | None
    about: bool
    when: str | None
    last_old: str | None
    as_printed: str | None
    source_id: str
    page: str | None
    retracted: str | None
    note: str | None


class SightingRow(NamedTuple):
    """A row of sightings.csv as it is stored."""

    sighting_id: str
    series_id: str
    serial: str
    component_id: str
    place: str | None
    variant_id: str | None
    mark_read: str | None
    original: Literal["believed", "unknown", "replaced"]
    casting_date: str | None
    seen_on: str | None
    observer: str | None
    evidence: str | None
    source_id: str | None
    retracted: str | None
    note: str | None


class PartRow(NamedTuple):
    """A row of parts.csv as it is stored."""

    part_number: str
    made_by: str | None
    description: str
    kind: Literal["original", "reproduction", "standard"]
    unit: Literal["each", "pair", "set", "m"]
    available: Literal["yes", "no", "unknown"]
    safety_critical: bool
    source_id: str | None
    note: str | None
    normal: str


class DimensionRow(NamedTuple):
    """A row of dimensions.csv as it is stored."""

    part_number: str
    dimension: str
    value: float
    unit: str


class ContentRow(NamedTuple):
    """A row of contents.csv as it is stored."""

    kit_number: str
    part_number: str
    quantity: float


class FitmentRow(NamedTuple):
    """A row of fitments.csv as it is stored."""

    fitment_id: str
    part_number: str
    component_id: str
    role: str
    fits: bool
    quantity: float
    per: Literal["place", "unit"]
    series_id: str | None
    serial_from: str | None
    serial_to: str | None
    model_id: str | None
    variant_id: str | None
    place: str | None
    figure: str | None
    item: str | None
    measure_first: str | None
    source_id: str
    page: str | None
    retracted: str | None
    note: str | None


class FitmentConditionRow(NamedTuple):
    """A row of fitment_conditions.csv as it is stored."""

    fitment_id: str
    component_id: str
    place: str | None
    variant_id: str | None
    feature_id: str | None
    value: str | None
    low: float | None
    high: float | None


class SupersessionRow(NamedTuple):
    """A row of supersessions.csv as it is stored."""

    supersession_id: str
    old_part: str
    new_part: str
    group: str | None
    quantity: float
    direction: Literal["one-way", "both-ways"]
    carries_fitment: bool
    series_id: str | None
    serial_from: str | None
    serial_to: str | None
    model_id: str | None
    variant_id: str | None
    with_part: str | None
    condition: str | None
    from_date: str | None
    source_id: str
    retracted: str | None
    note: str | None


class DateCodeRow(NamedTuple):
    """A row of date_codes.csv as it is stored."""

    date_code_id: str
    maker_id: str
    component_id: str | None
    layout: str
    month_letters: str | None
    century_from: int | None
    note: str | None


class ProcedureRow(NamedTuple):
    """A row of procedures.csv as it is stored."""

    procedure_id: str
    assembly: str
    title: str
    maker_id: str | None
    hazards: tuple[str, ...]
    note: str | None


class StepRow(NamedTuple):
    """A row of steps.csv as it is stored."""

    step_id: str
    procedure_id: str
    position: int
    text: str
    caution: str | None
    hazards: tuple[str, ...]
    measure: str | None
    low: float | None
    high: float | None
    unit: str | None
    shims: Literal["close", "open"] | None
    component_id: str | None
    variant_id: str | None
    series_id: str | None
    serial_from: str | None
    serial_to: str | None
    model_id: str | None
    source_id: str
    page: str | None


class StepPartRow(NamedTuple):
    """A row of step_parts.csv as it is stored."""

    step_id: str
    part_number: str
    quantity: float


class PictureRow(NamedTuple):
    """A row of pictures.csv as it is stored."""

    picture_id: str
    file: str
    shows: Literal["variant", "mark", "feature", "component", "series", "source"]
    shows_id: str
    caption: str
    alt: str
    credit: str | None
    licence: str | None
    media_type: str
    data: bytes


class ConfirmedReadingRow(NamedTuple):
    """A row of readings.csv as it is stored."""

    reading_id: str
    reading: str
    truth: str
    wear: Literal["clean", "worn", "badly-worn"]
    component_id: str | None
    source_id: str | None
    note: str | None


class OfferRow(NamedTuple):
    """A row of offers.csv as it is stored."""

    offer_id: str
    part_number: str
    supplier: str
    their_number: str | None
    condition: Literal["new old stock", "used", "reproduction", "reconditioned"]
    price: float | None
    currency: str | None
    as_of: str


class OutcomeRow(NamedTuple):
    """A row of outcomes.csv as it is stored."""

    outcome_id: str
    part_number: str
    component_id: str | None
    series_id: str | None
    serial: str | None
    variant_id: str | None
    result: Literal["fitted", "returned"]
    reason: str | None
    on: str | None


class MarkVariantRow(NamedTuple):
    """A row of the derived table mark_variants."""

    mark_id: str
    variant_id: str


class LineRow(NamedTuple):
    """A row of the derived table lines."""

    line_id: str
    series_id: str
    line: str | None
    position: int


class LineBlockRow(NamedTuple):
    """A row of the derived table line_blocks."""

    block_id: str
    line_id: str
    position: int
    first: int
    last: int
    order_first: int
    units: float
    built_first: str | None
    built_last: str | None


class LineBlockModelRow(NamedTuple):
    """A row of the derived table line_block_models."""

    block_id: str
    model_id: str | None
    units: float


class CellRow(NamedTuple):
    """A row of the derived table cells."""

    line_id: str
    models: str
    count: int  # type: ignore[assignment]  # tuples have a method of that name, which nobody calls
    data: bytes


class AsBuiltRow(NamedTuple):
    """A row of the derived table as_built."""

    as_built_id: str
    line_id: str
    component_id: str
    variants: str
    data: bytes


class ChangeoverRow(NamedTuple):
    """A row of the derived table changeovers."""

    changeover_id: str
    line_id: str
    series_id: str
    line: str | None
    component_id: str
    model_id: str | None
    old_variant_id: str
    new_variant_id: str
    units_concerned: int
    first_new: str
    first_new_order: int
    low: str
    low_order: int
    high: str
    high_order: int
    probability: float
    mixed: str
    sightings: int
    seek_serial: str | None
    seek_gain_bits: float | None
    both_to: str | None


class ChangeoverClaimRow(NamedTuple):
    """A row of the derived table changeover_claims."""

    changeover_id: str
    breakpoint_id: str
    standing: str
    probability: float


class ChangeoverOddSightingRow(NamedTuple):
    """A row of the derived table changeover_odd_sightings."""

    changeover_id: str
    sighting_id: str
    probability: float


class TextModelRow(NamedTuple):
    """A row of the derived table text_models."""

    kind: str
    data: bytes


class MarkIndexRow(NamedTuple):
    """A row of the derived table mark_index."""

    kind: str
    data: bytes


class SupersessionClosureRow(NamedTuple):
    """A row of the derived table supersession_closure."""

    from_part: str
    to_part: str


class DisputeRow(NamedTuple):
    """A row of the derived table disputes."""

    dispute_id: str
    kind: str
    subject: str
    text: str
    sources: str


class BuildInfoRow(NamedTuple):
    """A row of the derived table build_info."""

    name: str
    value: str


class MarkOfVariantRow(NamedTuple):
    """A mark with one of the variants that it tells."""

    mark_id: str
    variant_ids: tuple[str, ...]
    text: str
    kind: Literal["casting number", "pattern letter", "stamped", "foundry", "other"]
    where: str | None
    source_id: str | None
    page: str | None
    note: str | None
    normal: str
    variant_id: str


class MarkWithOwnerRow(NamedTuple):
    """A mark with a variant that it tells and that variant's component; None for both if it tells none."""

    mark_id: str
    variant_ids: tuple[str, ...]
    text: str
    kind: Literal["casting number", "pattern letter", "stamped", "foundry", "other"]
    where: str | None
    source_id: str | None
    page: str | None
    note: str | None
    normal: str
    variant_id: str | None
    component_id: str | None


class UsedBlockRow(NamedTuple):
    """A block that counts, with its place in the line, its numbers and what was built of it from when to when."""

    block_id: str
    series_id: str
    line: str | None
    position: int
    prefix: str | None
    first: int | None
    last: int | None
    suffix: str | None
    width: int | None
    model_id: str | None
    built_from: str | None
    built_to: str | None
    dates_are: Literal["built", "shipped", "registered", "model year"] | None
    units: int | None
    kind: Literal["new", "rebuilt", "service"]
    rival_of: str | None
    source_id: str
    page: str | None
    retracted: str | None
    note: str | None
    line_id: str
    place: int
    number_first: int
    number_last: int
    built_units: float
    built_first: str | None
    built_last: str | None


class SupersessionInOrderRow(NamedTuple):
    """A supersession with its place in the file."""

    supersession_id: str
    old_part: str
    new_part: str
    group: str | None
    quantity: float
    direction: Literal["one-way", "both-ways"]
    carries_fitment: bool
    series_id: str | None
    serial_from: str | None
    serial_to: str | None
    model_id: str | None
    variant_id: str | None
    with_part: str | None
    condition: str | None
    from_date: str | None
    source_id: str
    retracted: str | None
    note: str | None
    position: int


TABLE_OF: dict[type, str] = {
    SourceRow: "sources",
    MakerRow: "makers",
    ModelRow: "models",
    SeriesRow: "series",
    AffixRow: "affixes",
    BlockRow: "blocks",
    BlockModelRow: "block_models",
    ComponentRow: "components",
    VariantRow: "variants",
    OptionRow: "options",
    MarkRow: "marks",
    FeatureRow: "features",
    FeatureValueRow: "feature_values",
    BreakpointRow: "breakpoints",
    SightingRow: "sightings",
    PartRow: "parts",
    DimensionRow: "dimensions",
    ContentRow: "contents",
    FitmentRow: "fitments",
    FitmentConditionRow: "fitment_conditions",
    SupersessionRow: "supersessions",
    DateCodeRow: "date_codes",
    ProcedureRow: "procedures",
    StepRow: "steps",
    StepPartRow: "step_parts",
    PictureRow: "pictures",
    ConfirmedReadingRow: "readings",
    OfferRow: "offers",
    OutcomeRow: "outcomes",
}
PRIVATE: dict[type, frozenset[str]] = {
    SightingRow: frozenset({"evidence", "observer"}),
}
