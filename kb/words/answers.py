"""The answers: what the command line prints as JSON, the web pages serve, and the API returns.

Fields may be added, those here stay. Probabilities are 0..1, lists are sorted by falling probability, ids are as in the
dataset, `place` is "" where a component has none, a variant "" is one that is not recorded here.
"""

from typing import Any, Literal

from pydantic import Field

from kb.words.answer import Answer
from kb.words.evidence import Evidence

Verdict = Literal["fits", "does not fit", "check first", "not recorded"]


class Outcome(Answer):
    """One possible result of a check, and what it would mean."""

    outcome: str
    means: str
    probability: float
    adds: dict[str, Any] = Field(default_factory=dict, description="The evidence it adds, in the notation of Evidence.")


class Check(Answer):
    """Something to look at next."""

    check: str = Field(description="What to do, as a sentence a person can act on.")
    effort: float = Field(description="Minutes it takes.")
    gain_bits: float = Field(description="Expected drop in entropy of what was asked.")
    outcomes: list[Outcome]


class Reason(Answer):
    """One piece of evidence and what it weighs."""

    evidence: str
    weight_bits: float = Field(description="By how much it favours the answer given against all others; negative: it speaks against it.")
    says: str
    source: str
    page: str


class UnitEntry(Answer):
    """A block and model that the unit may be of. `name` is what a person calls it."""

    name: str
    maker: str
    model: str
    series: str
    block: str
    serial_first: str
    serial_last: str
    built_from: str
    built_to: str
    probability: float
    likely_from: str = Field("", description="The first day of the time that its number in the block makes likely; a time that `dates_are` names.")
    likely_to: str = Field("", description="The last such day.")
    dates_are: str = Field("", description="What the dates of its block are: built, shipped, registered, model year.")


class SerialEntry(Answer):
    """One whole serial that the unit may have."""

    serial: str
    model: str
    probability: float


class FittedEntry(Answer):
    """What sits at one place of a component, and what left the works there. The names are what a person calls them."""

    name: str
    variant_name: str
    as_built_name: str
    component: str
    place: str
    variant: str
    probability: float
    as_built: str
    as_built_probability: float
    swapped: bool


class DateMeaning(Answer):
    """A time that a casting date may mean."""

    first: str
    last: str
    probability: float


class DateEntry(Answer):
    """A casting date, and whether its casting belongs to the unit. `name` is what a person calls the component place."""

    name: str
    component: str
    place: str
    code: str
    meanings: list[DateMeaning]
    standing: Literal["in time", "early", "later", "before its variant", "after its variant", "no dates known"]
    says: str
    not_original: float = Field(description="Probability that the casting did not leave the works with this unit.")
    variant_from: str = Field(description="First day on which units left the works with this variant, as far as dates are recorded.")
    variant_to: str


class Identification(Answer):
    """What a unit is (`kb identify`)."""

    evidence: Evidence
    units: list[UnitEntry]
    rest: float = Field(description="Probability of all units under .0001 each.")
    not_in_knowledge_base: float
    serials: list[SerialEntry]
    fitted: list[FittedEntry]
    conflicts: list[str]
    check_next: list[Check]
    because: list[Reason]
    cautions: list[str]
    dates: list[DateEntry] = Field(default_factory=list, description="The casting dates, in the order in which they were given.")
    assumptions: dict[str, Any] = Field(default_factory=dict, description="Assumptions that differ from the defaults.")
    cannot_tell: list[str] = Field(default_factory=list, description="Unrecorded numbers that a worn reading suits as well as recorded ones.")


class Match(Answer):
    """A casting mark that a reading may be. `name` is what a person calls the variants."""

    name: str
    mark: str
    text: str
    component: str
    variants: list[str]
    maker: str
    models: list[str]
    serial_first: str
    serial_last: str
    probability: float


class NearMark(Answer):
    """A recorded mark that may have been meant by one that is not recorded."""

    text: str
    name: str
    component: str
    apart: int = Field(description="By how many characters.")


class CastingAnswer(Answer):
    """What a loose casting is off (`kb casting`)."""

    reading: str
    said: dict[str, str] = Field(default_factory=dict, description="Where the casting came from: maker, component, model, serials, as far as said.")
    matches: list[Match]
    not_in_knowledge_base: float
    check_next: list[Check]
    near: list[NearMark] = Field(default_factory=list, description="Where no such mark is recorded: those nearest to it, none taken for it.")
    cannot_tell: list[str] = Field(default_factory=list, description="Unrecorded numbers that the reading suits as well as recorded ones.")
    part_of: str = Field("", description="Where it is only a part of recorded marks and does not say so: which, and how to write it.")
    elsewhere: str = Field("", description="Where it suits nothing of what was said, but another casting: which.")


class Ships(Answer):
    """A number that can be bought today, and whether it fits."""

    part_number: str
    quantity: float
    verdict: Verdict
    probability: float


class SourceRef(Answer):
    """Where a statement stands."""

    source: str
    page: str
    grade: str


class Fit(Answer):
    """Whether a part fits at one place of a component (`kb fits`, `kb parts`)."""

    part_number: str
    description: str
    name: str = Field(description='What a person calls the component place; "" when not recorded anywhere.')
    component: str
    place: str
    role: str
    quantity: float
    per: str
    verdict: Verdict
    probability: float = Field(description="That it fits.")
    against: float = Field(description="That something says it does not fit.")
    current: list[Ships]
    because: list[str]
    check_next: list[Check]
    cautions: list[str]
    sources: list[SourceRef]
    measure_first: str = ""
    notes: list[str] = Field(default_factory=list, description="What to know about the numbers that can be bought today.")
    outcomes: str = Field("", description='What came of sales of this number, in words: "fitted 14, returned 1: wrong shaft".')
    assumed: str = Field("", description="What the verdict assumes of costs, in words, if somebody stated them.")


class UnitRange(Answer):
    """A stretch of serials that a part fits."""

    model: str
    series: str
    serial_first: str
    serial_last: str
    variant: str
    place: str
    sure: bool = Field(description="True outside change-over intervals.")
    sources: list[SourceRef]


class UnitsAnswer(Answer):
    """Which units a part fits (`kb units`)."""

    part_number: str
    units: list[UnitRange]
    sentence: str


class TraceStep(Answer):
    """One supersession followed."""

    old: str
    new: str
    quantity: float
    direction: str
    condition: str
    source: str


class Buyable(Answer):
    """A number that can be bought today."""

    part_number: str
    quantity: float


class TraceAnswer(Answer):
    """What a part number has become (`kb trace`)."""

    asked: str
    steps: list[TraceStep]
    current: list[Buyable]
    dead_end: bool
    notes: list[str] = Field(default_factory=list)


class MixedWidth(Answer):
    """How long old stock was used up beside the new casting."""

    width: int
    probability: float


class ClaimEntry(Answer):
    """A source's claim about a change-over and how it stands."""

    breakpoint_id: str
    source: str
    first_new: str
    standing: Literal["supported", "contradicted", "open", "not used"]
    probability: float
    says: str = Field("", description="The claim in words.")
    page: str = ""
    weight_bits: float | None = Field(None, description="By how much it raises the odds of low..high; None unless one change-over is asked for.")


class OddSighting(Answer):
    """A sighting that is probably a replaced casting."""

    sighting_id: str
    probability: float


class SightingEntry(Answer):
    """A sighting that counts for a change-over, and what it adds."""

    sighting_id: str
    serial: str
    saw: str = Field(description="The variant or the mark that was seen.")
    speaks_for: Literal["old", "new", "neither"]
    original: str
    source: str
    weight_bits: float = Field(description="By how much it raises the odds of low..high; negative: it speaks against it.")
    replaced: float = Field(description="Probability that the casting seen is not the first.")


class SeekOutcome(Answer):
    """What a sighting of the serial to look for would make of the change-over."""

    outcome: Literal["old", "new"]
    probability: float
    low: str
    high: str


class Seek(Answer):
    """The serial whose sighting would narrow the change-over most."""

    serial: str
    gain_bits: float
    outcomes: list[SeekOutcome] = []


class ReplacedRate(Answer):
    """How often a casting of unknown originality is not the first: as assumed, and as the sightings of the whole dataset tell it."""

    assumed: float
    likeliest: float
    low: float
    high: float
    sightings: int
    changeovers: int


class ChangeOver(Answer):
    """When a component changed in a series, by all the evidence. `name` is what a person calls it."""

    name: str
    series: str
    line: str
    component: str
    model: str
    old_variant: str
    new_variant: str
    first_new: str
    low: str
    high: str
    probability: float
    mixed: list[MixedWidth]
    claims: list[ClaimEntry]
    sightings: int
    odd_sightings: list[OddSighting]
    seek: Seek | None
    both_from: str = Field("", description="Old and new were fitted side by side from this serial ...")
    both_to: str = Field("", description="... to this one; both empty unless that is more likely than not.")
    units: int = Field(0, description="How many serials are concerned.")
    weighed: list[SightingEntry] | None = Field(None, description="Every sighting that counts, if one change-over is asked for in full.")


class Dispute(Answer):
    """Something on which what is recorded does not agree."""

    kind: str
    subject: str
    text: str
    sources: list[str]


class ReviewAnswer(Answer):
    """The change-overs and disputes (`kb review`)."""

    changeovers: list[ChangeOver]
    disputes: list[Dispute]
    replaced_rate: ReplacedRate | None = None


class Change(Answer):
    """Something that two knowledge bases say differently."""

    kind: str = Field(description='"change-over", or what kind of row it is about.')
    subject: str = Field(description="The id of what it is about.")
    text: str


class ChangedAnswer(Answer):
    """A question of a list that is answered otherwise than before."""

    row: int
    question: str
    before: str
    after: str


class DiffAnswer(Answer):
    """What changed between two knowledge bases (`kb diff`)."""

    changes: list[Change]
    questions: list[ChangedAnswer] | None = Field(None, description="None if no questions were given.")
    asked: int = 0
