"""Does a part fit: from what its rules say of every possibility to yes, no and silence, and from those to a verdict.

docs/model.md, section 9. Sets of possibilities are those of `kb.probability.inference.events`.
"""

from collections.abc import Iterable
from typing import Literal, NamedTuple, Self

from kb.assumptions import Assumptions
from kb.probability.inference.costs import Thresholds, thresholds

VerdictText = Literal["fits", "does not fit", "check first", "not recorded"]


class Truth(NamedTuple):
    """Where one rule holds, and where its limits (series, serial range, model, place) do."""

    holds: int
    within: int


class States(NamedTuple):
    """The possibilities in which a part fits, and in which something says it does not; the rest is silence."""

    yes: int
    no: int


def states(everything: int, fits: Iterable[Truth], refuses: Iterable[Truth], others: int) -> States:
    """What a part's rules say.

    Args:
        fits: the rules that say it fits. refuses: those that say it does not; an exception beats the rule it is one of.
        others: where a rule of another part in the same role holds.
    """
    yes, refused, within = 0, 0, 0
    for truth in fits:
        yes |= truth.holds
        within |= truth.within
    for truth in refuses:
        refused |= truth.holds
        within |= truth.within
    yes &= ~refused
    return States(yes, everything & ~yes & (refused | others | ~within))


class VerdictContext(NamedTuple):
    """What besides the probabilities decides a verdict."""

    safety_critical: bool = False
    component_seen: bool = True  # a mark, feature or measure at this place is among the evidence
    to_be_measured: bool = False  # the row asks for a measure that was not given
    sound: float = 1.0  # yes by the rules that rest neither on grade D alone nor on a condition that a person must judge
    one_quantity: float = 1.0  # yes with the most probable quantity; rows may ask for different ones


class VerdictThresholds(NamedTuple):
    """The probabilities at which a verdict is given, for usual parts and for safety-critical ones, and the silence at which nothing is recorded.

    elsewhere: the probability that the unit is another maker's, of whose castings the part's rules do not speak. That is no silence about the part.
    """

    usual: Thresholds
    critical: Thresholds
    not_recorded: float
    elsewhere: float = 0.0

    @classmethod
    def of(cls, assumptions: Assumptions, elsewhere: float = 0.0) -> Self:
        """What holds under these assumptions.

        Raises:
            DataError: costs are stated that make no sense.
        """
        return cls(thresholds(assumptions, False), thresholds(assumptions, True), assumptions.not_recorded_at, elsewhere)


def verdict(yes: float, no: float, beside: VerdictContext, at: VerdictThresholds) -> VerdictText:
    """The verdict for the probabilities of yes and no.

    >>> verdict(0.97, 0.02, VerdictContext(), VerdictThresholds.of(Assumptions()))
    'fits'
    >>> verdict(0.97, 0.02, VerdictContext(safety_critical=True), VerdictThresholds.of(Assumptions()))
    'check first'
    """
    threshold = at.critical if beside.safety_critical else at.usual
    if yes >= threshold.fits:
        seen = beside.component_seen or not beside.safety_critical
        settled = not beside.to_be_measured and min(beside.sound, beside.one_quantity) >= threshold.fits
        return "fits" if seen and settled else "check first"
    if no >= threshold.does_not_fit:
        return "does not fit"
    here = 1 - at.elsewhere
    return "not recorded" if here - yes - no >= at.not_recorded * here else "check first"
