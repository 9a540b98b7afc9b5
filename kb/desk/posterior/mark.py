"""What a casting mark weighs: at every variant by the marks that it carries, at one place or at any of the unit (docs/model.md, section 4)."""

import math
from collections.abc import Iterator, Sequence
from functools import cached_property

import numpy as np

from kb.assumptions import Assumptions
from kb.desk.evidence.mark import NoMark, PlacedMark, UnplacedMark
from kb.desk.evidence.resolved import Resolved, ResolvedObservation, ResolvedReading
from kb.desk.evidence.second_looks import compile_pieces
from kb.desk.posterior.factor import Factor, Floats, Makers, Said, Weights, weighs
from kb.desk.posterior.observation import ObservationFactor
from kb.desk.sentences.unit import mark_says, no_mark_says
from kb.probability.channel.automaton import ReadingAutomata
from kb.probability.inference.assembly import Spot
from kb.probability.inference.mark_likelihood import mark_likelihood, none_there, or_foundry
from kb.store.book import Book
from kb.store.rows import MarkOfVariantRow


@weighs("mark")
def factors(makers: Makers, pieces: Sequence[Resolved]) -> Iterator[Factor]:
    """One of each mark."""
    for piece in pieces:
        if isinstance(piece, NoMark):
            yield NoMarkFactor(makers, piece)
        elif isinstance(piece, UnplacedMark):
            yield UnplacedMarkFactor(makers, piece)
        else:
            assert isinstance(piece, PlacedMark)
            yield MarkFactor(makers, piece)


class NoMarkFactor(ObservationFactor):
    """Looked, and no mark there."""

    def on_variants(self, component: str) -> Floats:
        """See `ObservationFactor`."""
        return none_at_variants(self.makers.book, self.makers.assumptions, component)

    def of_stranger(self) -> float:
        """See `ObservationFactor`."""
        return self.makers.assumptions.none_where_unrecorded

    def says(self, spot: Spot, variant: str) -> Said:
        """See `ObservationFactor`."""
        return Said(no_mark_says(self.makers.book, *spot, variant))


class MarkFactor(ObservationFactor):
    """A mark that was read. What it weighs at single mark texts is for whoever asks what was meant, or what to read again."""

    def __init__(self, makers: Makers, piece: PlacedMark | UnplacedMark) -> None:
        at_place = piece if isinstance(piece, ResolvedObservation) else ResolvedObservation(piece.text, {})
        super().__init__(makers, at_place)
        self.piece: ResolvedReading = piece
        self.said = piece.said
        self._of_texts: dict[str, Floats] = {}

    @cached_property
    def compiled(self) -> ReadingAutomata:
        """The reading, ready to be held against texts."""
        return compile_pieces([self.piece], self.makers.assumptions)

    def on_variants(self, component: str) -> Floats:
        """See `ObservationFactor`."""
        weights = self.on_texts(component)
        of_marks = [weights[mine] for mine in self.makers.book.marks_by_variant(component)]
        return np.append(mark_likelihood(of_marks, self.of_unrecorded, self.on_foundry, self.makers.assumptions), self.unknown)

    def of_stranger(self) -> float:
        """See `ObservationFactor`."""
        none = self.makers.assumptions.none_where_unrecorded
        return (1 - none) * float(or_foundry(np.array(self.of_unrecorded), self.on_foundry, self.makers.assumptions))

    def on_texts(self, component: str) -> Floats:
        """P(reading | text) of every mark text of a component, in the order of the index of its marks."""
        if component not in self._of_texts:
            index = self.makers.book.marks_index(component)
            self._of_texts[component] = index.weights(self.compiled) if index.texts else np.zeros(0)
        return self._of_texts[component]

    def of_texts(self, component: str) -> dict[str, float]:
        """The same by text."""
        return dict(zip(self.makers.book.marks_index(component).texts, self.on_texts(component).tolist(), strict=True))

    @cached_property
    def on_foundry(self) -> Floats:
        """(F,) P(reading | text) of every foundry mark, in the order of `foundry_texts`."""
        index = self.makers.book.index_of(tuple(sorted(self.makers.book.foundry_marks)))
        return index.weights(self.compiled) if index.texts else np.zeros(0)

    @property
    def foundry_texts(self) -> Sequence[str]:
        """The foundry marks."""
        return self.makers.book.index_of(tuple(sorted(self.makers.book.foundry_marks))).texts

    @cached_property
    def of_unrecorded(self) -> float:
        """U(r): P(reading | a mark that is not in this knowledge base)."""
        return self.makers.book.text_models["mark"].evidence(self.compiled)

    def says(self, spot: Spot, variant: str) -> Said:
        """See `ObservationFactor`."""
        book, mark = self.makers.book, self._best_mark(spot[0], variant)
        if mark is None or not variant:
            return Said(mark_says(book, *spot, variant, known=False))
        return Said(mark_says(book, *spot, variant, known=True), mark.source_id or "", mark.page or "")

    def _best_mark(self, component: str, variant: str) -> MarkOfVariantRow | None:
        """The recorded mark of the variant that the reading suits best, None if it has none."""
        mine = [mark for mark in self.makers.book.marks_of(component) if mark.variant_id == variant]
        weight = self.of_texts(component)
        return max(mine, key=lambda mark: weight[mark.normal], default=None)


class UnplacedMarkFactor(MarkFactor):
    """A mark that was read somewhere on the unit: on each place equally likely."""

    def weights(self, maker: str) -> Weights:
        """See `Factor`."""
        model = self.makers.models[maker]
        by_component = {component: self.at_variants(component) for component in model.components}
        best = max((float(likelihood.max()) for likelihood in by_component.values()), default=0.0)
        if not best:
            return Weights(-math.inf, loose=by_component)
        return Weights(math.log(best) - math.log(len(model.places)), loose={c: likelihood / best for c, likelihood in by_component.items()})

    def likeliest_place(self, maker: str) -> Spot | None:
        """See `ObservationFactor`."""
        return max(self.makers.models[maker].places, key=lambda spot: float(self.at_variants(spot[0]).max()), default=None)


def none_at_variants(book: Book, assumptions: Assumptions, component: str) -> Floats:
    """(V+1,) P(no mark there | variant), the unrecorded one last."""
    marked = [len(mine) > 0 for mine in book.marks_by_variant(component)]
    return np.append(none_there(marked, assumptions), assumptions.none_where_unrecorded)
