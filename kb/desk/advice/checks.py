"""What to look at next: every observation not yet made, by what it would tell about the question asked, per minute."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kb.desk.advice.rereading import WORTH_SAYING, Reread
from kb.desk.advice.rereading_unit import of_mark, of_own_numbers, of_serials
from kb.desk.evidence.mark import NoMark, PlacedMark
from kb.desk.evidence.resolved import ResolvedObservation
from kb.desk.evidence.saw import ResolvedFeature, choice_values
from kb.desk.posterior.maker_model import MakerModel
from kb.desk.posterior.mark import MarkFactor, UnplacedMarkFactor
from kb.desk.posterior.saw import inside, on_variant
from kb.desk.posterior.serial import SerialFactor
from kb.desk.posterior.unit_posterior import UnitEvidence, UnitPosterior
from kb.desk.sentences.checks import look_at, meaning, read_mark
from kb.probability.inference.assembly import Spot
from kb.probability.inference.information import entropy, gain, observed
from kb.probability.inference.target import ANYWHERE, Target
from kb.store.rows import FeatureRow, VariantRow
from kb.words.answers.identification import Check, Outcome
from kb.words.patience import go_on

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class CandidateCheck:
    """One observation, at a place or (None) of the serial. bits: what it would tell.

    joint: gives (answers, outcomes), the least likely ones together; adds: what evidence an outcome, by its number, would add.
    """

    spot: Spot | None
    check: str
    effort: float
    outcomes: list[str]
    bits: float
    joint: Callable[[], Floats]
    adds: Callable[[int], dict[str, Any]]


def rank_checks(
    weighing: UnitEvidence, posterior: UnitPosterior, asked: Target, most: int = 5, only: str | None = None, near: frozenset[str] | None = None
) -> list[Check]:
    """The checks worth making, best first by gain per minute.

    Args:
        only: a component to which they are limited.
        near: the assemblies on whose castings the answer depends, if it depends on no others but through the unit. Then what another assembly
            shows cannot tell more than the unit itself would, and is looked into only where that could still be among the best.
    """
    found: list[tuple[float, CandidateCheck]] = []  # by bits a minute
    bound = _at_most(posterior, asked) if near is not None and not weighing.of(UnplacedMarkFactor) else None

    def among_best(bits: float, effort: float) -> bool:
        if bits < WORTH_SAYING:
            return False
        return len(found) < most or bits / effort >= sorted((score for score, _ in found), reverse=True)[most - 1]

    def may_be_worth(assembly: str, effort: float) -> bool:
        return bound is None or near is None or assembly in near or among_best(bound, effort)

    for candidate in _candidates(weighing, posterior, asked, only, near or frozenset(), may_be_worth, among_best):
        go_on()
        if candidate.bits >= WORTH_SAYING:
            found.append((candidate.bits / candidate.effort, candidate))
    found.sort(key=lambda scored: (-scored[0], scored[1].check))
    return [Check(check=c.check, effort=c.effort, gain_bits=c.bits, outcomes=_outcomes(asked, c)) for _, c in found[:most]]


def _at_most(posterior: UnitPosterior, asked: Target) -> float:
    """What knowing the unit would tell of the answer, in bits: the most that anything can tell which depends on it only through the unit
    (the data processing inequality; Cover and Thomas, Elements of Information Theory, 2nd ed., 2.8)."""
    if not posterior.makers:
        return 0.0
    maker = max(posterior.mass, key=lambda m: float(posterior.mass[m].sum()))
    share = min(1.0, float(posterior.mass[maker].sum()))
    cells = asked.by_cells(maker)
    rest = np.zeros((len(cells), 1))
    rest[-1, 0] = 1 - share
    return float(gain(np.hstack([cells, rest]))) + 1e-9  # numeric


def _outcomes(asked: Target, candidate: CandidateCheck) -> list[Outcome]:
    found, labels, joint = [], asked.labels(candidate.spot), candidate.joint()
    each = joint.sum(0)
    for i in np.flatnonzero(each > 0.001).tolist():  # display
        probability = float(each[i])
        after = joint[:, i] / probability
        best = int(after.argmax())
        found.append(meaning(candidate.outcomes[i], labels[best], float(after[best]), probability, candidate.adds(i)))
    return sorted(found, key=lambda o: -o.probability)


def _candidates(
    weighing: UnitEvidence,
    posterior: UnitPosterior,
    asked: Target,
    only: str | None,
    near: frozenset[str],
    may_be_worth: Callable[[str, float], bool],
    among_best: Callable[[float, float], bool],
) -> Iterator[CandidateCheck]:
    """among_best: whether so many bits for so many minutes would be among the best so far. Characters come last, because what knowing the casting or
    the unit would tell is the most that one of them can."""
    if not posterior.makers:
        return
    maker = max(posterior.mass, key=lambda m: float(posterior.mass[m].sum()))
    frame, seen, cleaning = weighing.frames[maker], _looked_at(weighing, maker), weighing.assumptions.cleaning_minutes
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
            unread_mark = (spot, None) not in seen and may_be_worth(component.assembly, cleaning)
            if unread_mark and weighing.book.marks_of(component.component_id):
                joint = asked.by_spot(maker, spot) if joint is None else joint
                yield _mark(weighing, maker, spot, joint)
    for factor in weighing.of(MarkFactor):
        if _looked_into(factor, maker, frame, only, may_be_worth):
            found = of_mark(weighing, posterior, asked, maker, factor, lambda bits: among_best(bits, cleaning))
            yield from _reread(found, cleaning, factor.spots.get(maker, ANYWHERE))
    if any(isinstance(factor, SerialFactor) for factor in weighing.factors):
        yield from _reread(of_serials(weighing, posterior, asked, maker, lambda bits: among_best(bits, cleaning)), cleaning)
        answers = sum((asked.by_cells(each).sum(axis=1) for each in posterior.makers), np.zeros(1))
        if among_best(entropy(np.append(answers, posterior.unknown)), cleaning):
            yield from _reread(of_own_numbers(weighing, posterior, asked, maker), cleaning)


def _looked_at(weighing: UnitEvidence, maker: str) -> set[tuple[Spot, str | None]]:
    """Where a maker's unit was looked at: the place, and the feature or (None) the mark there."""
    found: set[tuple[Spot, str | None]] = set()
    for piece in weighing.question.of(ResolvedObservation):
        go_on()
        if maker in piece.spots and isinstance(piece, PlacedMark | NoMark | ResolvedFeature):
            found.add((piece.spots[maker], piece.feature.feature_id if isinstance(piece, ResolvedFeature) else None))
    return found


def _looked_into(factor: MarkFactor, maker: str, frame: MakerModel, only: str | None, may_be_worth: Callable[[str, float], bool]) -> bool:
    """Whether the characters of a mark are asked for: one that may be anywhere, unless one component alone is asked about."""
    if maker not in factor.spots:
        return isinstance(factor, UnplacedMarkFactor) and only is None
    component = factor.spots[maker][0]
    return only in (None, component) and may_be_worth(frame.components[component].assembly, frame.assumptions.cleaning_minutes)


def _text(spot: Spot) -> str:
    return f"{spot[0]}@{spot[1]}" if spot[1] else spot[0]


def _feature(weighing: UnitEvidence, feature: FeatureRow, spot: Spot, joint: Floats) -> CandidateCheck:
    variants = weighing.book.variants_of.get(spot[0], [])
    if feature.kind == "measure":
        names, rows = _measure_outcomes(weighing, feature, variants)
    else:
        names = choice_values(weighing.book, feature.feature_id)
        known = [[on_variant(weighing.book, weighing.assumptions, feature, v.variant_id, name) for v in variants] for name in names]
        rows = [of_variants + [1 / max(2, len(names))] * 2 for of_variants in known]
    outcome = np.array(rows, dtype=np.float64).reshape(len(names), len(variants) + 2)
    outcome = np.vstack([outcome, np.maximum(0.0, 1 - outcome.sum(0))])
    choice = feature.kind != "measure"

    def adds(i: int) -> dict[str, Any]:
        return {"features": f"{_text(spot)}.{feature.feature_id}={[*names, 'other'][i]}"} if choice else {}

    check, seen = look_at(weighing.book, feature, *spot), observed(joint, outcome)
    return CandidateCheck(spot, check, float(feature.effort), [*names, "something else"], gain(seen), lambda: seen, adds)


def _measure_outcomes(weighing: UnitEvidence, feature: FeatureRow, variants: list[VariantRow]) -> tuple[list[str], list[list[float]]]:
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
        groups.setdefault(tuple(inside(row.low, row.high, point) for row in recorded.values()), []).append(point)
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


def _mark(weighing: UnitEvidence, maker: str, spot: Spot, joint: Floats) -> CandidateCheck:
    told = weighing.frames[maker].marks_told(spot[0])

    def adds(i: int) -> dict[str, Any]:
        text = [*told.as_cast, "", "none"][i]
        return {"marks": f"{_text(spot)}={text}"} if text else {}

    check, bits = read_mark(weighing.book, *spot), gain(observed(joint, told.alike))
    return CandidateCheck(spot, check, weighing.assumptions.cleaning_minutes, told.names, bits, lambda: observed(joint, told.outcome), adds)


def _reread(found: Iterable[Reread], cleaning: float, spot: Spot | None = None) -> Iterator[CandidateCheck]:
    for each in found:
        joint = partial(np.asarray, each.joint)
        yield CandidateCheck(each.of or spot, each.check, each.count * cleaning, each.outcomes, each.bits, joint, each.adds)
