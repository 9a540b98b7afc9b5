"""What something seen on a component weighs, whatever its kind: so much at each of the component's variants (docs/model.md, section 4)."""

from abc import abstractmethod
from functools import cached_property

from kb.desk.evidence.resolved import ResolvedObservation
from kb.desk.posterior.factor import Factor, Floats, Makers, Said, Weights, log, scaled
from kb.desk.sentences.unit import NO_SUCH_COMPONENT
from kb.probability.inference.assembly import Spot
from kb.probability.inference.posterior import MakerPosterior
from kb.words.answers.identification import UnitEntry

LEAST_FITTED = 1e-6  # numeric: of the most probable variant: one less probable is not what a piece is said to be of


class ObservationFactor(Factor):
    """One observation. A kind says what it weighs at the variants of a component, where nothing is known, and in words."""

    def __init__(self, makers: Makers, piece: ResolvedObservation) -> None:
        self.makers, self.spots, self.given, self.said = makers, piece.spots, piece.text, piece.said
        self.components = tuple(component for component, _ in piece.spots.values())
        self._at_variants: dict[str, Floats] = {}

    @abstractmethod
    def on_variants(self, component: str) -> Floats:
        """(V+1,) P(piece | variant of the component), in the order of `variants_of`, the unrecorded variant last."""

    @abstractmethod
    def of_stranger(self) -> float:
        """P(piece | a variant, or a unit, that is not in this knowledge base)."""

    @abstractmethod
    def says(self, spot: Spot, variant: str) -> Said:
        """What it says of the variant at a place, "" for the unrecorded one."""

    def at_variants(self, component: str) -> Floats:
        """As `on_variants`, worked out once."""
        if component not in self._at_variants:
            self._at_variants[component] = self.on_variants(component)
        return self._at_variants[component]

    @cached_property
    def unknown(self) -> float:
        """As `of_stranger`, worked out once."""
        return self.of_stranger()

    def weights(self, maker: str) -> Weights:
        """See `Factor`."""
        if maker not in self.spots:
            return Weights(log(self.unknown), absent=tuple(self.spots.values()))
        likelihood, scale = scaled(self.at_variants(self.spots[maker][0]))
        return Weights(scale, seen={self.spots[maker]: likelihood})

    def where_unknown(self) -> float:
        """See `Factor`."""
        return self.unknown

    def reason(self, unit: UnitEntry, posterior: MakerPosterior, bits: float) -> Said:
        """See `Factor`."""
        spot = self.likeliest_place(unit.maker)
        if spot is None:
            return Said(NO_SUCH_COMPONENT)
        names = [v.variant_id for v in self.makers.book.variants_of.get(spot[0], [])] + [""]
        fitted = posterior.totals(spot).fitted[0]
        return self.says(spot, names[int((self.at_variants(spot[0]) * (fitted > fitted.max() * LEAST_FITTED)).argmax())])

    def likeliest_place(self, maker: str) -> Spot | None:
        """The place of a maker's units that it is taken to be at."""
        return self.spots.get(maker)
