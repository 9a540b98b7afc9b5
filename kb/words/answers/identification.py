"""What a unit is, what is fitted to it, what a loose casting is off."""

from typing import Any, Literal

from pydantic import Field

from kb.words.answers.base import Answer
from kb.words.evidence import Evidence


def probably_unknown(probability: float) -> bool:
    """Whether something is called "not in this knowledge base": it is at least as likely not in it as in it. In doubt nothing is promised.

    >>> probably_unknown(0.5), probably_unknown(0.49)
    (True, False)
    """
    return probability >= 0.5  # numeric


class Outcome(Answer):
    """One possible result of a check, and what it would mean."""

    outcome: str
    means: str
    probability: float
    adds: dict[str, Any] = Field(default_factory=dict, description="The evidence that it adds, in the notation of Evidence.")
    then: str = Field("", description="The answer that would be the most probable then; `means` says it with how probable.")
    then_probability: float = Field(0.0, description="How probable it would be.")


class Check(Answer):
    """Something to look at next."""

    check: str = Field(description="What to do, as a sentence a person can act on.")
    effort: float = Field(description="Minutes it takes.")
    gain_bits: float = Field(description="Expected drop in entropy of what was asked.")
    outcomes: list[Outcome]


class Reason(Answer):
    """One piece of evidence and what it weighs."""

    evidence: str
    weight_bits: float = Field(description="How much it favours the answer over all others; negative: speaks against it.")
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
    likely_from: str = Field("", description="First day of the time that is likely by its number in the block; `dates_are` says of what.")
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
    variant_from: str = Field(description="First day on which units left the works with this variant, if dates are recorded.")
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
    cannot_tell: list[str] = Field(default_factory=list, description="Unrecorded numbers that a worn reading suits just as well as recorded ones.")

    @property
    def unknown(self) -> bool:
        """Whether the unit is called "not in this knowledge base"."""
        return probably_unknown(self.not_in_knowledge_base)


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
    apart: int = Field(description="How many characters apart they are.")


class CastingAnswer(Answer):
    """What a loose casting is off (`kb casting`)."""

    reading: str
    said: dict[str, str] = Field(default_factory=dict, description="Where the casting came from, if said: maker, component, model, serials.")
    matches: list[Match]
    not_in_knowledge_base: float
    check_next: list[Check]
    near: list[NearMark] = Field(default_factory=list, description="If no such mark is recorded: those nearest to it; none is assumed.")
    cannot_tell: list[str] = Field(default_factory=list, description="Unrecorded numbers that the reading suits just as well as recorded ones.")
    part_of: str = Field("", description="If it is only part of recorded marks and does not say so: which, and how to write it.")
    elsewhere: str = Field("", description="If it suits nothing that was said but does suit another casting: which.")

    @property
    def unknown(self) -> bool:
        """Whether the casting is called "not in this knowledge base"."""
        return probably_unknown(self.not_in_knowledge_base)
