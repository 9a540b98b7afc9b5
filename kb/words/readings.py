"""What confirmed readings taught, as `kb review --readings` answers it; fields as in `kb.words.answers`."""

from typing import Literal

from pydantic import Field

from kb.words.answer import Answer


class LevelLearned(Answer):
    """What the readings of one level of wear taught."""

    wear: str
    readings: int = Field(description="Confirmed readings of that level that can be what they proved to be.")
    characters: float = Field(description="Characters counted; what may have stood elsewhere counts by its share.")
    misread: float = Field(description="Those of them that were read as another character.")
    rate_usual: float = Field(description="How often a character is misread, the average of all 36, as assumed.")
    rate: float = Field(description="The same after learning.")


class LearnedMisreading(Answer):
    """A misreading that the readings made more likely than the shipped table has it."""

    wear: str
    true: str
    read_as: str
    count: float
    usual: float = Field(description="P(read as | true) of the shipped table.")
    learned: float


class ReadingLeftOut(Answer):
    """A confirmed reading that could not teach everything."""

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
    used: int = Field(description="How many of them can be what they proved to be; their characters are counted.")
    fitted: int = Field(description="To how many of those the exponent was fitted, and the diagram belongs.")
    exponent_usual: float
    exponent: float = Field(description="The exponent on the entries of worn readings; below 1 it flattens them.")
    levels: list[LevelLearned]
    misreadings: list[LearnedMisreading] = Field(description="The largest rises first.")
    left_out: list[ReadingLeftOut]
    diagram: list[ReliabilityBin]
    calibration_error: float | None = Field(description="Mean distance of stated and right over the diagram, by count; None without a diagram.")
    advice: list[str] = Field(description="What to record so that more is learned.")
