"""The archivist's answers: change-overs in full, disputes, what changed between two knowledge bases, what confirmed readings taught."""

from typing import Literal

from pydantic import Field

from kb.words.answers.base import Answer


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
    weight_bits: float | None = Field(None, description="How much it raises the odds of low..high; None unless one change-over is asked for.")


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
    weight_bits: float = Field(description="How much it raises the odds of low..high; a negative figure speaks against it.")
    replaced: float = Field(description="Probability that the casting seen is not the original.")


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
    both_from: str = Field("", description="First serial of the stretch in which old and new were fitted side by side.")
    both_to: str = Field("", description="Last serial of it; both empty unless there probably was one.")
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


class LevelLearned(Answer):
    """What the readings of one level of wear taught."""

    wear: str
    readings: int = Field(description="Confirmed readings at that level for which the recorded truth is possible.")
    characters: float = Field(description="Characters counted; one that may have been elsewhere counts by its share.")
    misread: float = Field(description="How many of them were read as another character.")
    rate_usual: float = Field(description="How often a character is misread, averaged over all 36, as assumed.")
    rate: float = Field(description="The same after learning.")


class LearnedMisreading(Answer):
    """A misreading that is more likely after the readings than in the shipped table."""

    wear: str
    true: str
    read_as: str
    count: float
    usual: float = Field(description="P(read as | true) of the shipped table.")
    learned: float


class ReadingLeftOut(Answer):
    """A confirmed reading from which not everything could be learned."""

    reading_id: str
    reading: str
    truth: str
    used_for: Literal["nothing", "the table"]
    why: str


class ReliabilityBin(Answer):
    """Readings whose best mark was stated with a probability in low..high: the mean statement, and the share that was right."""

    low: float
    high: float
    count: int
    stated: float
    right: float


class ReadingsReview(Answer):
    """What was learned from confirmed readings (`kb review --readings`)."""

    readings: int
    used: int = Field(description="For how many of them the recorded truth is possible; their characters are counted.")
    fitted: int = Field(description="How many of those the exponent was fitted to, and the diagram shows.")
    exponent_usual: float
    exponent: float = Field(description="The exponent on the entries of worn readings; below 1 it flattens them.")
    levels: list[LevelLearned]
    misreadings: list[LearnedMisreading] = Field(description="The largest rises first.")
    left_out: list[ReadingLeftOut]
    diagram: list[ReliabilityBin]
    calibration_error: float | None = Field(description="Mean distance between stated and right over the diagram, by count; None without a diagram.")
    advice: list[str] = Field(description="What to record so that more is learned.")
