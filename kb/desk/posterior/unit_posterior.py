"""From evidence to the posterior: what every piece weighs for every unit, brought together (docs/model.md, section 8)."""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.desk.evidence.resolved import ResolvedEvidence, ResolvedSerial
from kb.desk.evidence.second_looks import compile_pieces
from kb.desk.posterior.casting_likelihood import Likelihood
from kb.desk.posterior.date_likelihood import DateLikelihood
from kb.desk.posterior.maker_model import MakerModel, MakerModelByTime
from kb.probability.channel.automaton import ReadingAutomata
from kb.probability.channel.range_weights import Weigher
from kb.probability.inference.assembly import Assembly, Casting, Dated, OwnNumber, Spot
from kb.probability.inference.posterior import MakerPosterior
from kb.probability.production.cell_table import CellTable
from kb.probability.production.serial_search import Whole, most_probable
from kb.store.book import Book, Row
from kb.words.errors import QuestionError

Floats = NDArray[np.float64]
LIKELY = 100  # whole serials kept for the answer and for advice
EVERYWHERE = 2  # marks read "somewhere on the unit" that are tried at every place
FAR_FROM_BEST = 1e-3  # numeric: with more such marks, one is not tried on components that it suits so much less than the best ...
MOST_LOOSE = 5  # ... and so many of them at most may be at several places: the work is threefold with each
NEGLIGIBLE = 1e-16  # numeric: a block that the serial makes this much less likely than the best is weighed as a whole


@dataclass(frozen=True)
class EvidencePiece:
    """One piece of evidence as it is left out to learn its weight: ("unit", ""), ("own", component), ("spot", its index) or ("date", its index)."""

    kind: str
    name: str
    text: str


@dataclass(frozen=True)
class UnitPosterior:
    """What a unit may be. scale: maker -> factor that makes the masses of its posterior probabilities; unknown: not in this knowledge base."""

    makers: dict[str, MakerPosterior]
    scale: dict[str, float]
    unknown: float
    likely: dict[str, list[Whole]] = field(default_factory=dict, compare=False)  # maker -> the most probable whole serials, once asked for

    @cached_property
    def mass(self) -> dict[str, Floats]:
        """maker -> (u cells,) probability of each cell."""
        return {maker: posterior.mass * self.scale[maker] for maker, posterior in self.makers.items()}


class Weighing:
    """All evidence of one question held against one knowledge base; `posterior` may leave pieces out."""

    def __init__(
        self, book: Book, frame: Callable[[str], MakerModel], question: ResolvedEvidence, assumptions: Assumptions, replaced_rate: float | None = None
    ) -> None:
        self.book, self.question, self.assumptions, self.replaced_rate = book, question, assumptions, replaced_rate
        dated = {maker for piece in question.dates for maker in piece.spots}
        self.frames = {maker: frame(maker).by_time if maker in dated else frame(maker) for maker in question.makers}
        self.likelihood, self.dates = Likelihood(book, assumptions), DateLikelihood(book, assumptions)
        self._vectors: dict[tuple[int, str], Floats] = {}
        self._dates: dict[tuple[int, str], tuple[Floats, float, float]] = {}
        self._assemblies: dict[object, Assembly] = {}
        self._suiting: dict[tuple[int, str], tuple[dict[str, float], float]] = {}

    @cached_property
    def pieces(self) -> list[EvidencePiece]:
        """Every piece of evidence; readings of one number are one piece."""
        found = [EvidencePiece("unit", "", ", ".join(s.said for s in self._unit_serials))] if self._unit_serials else []
        found += [EvidencePiece("own", c, ", ".join(s.said for s in serials)) for c, serials in self._own_serials.items()]
        found += [EvidencePiece("spot", str(i), spot.said) for i, spot in enumerate(self.question.spots)]
        return found + [EvidencePiece("date", str(i), date.text) for i, date in enumerate(self.question.dates)]

    def posterior(self, without: Iterable[EvidencePiece] = ()) -> UnitPosterior:
        """The posterior from all evidence but these pieces."""
        left_out = {(piece.kind, piece.name) for piece in without}
        serial = self._unit_weights if ("unit", "") not in left_out else None
        spots = [i for i in range(len(self.question.spots)) if ("spot", str(i)) not in left_out]
        dates = [i for i in range(len(self.question.dates)) if ("date", str(i)) not in left_out]
        own = {c: w for c, w in self._own_weights.items() if ("own", c) not in left_out}
        makers: dict[str, MakerPosterior] = {}
        logs: dict[str, float] = {}
        for maker, frame in self.frames.items():
            base = self._prior[maker] * (serial[maker] if serial else 1.0)
            top = float(base.max(initial=0.0))
            if top <= 0:
                continue
            log_scale = math.log(top) + self._foreign(maker, spots, dates, own)
            assemblies, log_of_castings = self._castings(maker, frame, spots, dates, own)
            assembly_of = {c: row.assembly for c, row in frame.components.items()}
            makers[maker] = MakerPosterior(base / top, assemblies, assembly_of)
            logs[maker] = log_scale + log_of_castings
        known = {maker: logs[maker] + _log(float(posterior.mass.sum())) for maker, posterior in makers.items()}
        unknown = _log(self.assumptions.not_in_knowledge_base) + self._unknown_log(serial is not None, spots, dates, own)
        top_log = max([unknown, *known.values()])
        if top_log == -math.inf:
            return UnitPosterior(makers, dict.fromkeys(makers, 0.0), 1.0)
        total = math.exp(unknown - top_log) + sum(math.exp(log - top_log) for log in known.values())
        scale = {maker: math.exp(logs[maker] - top_log) / total if logs[maker] > -math.inf else 0.0 for maker in makers}
        return UnitPosterior(makers, scale, math.exp(unknown - top_log) / total)

    def placed(self, posterior: UnitPosterior, maker: str, spot: int, at: Spot) -> MakerPosterior:
        """What is known of a maker's units, and that a mark read somewhere is at this place; to the scale that the posterior has."""
        spots, dates = (list(range(len(pieces))) for pieces in (self.question.spots, self.question.dates))
        assemblies, _ = self._castings(maker, self.frames[maker], spots, dates, self._own_weights, {spot: at})
        whole = posterior.makers[maker]
        return MakerPosterior(whole.base, assemblies, whole.component_assembly)

    # Serials

    @cached_property
    def _unit_serials(self) -> list[ResolvedSerial]:
        return [s for s in self.question.serials if not s.component]

    @cached_property
    def _own_serials(self) -> dict[str, list[ResolvedSerial]]:
        found: dict[str, list[ResolvedSerial]] = {}
        for serial in self.question.serials:
            if serial.component:
                found.setdefault(serial.component, []).append(serial)
        return found

    @cached_property
    def _prior(self) -> dict[str, Floats]:
        """maker -> (u cells,) prior; the makers, models and series left share it by units."""
        named = {s.series_id for s in self._unit_serials if s.series_id}
        units = {}
        for maker, frame in self.frames.items():
            u, left = frame.u, frame.u.units.copy()
            if named:
                left[~np.isin(u.line, [i for i, line in enumerate(u.lines) if {line.series_id} == named])] = 0.0
            if self.question.models:
                left[~np.isin(u.model, [i for i, model in enumerate(u.models) if model in self.question.models])] = 0.0
            units[maker] = left
        total = sum(float(left.sum()) for left in units.values())
        share = (1 - self.assumptions.not_in_knowledge_base) / total if total else 0.0
        return {maker: left * share for maker, left in units.items()}

    def weigher(self, maker: str) -> Weigher | None:
        """For stretches of a maker's units under the readings of the serial; None where no serial was read."""
        return self._weighers.get(maker)

    @cached_property
    def _weighers(self) -> dict[str, Weigher]:
        reading = self._compiled.get("")
        return {} if reading is None else {maker: Weigher(reading, frame.u.forms, self.assumptions) for maker, frame in self.frames.items()}

    @cached_property
    def _unit_weights(self) -> dict[str, Floats] | None:
        """maker -> (u cells,) P(serial readings | cell), or None where no serial was read."""
        if not self._unit_serials:
            return None
        whole = {maker: _block_weights(weigher, self.frames[maker].u) for maker, weigher in self._weighers.items()}
        best = max((float((self._prior[m] * w).max(initial=0.0)) for m, w in whole.items()), default=0.0)
        for maker, weigher in self._weighers.items():
            live = np.flatnonzero(self._prior[maker] * whole[maker] >= NEGLIGIBLE * best)
            whole[maker][live] = _cell_weights(weigher, self.frames[maker].u, live)
        return whole

    @cached_property
    def _own_weights(self) -> dict[str, Floats]:
        """numbered component -> (x cells,) P(readings of its own number | x)."""
        found = {}
        for component, serials in self._own_serials.items():
            reading, maker = self._compiled[component], self.book.components[component].maker_id
            if maker not in self.frames:
                continue
            own = self.frames[maker].own.get(self.book.components[component].assembly)
            if own is None:
                continue
            weights = _cell_weights(Weigher(reading, own.x.forms, self.assumptions), own.x, np.arange(len(own.x.units)))
            named = {s.series_id for s in serials}
            weights[~np.isin(own.x.line, [i for i, line in enumerate(own.x.lines) if {line.series_id} == named])] = 0.0
            found[component] = weights
        return found

    def own_reading(self, component: str) -> Floats:
        """(x cells,) P(readings of the component's own number | x)."""
        return self._own_weights[component]

    def likely_serials(self, posterior: UnitPosterior, maker: str) -> list[Whole]:
        """The most probable whole serials of a maker, as many as are worth listing; none without a reading."""
        if maker not in posterior.likely:
            mass, u = posterior.mass[maker], self.frames[maker].u
            weigher = self.weigher(maker)
            posterior.likely[maker] = [] if weigher is None else most_probable(weigher, u, mass, LIKELY)
        return posterior.likely[maker]

    @property
    def numbers(self) -> dict[str, tuple[list[ResolvedSerial], ReadingAutomata]]:
        """numbered component, or "" for the unit -> the readings of its number, and compiled together."""
        return {whose: (self._own_serials[whose] if whose else self._unit_serials, compiled) for whose, compiled in self._compiled.items()}

    @cached_property
    def _compiled(self) -> dict[str, ReadingAutomata]:
        """numbered component, or "" for the unit -> the readings of its number, compiled together."""
        read = {"": self._unit_serials, **self._own_serials}
        return {
            whose: compile_pieces(serials, self.assumptions) for whose, serials in read.items() if serials
        }

    @cached_property
    def _unknown_serial(self) -> dict[str, float]:
        """numbered component, or "" for the unit -> P(its readings | a number that is not in this knowledge base)."""
        return {whose: self.book.text_models["serial"].evidence(compiled) for whose, compiled in self._compiled.items()}

    # Castings

    def vector(self, spot: int, component: str) -> Floats:
        """(V+1,) P(the spot's piece | variant of the component)."""
        key = (spot, component)
        if key not in self._vectors:
            self._vectors[key] = self.likelihood.on_variants(component, self.question.spots[spot])
        return self._vectors[key]

    def _foreign(self, maker: str, spots: list[int], dates: list[int], own: dict[str, Floats]) -> float:
        """Logarithm of what evidence at components that the maker does not have weighs there."""
        log, places = 0.0, set()
        for i in spots:
            piece = self.question.spots[i]
            if not piece.anywhere and maker not in piece.spots:
                log += _log(self.likelihood.where_unknown(piece))
                places.add(tuple(piece.spots.values()))
        for i in dates:
            date = self.question.dates[i]
            if maker not in date.spots:
                log += _log(self.dates.misread(date))
                places.add(tuple(date.spots.values()))
        for component in own:
            if self.book.components[component].maker_id != maker:
                log += _log(self._unknown_serial[component])
                places.add(((component, ""),))
        return log + len(places) * _log(self.assumptions.unrecorded_variant)

    def _unknown_log(self, serial: bool, spots: list[int], dates: list[int], own: dict[str, Floats]) -> float:
        log = _log(self._unknown_serial[""]) if serial else 0.0
        log += sum(_log(self._unknown_serial[c]) for c in own)
        log += sum(_log(self.likelihood.where_unknown(self.question.spots[i])) for i in spots)
        rate = self.assumptions.replaced_rate if self.replaced_rate is None else self.replaced_rate
        return log + (_log(self.dates.where_unknown([self.question.dates[i] for i in dates], rate)) if dates else 0.0)

    def _castings(
        self, maker: str, frame: MakerModel, spots: list[int], dates: list[int], own: dict[str, Floats], at: Mapping[int, Spot] = MappingProxyType({})
    ) -> tuple[dict[str, Assembly], float]:
        """What was seen on the castings, by assembly, and the logarithm of the scale taken out of the likelihoods.

        at: the place where some of the marks without one are.
        """
        log = 0.0
        placed: dict[Spot, tuple[int, ...]] = {}
        for i in spots:
            piece = self.question.spots[i]
            if maker in piece.spots:
                placed[piece.spots[maker]] = (*placed.get(piece.spots[maker], ()), i)
                log += _log(float(self.vector(i, piece.spots[maker][0]).max()))
        dated: dict[Spot, tuple[int, ...]] = {}
        for i in dates:
            date = self.question.dates[i]
            if maker in date.spots:
                dated[date.spots[maker]] = (*dated.get(date.spots[maker], ()), i)
                log += _log(self._date(i, maker)[2])
        anywhere = [i for i in spots if self.question.spots[i].anywhere]
        if anywhere and not frame.places:
            return {}, -math.inf
        log += sum(_log(self._suits(i, maker)[1]) - math.log(len(frame.places)) for i in anywhere)
        choices = self._choices(maker, frame, anywhere) | {i: [spot] for i, spot in at.items()}
        for i, (one, *others) in choices.items():
            if not others:
                placed[one] = (*placed.get(one, ()), i)
        loose = {i: frozenset(component for component, _ in some) for i, some in choices.items() if len(some) > 1}
        return self._assembled(maker, frame, placed, loose, dated, own), log

    def _suits(self, spot: int, maker: str) -> tuple[dict[str, float], float]:
        """component -> the most that a mark without a place weighs there, and the greatest of them."""
        if (spot, maker) not in self._suiting:
            suits = {c: float(self.vector(spot, c).max()) for c in self.frames[maker].components}
            self._suiting[spot, maker] = (suits, max(suits.values(), default=0.0))
        return self._suiting[spot, maker]

    def _choices(self, maker: str, frame: MakerModel, anywhere: list[int]) -> dict[int, list[Spot]]:
        """For each mark without a place the places it may be on: all of them, or of many marks those that each suits by far best.

        Raises:
            QuestionError: too many marks may be in several places.
        """
        if len(anywhere) <= EVERYWHERE:
            return dict.fromkeys(anywhere, frame.places)
        choices = {}
        for i in anywhere:
            suits, best = self._suits(i, maker)
            choices[i] = [spot for spot in frame.places if suits[spot[0]] >= FAR_FROM_BEST * best]
        if sum(len(some) > 1 for some in choices.values()) > MOST_LOOSE:
            text = self.question.spots[max(choices, key=lambda i: len(choices[i]))].text
            raise QuestionError(f'Too many marks may be in several places; "{text}" in the most.', f'Say where it is read: "COMPONENT={text}".')
        return choices

    def _assembled(
        self,
        maker: str,
        frame: MakerModel,
        placed: dict[Spot, tuple[int, ...]],
        loose: dict[int, frozenset[str]],
        dated: dict[Spot, tuple[int, ...]],
        own: dict[str, Floats],
    ) -> dict[str, Assembly]:
        """loose: marks without a place, and the components on which each may be."""
        built = {}
        for name, components in frame.assemblies.items():
            mine = tuple((spot, pieces) for spot, pieces in placed.items() if spot[0] in components)
            numbered = frame.own[name].component_id if name in frame.own else None
            of_dates = tuple((spot, pieces) for spot, pieces in dated.items() if spot[0] in components)
            key = (maker, name, mine, tuple(loose.items()), of_dates, numbered in own)
            if key not in self._assemblies:
                castings = tuple(self._casting(frame, component, dict(mine), loose, dict(of_dates)) for component in components)
                self._assemblies[key] = self._assembly(frame, name, castings, own.get(numbered) if numbered else None)
            built[name] = self._assemblies[key]
        return built

    def _assembly(self, frame: MakerModel, name: str, castings: tuple[Casting, ...], own_reading: Floats | None) -> Assembly:
        number = None
        if name in frame.own:
            own = frame.own[name]
            transition = own.transition(self.rate(frame.components[own.component_id]))
            number = OwnNumber(own.group, transition, np.ones(len(own.x.units)) if own_reading is None else own_reading)
        return Assembly(castings, frame.u.share, self.assumptions.swapped_assembly, number)

    def _casting(
        self,
        frame: MakerModel,
        component: str,
        placed: dict[Spot, tuple[int, ...]],
        loose: dict[int, frozenset[str]],
        dated: dict[Spot, tuple[int, ...]],
    ) -> Casting:
        row = frame.components[component]
        nothing = np.ones(len(self.book.variants_of.get(component, ())) + 1)
        seen = {}
        for place in row.places:
            seen[place] = nothing
            for i in placed.get((component, place), ()):
                seen[place] = seen[place] * self._scaled(i, component, frame.maker_id)
        marks = tuple(self._scaled(i, component, frame.maker_id) if component in where else 0.0 * nothing for i, where in loose.items())
        dates = {place: self._dated(frame, row, dated[component, place]) for place in row.places if (component, place) in dated}
        fitted = frame.fitted(component, self.rate(row))
        return Casting(component, lambda: frame.as_built(component), fitted, seen, frame.by_own_number(component), dates, marks)

    def _scaled(self, spot: int, component: str, maker: str) -> Floats:
        """(V+1,) as `vector`, so that the greatest is 1: of this component, or of all where the mark may be on any."""
        vector = self.vector(spot, component)
        top = self._suits(spot, maker)[1] if self.question.spots[spot].anywhere else float(vector.max())
        return vector / top if top else vector

    def _dated(self, frame: MakerModel, component: Row, dates: tuple[int, ...]) -> Dated:
        in_time, later = np.ones(1), 1.0
        for i in dates:
            at_cells, otherwise, top = self._date(i, frame.maker_id)
            in_time, later = in_time * (at_cells / top), later * (otherwise / top)
        return Dated((1 - self.assumptions.unrecorded_variant) * (1 - self.rate(component)), in_time, later)

    def _date(self, date: int, maker: str) -> tuple[Floats, float, float]:
        """(cells,) P(the code | cell, built in), P(the code | not built in), and the greatest of them."""
        if (date, maker) not in self._dates:
            frame, piece = self.frames[maker], self.question.dates[date]
            assert isinstance(frame, MakerModelByTime)
            in_time, later = self.dates.in_time(piece, maker, frame), self.dates.later(piece, maker)
            self._dates[date, maker] = (in_time, later, max(later, float(in_time.max(initial=0.0))))
        return self._dates[date, maker]

    def rate(self, component: object) -> float:
        """How often castings of a component have been replaced."""
        if self.replaced_rate is not None:
            return self.replaced_rate
        recorded = getattr(component, "replaced_rate", None)
        return self.assumptions.replaced_rate if recorded is None else float(recorded)


def _log(value: float) -> float:
    return math.log(value) if value > 0 else -math.inf


def _block_weights(weigher: Weigher, cells: CellTable) -> Floats:
    """(cells,) P(reading | block of the cell)."""
    ends = [(line.blocks[position].first, line.blocks[position].last) for line, position in cells.blocks]
    first, last = np.array(ends, dtype=np.int64).reshape(-1, 2).T
    weights = weigher.weights(np.arange(len(ends)), first, last) / (last - first + 1)
    return np.asarray(weights[cells.block], dtype=np.float64)


def _cell_weights(weigher: Weigher, cells: CellTable, some: NDArray[np.int64]) -> Floats:
    """(len(some),) P(reading | cell) for some cells."""
    first, last = cells.first[some], cells.last[some]
    return weigher.weights(cells.block[some], first, last) / (last - first + 1)
