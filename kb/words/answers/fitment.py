"""Whether a part fits, which units it fits, and what can be bought today for its number."""

from typing import Literal

from pydantic import Field

from kb.words.answers.base import Answer
from kb.words.answers.identification import Check

Verdict = Literal["fits", "does not fit", "check first", "not recorded"]


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
    assumed: str = Field("", description="What the verdict assumes about costs, in words, if they were given.")


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
