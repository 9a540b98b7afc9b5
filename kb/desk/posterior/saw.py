"""What a feature that was looked at or measured weighs at every variant (docs/model.md, section 4)."""

from collections.abc import Iterator, Sequence

import numpy as np

from kb.assumptions import Assumptions
from kb.desk.evidence.saw import ResolvedFeature, choice_values
from kb.desk.posterior.factor import Floats, Makers, Said, weighs
from kb.desk.posterior.observation import ObservationFactor
from kb.desk.sentences.unit import feature_says
from kb.probability.inference.assembly import Spot
from kb.store.book import Book
from kb.store.rows import FeatureRow


@weighs("saw")
def factors(makers: Makers, pieces: Sequence[ResolvedFeature]) -> Iterator["FeatureFactor"]:
    """One of each look and measure."""
    return (FeatureFactor(makers, piece) for piece in pieces)


class FeatureFactor(ObservationFactor):
    """One look, or one measure."""

    def __init__(self, makers: Makers, piece: ResolvedFeature) -> None:
        super().__init__(makers, piece)
        self.feature, self.value = piece.feature, piece.value

    def on_variants(self, component: str) -> Floats:
        """See `ObservationFactor`."""
        book, assumptions = self.makers.book, self.makers.assumptions
        of_variants = [on_variant(book, assumptions, self.feature, v.variant_id, self.value) for v in book.variants_of.get(component, [])]
        return np.array([*of_variants, self.unknown])

    def of_stranger(self) -> float:
        """See `ObservationFactor`."""
        if self.feature.kind == "measure":
            return self.makers.assumptions.measure_where_unrecorded
        return 1 / _values(self.makers.book, self.feature, self.value)

    def says(self, spot: Spot, variant: str) -> Said:
        """See `ObservationFactor`."""
        recorded = self.makers.book.feature_values.get(self.feature.feature_id, {}).get(variant)
        says = feature_says(self.makers.book, self.feature, self.value, *spot, variant)
        return Said(says, (recorded.source_id or "") if recorded else "", (recorded.page or "") if recorded else "")


def on_variant(book: Book, assumptions: Assumptions, feature: FeatureRow, variant_id: str, value: str | float) -> float:
    """P(value seen | variant)."""
    error = assumptions.feature_error if feature.error is None else feature.error
    recorded = book.feature_values.get(feature.feature_id, {}).get(variant_id)
    if feature.kind == "measure":
        if recorded is None:
            return assumptions.measure_where_unrecorded
        assert isinstance(value, float)
        return float(1 - error if inside(recorded.low, recorded.high, value) else error)
    count = _values(book, feature, value)
    if recorded is None or recorded.value is None:
        return 1 / count
    return float(1 - error if recorded.value == value else error / (count - 1))


def _values(book: Book, feature: FeatureRow, value: str | float) -> int:
    """How many answers the question has, the one given among them."""
    known = choice_values(book, feature.feature_id)
    return max(2, len(known) + (value not in known))


def inside(low: float | None, high: float | None, value: float) -> bool:
    """The measure lies in the range; both ends belong to it, an open end is None."""
    return (low is None or value >= low) and (high is None or value <= high)
