"""What to look at next: every observation not yet made, by what it would tell about the question asked, per minute."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from kb.channel.reading import Reading
from kb.desk import explain
from kb.desk.likelihood import inside
from kb.desk.question import SpotPiece, choice_values
from kb.desk.serials import printed
from kb.desk.weigh import UnitPosterior, Weighing
from kb.file.book import Row
from kb.inference.advice import gain, normalised, observed
from kb.inference.assembly import Spot
from kb.words.answers import Check, Outcome

Floats = NDArray[np.float64]
CLEANING_MINUTES = 5.0  # wire brush, torch, chalk; design's scale: 1 look, 5 clean or measure, 60 dismantle
WORTH_SAYING = 0.01  # bits
LISTED_AT_LEAST = 0.5  # of the probability that whole serials must hold before a character of the serial is advised


class Asked(Protocol):
    """A question with finitely many answers, and how they depend on what can be looked at. All arrays are joint probabilities that sum to 1."""

    def labels(self, spot: Spot | None) -> list[str]:
        """The answers in words; spot: the place looked at, by which a question put place by place has its answers; None: a serial."""
        ...

    def by_spot(self, maker: str, spot: Spot) -> Floats:
        """(answers, V+2): by the variant fitted at a place; the last entry is everything the maker's recorded units do not explain."""
        ...

    def by_cells(self, maker: str) -> Floats:
        """(answers, u cells): by the cell of the maker's units."""
        ...


@dataclass(frozen=True)
class Candidate:
    """One observation, at a place or (None) of the serial. joint: (answers, outcomes); adds: what evidence an outcome, by its number, would add."""

    spot: Spot | None
    check: str
    effort: float
    outcomes: list[str]
    joint: Floats
    adds: Callable[[int], dict[str, Any]]


def advise(
    weighing: Weighing, posterior: UnitPosterior, asked: Asked, most: int = 5, only: str | None = None, near: frozenset[str] | None = None
) -> list[Check]:
    """The checks worth making, best first by gain per minute.

    Args:
        only: a component to which they are limited.
        near: the assemblies on whose castings the answer depends, if it depends on no others but through the unit. Then what another assembly
            shows cannot tell more than the unit itself would, and is looked into only where that could still be among the best.
    """
    found: list[tuple[float, float, Candidate]] = []  # by bits a minute, and bits
    bound = _at_most(posterior, asked) if near is not None and not any(piece.anywhere for piece in weighing.question.spots) else None

    def may_be_worth(assembly: str, effort: float) -> bool:
        if bound is None or near is None or assembly in near:
            return True
        if bound < WORTH_SAYING:
            return False
        return len(found) < most or bound / effort >= sorted((score for score, _, _ in found), reverse=True)[most - 1]

    for candidate in _candidates(weighing, posterior, asked, only, near or frozenset(), may_be_worth):
        bits = gain(candidate.joint)
        if bits >= WORTH_SAYING:
            found.append((bits / candidate.effort, bits, candidate))
    found.sort(key=lambda scored: (-scored[0], scored[2].check))
    return [Check(check=c.check, effort=c.effort, gain_bits=bits, outcomes=_outcomes(asked, c)) for _, bits, c in found[:most]]


def _at_most(posterior: UnitPosterior, asked: Asked) -> float:
    """What knowing the unit would tell of the answer, in bits: the most that anything can tell which depends on it only through the unit
    (the data processing inequality; Cover and Thomas, Elements of Information Theory, 2nd ed., 2.8)."""
    if not posterior.makers:
        return 0.0
    maker = max(posterior.mass, key=lambda m: float(posterior.mass[m].sum()))
    share = min(1.0, float(posterior.mass[maker].sum()))
    cells = asked.by_cells(maker)
    rest = np.zeros((len(cells), 1))
    rest[-1, 0] = 1 - share
    return float(gain(np.hstack([cells * share, rest]))) + 1e-9


def _outcomes(asked: Asked, candidate: Candidate) -> list[Outcome]:
    found, labels = [], asked.labels(candidate.spot)
    for i, outcome in enumerate(candidate.outcomes):
        probability = float(candidate.joint[:, i].sum())
        if probability > 0.001:
            after = candidate.joint[:, i] / probability
            best = int(after.argmax())
            means = explain.means(labels[best], float(after[best]))
            found.append(Outcome(outcome=outcome, means=means, probability=probability, adds=candidate.adds(i)))
    return sorted(found, key=lambda o: -o.probability)


def _candidates(
    weighing: Weighing, posterior: UnitPosterior, asked: Asked, only: str | None, near: frozenset[str], may_be_worth: Callable[[str, float], bool]
) -> Iterator[Candidate]:
    if not posterior.makers:
        return
    maker = max(posterior.mass, key=lambda m: float(posterior.mass[m].sum()))
    frame, question = weighing.frames[maker], weighing.question
    seen = {(piece.spots[maker], piece.feature.feature_id if piece.feature else None) for piece in question.spots if maker in piece.spots}
    for component in sorted(frame.components.values(), key=lambda c: c.assembly not in near):
        if only is not None and component.component_id != only:
            continue
        for place in component.places:
            spot = (component.component_id, place)
            joint: Floats | None = None
            for feature in weighing.book.features_of.get(component.component_id, ()):
                if (spot, feature.feature_id) not in seen and may_be_worth(component.assembly, float(feature.effort)):
                    joint = asked.by_spot(maker, spot) if joint is None else joint
                    yield _feature(weighing, feature, spot, joint)
            unread_mark = (spot, None) not in seen and may_be_worth(component.assembly, CLEANING_MINUTES)
            if unread_mark and weighing.book.marks_of(component.component_id):
                joint = asked.by_spot(maker, spot) if joint is None else joint
                yield _mark(weighing, maker, spot, joint)
    for i, piece in enumerate(question.spots):
        if maker in piece.spots and piece.reading is not None and only in (None, piece.spots[maker][0]):
            yield from _mark_characters(weighing, asked, maker, i, piece)
    yield from _serial_characters(weighing, posterior, asked, maker)


def _text(spot: Spot) -> str:
    return f"{spot[0]}@{spot[1]}" if spot[1] else spot[0]


def _feature(weighing: Weighing, feature: Row, spot: Spot, joint: Floats) -> Candidate:
    variants = weighing.book.variants_of.get(spot[0], [])
    if feature.kind == "measure":
        names, rows = _measure_outcomes(weighing, feature, variants)
    else:
        names = choice_values(weighing.book, feature.feature_id)
        rows = [[weighing.likelihood.feature(feature, v.variant_id, name) for v in variants] + [1 / max(2, len(names))] * 2 for name in names]
    outcome = np.array(rows, dtype=np.float64).reshape(len(names), len(variants) + 2)
    outcome = np.vstack([outcome, np.maximum(0.0, 1 - outcome.sum(0))])
    choice = feature.kind != "measure"

    def adds(i: int) -> dict[str, Any]:
        return {"features": f"{_text(spot)}.{feature.feature_id}={[*names, 'other'][i]}"} if choice else {}

    check, joint = explain.look(weighing.book, feature, *spot), observed(joint, outcome)
    return Candidate(spot, check, float(feature.effort), [*names, "something else"], joint, adds)


def _measure_outcomes(weighing: Weighing, feature: Row, variants: list[Row]) -> tuple[list[str], list[list[float]]]:
    """The stretches into which the recorded ranges cut the scale, and how likely a measure falls into each."""
    recorded = weighing.book.feature_values.get(feature.feature_id, {})
    error = weighing.assumptions.feature_error if feature.error is None else feature.error
    edges = sorted({edge for row in recorded.values() for edge in (row.low, row.high) if edge is not None})
    middles = [e for pair in zip(edges, edges[1:], strict=False) for e in (pair[0], (pair[0] + pair[1]) / 2)] + edges[-1:]
    if not middles:
        return [], []
    points = [middles[0] - 1, *middles, middles[-1] + 1]
    groups: dict[tuple[bool, ...], list[float]] = {}
    for point in points:
        groups.setdefault(tuple(inside(row, point) for row in recorded.values()), []).append(point)
    unit = feature.unit or "mm"
    names, rows = [], []
    holding = {v: sum(groups_key[list(recorded).index(v)] for groups_key in groups) for v in recorded}
    for key, within in groups.items():
        names.append(f"{within[0]:g} {unit}" if len(within) == 1 else f"{within[0]:g} to {within[-1]:g} {unit}")
        row = []
        for variant in variants:
            if variant.variant_id not in recorded:
                row.append(1 / len(groups))
                continue
            inside_here, count = key[list(recorded).index(variant.variant_id)], holding[variant.variant_id]
            if count in (0, len(groups)):
                row.append(1 / len(groups))
            else:
                row.append((1 - error) / count if inside_here else error / (len(groups) - count))
        rows.append(row + [1 / len(groups)] * 2)
    return names, rows


def _mark(weighing: Weighing, maker: str, spot: Spot, joint: Floats) -> Candidate:
    as_cast, outcome = weighing.frames[maker].marks_told(spot[0])
    texts = [*as_cast, "", "none"]

    def adds(i: int) -> dict[str, Any]:
        return {"marks": f"{_text(spot)}={texts[i]}"} if texts[i] else {}

    names = [*as_cast, "another mark", "no mark"]
    return Candidate(spot, explain.read_mark(weighing.book, *spot), CLEANING_MINUTES, names, observed(joint, outcome), adds)


def unread(reading: Reading) -> list[int]:
    """Positions of the tokens that say less than one character; none where `*` leaves the positions open is left out."""
    return [i for i, token in enumerate(reading.tokens) if token == "?" or len(token) > 1]


def with_character(reading: Reading, position: int, character: str) -> Reading:
    """The reading with one token read as this character."""
    tokens = [*reading.tokens[:position], character, *reading.tokens[position + 1 :]]
    return Reading.parse("".join(token if len(token) == 1 else f"[{token}]" for token in tokens))


def _mark_characters(weighing: Weighing, asked: Asked, maker: str, index: int, piece: SpotPiece) -> Iterator[Candidate]:
    """Characters of a mark that could not be read, by what they are in the recorded marks that the reading may be."""
    assert piece.reading is not None
    spot = piece.spots[maker]
    likely = weighing.likelihood.of_texts(spot[0], weighing.likelihood.compiled(piece))
    whole = {text: weight for text, weight in likely.items() if len(text) == len(piece.reading.tokens) and weight > 0}
    variants = weighing.book.variants_of.get(spot[0], [])
    joint: Floats | None = None
    for position in unread(piece.reading):
        characters = sorted({text[position] for text in whole})
        outcome = np.zeros((len(characters) + 1, len(variants) + 2))
        for column, variant in enumerate(variants):
            texts = [mark.normal for mark in weighing.book.marks_of(spot[0]) if mark.variant_id == variant.variant_id]
            total = sum(likely[text] for text in texts)
            for text in texts:
                if text in whole:
                    outcome[characters.index(text[position]), column] += whole[text] / total
        outcome[-1] = 1 - outcome.sum(0)
        adds: list[dict[str, Any]] = [
            {"marks": f"{_text(spot)}={with_character(piece.reading, position, c)}", "instead_of": piece.text} for c in characters
        ] + [{}]
        joint = asked.by_spot(maker, spot) if joint is None else joint
        check = explain.reread(position + 1, piece.reading, explain.place_name(weighing.book, *spot))
        split = observed(joint, np.maximum(outcome, 0.0))
        yield Candidate(spot, check, CLEANING_MINUTES, [*characters, "another character"], split, adds.__getitem__)


def _serial_characters(weighing: Weighing, posterior: UnitPosterior, asked: Asked, maker: str) -> Iterator[Candidate]:
    """Characters of the serial that could not be read, by what they are in the most probable serials; those must hold most of the probability."""
    pieces = [s for s in weighing.question.serials if not s.series_id or not weighing.book.series[s.series_id].component_id]
    if len(pieces) != 1 or not unread(pieces[0].reading):
        return
    piece, cells = pieces[0], weighing.frames[maker].u
    joint, mass = asked.by_cells(maker), posterior.mass[maker]
    texts = [(whole, printed(cells, int(cells.block[whole.cell]), whole.number)) for whole in weighing.likely_serials(posterior, maker)]
    listed = [(whole, text) for whole, text in texts if len(text) == len(piece.reading.tokens)]
    if sum(whole.probability for whole, _ in listed) < LISTED_AT_LEAST * float(mass.sum()):
        return
    for position in unread(piece.reading):
        characters = sorted({text[position] for _, text in listed})
        table = np.zeros((len(joint), len(characters)))
        for whole, text in listed:
            table[:, characters.index(text[position])] += joint[:, whole.cell] * (whole.probability / mass[whole.cell])
        adds: list[dict[str, Any]] = [{"serial": str(with_character(piece.reading, position, c)), "instead_of": piece.text} for c in characters]
        check = explain.reread(position + 1, piece.reading, "serial")
        yield Candidate(None, check, CLEANING_MINUTES, characters, normalised(table), adds.__getitem__)
