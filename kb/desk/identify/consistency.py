"""Do the castings belong together: casting dates beside the time of the unit, and serial and castings that tell different units.

What is found is asked about, never held against anybody: castings were exchanged and numbers stamped again in ordinary repairs.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Literal

import numpy as np

from kb.assumptions import Assumptions
from kb.desk.evidence.resolved import ResolvedDate
from kb.desk.posterior.examination import Examination, UnitCandidate
from kb.desk.posterior.maker_model import MakerModelByTime
from kb.desk.sentences.dating import cast_or, cast_outside, cast_undated, unit_of_time
from kb.desk.sentences.names import model_name, variant_name
from kb.desk.sentences.unit import may_be_two_units
from kb.probability.dating.lead_time import common_days
from kb.probability.dating.order import relation
from kb.probability.inference.assembly import Spot
from kb.words.answers.identification import DateEntry, DateMeaning, FittedEntry, UnitEntry
from kb.words.dates import cast_beside, spell, when
from kb.words.edtf import Span

MOST_NAMED = 4
Standing = Literal["in time", "early", "later", "before its variant", "after its variant", "no dates known"]
STANDINGS: dict[str, Standing] = {"before": "in time", "long before": "early", "later": "later"}


def dated_castings(found: Examination, fitted: Sequence[FittedEntry], unit: UnitEntry) -> list[DateEntry]:
    """Every casting date at the maker of the most probable unit."""
    maker = found.maker
    assert maker is not None
    by_spot = {(entry.component, entry.place): entry for entry in fitted}
    return [_entry(found, maker, piece, by_spot[piece.spots[maker]], unit) for piece in found.weighing.question.dates if maker in piece.spots]


def date_says(found: Examination, index: int, unit: UnitEntry) -> str:
    """What one casting date says of the most probable unit."""
    piece, maker = found.weighing.question.dates[index], found.maker
    if maker not in piece.spots or maker is None:
        return "is on a component that this maker does not have"
    if not piece.spans[maker]:
        return "is no date in this maker's layout"
    meanings, _ = _meanings(found, maker, piece, piece.spots[maker])
    return _standing(meanings, _window(unit), unit.dates_are, None, "", found.weighing.assumptions)[1].rstrip(".")


def _entry(found: Examination, maker: str, piece: ResolvedDate, fitted: FittedEntry, unit: UnitEntry) -> DateEntry:
    spot = piece.spots[maker]
    meanings, not_original = _meanings(found, maker, piece, spot)
    made = _made(found, maker, spot[0], fitted.variant) if fitted.variant and found.seen(spot) else None  # not seen: it is itself only inferred
    variant = variant_name(found.book, fitted.variant)
    standing, says = _standing(meanings, _window(unit), unit.dates_are, made, variant, found.weighing.assumptions)
    return DateEntry(
        name=fitted.name,
        component=spot[0],
        place=spot[1],
        code=piece.code,
        meanings=[
            DateMeaning(first=m.first.isoformat(), last=m.last.isoformat(), probability=p)
            for m, p in sorted(meanings.items(), key=lambda each: (-each[1], each[0]))
            if p > 0
        ],
        standing=standing,
        says=f"{says[:1].upper()}{says[1:]}" + ("" if says.endswith("?") else "."),
        not_original=not_original,
        variant_from=made.first.isoformat() if made else "",
        variant_to=made.last.isoformat() if made else "",
    )


def _meanings(found: Examination, maker: str, piece: ResolvedDate, spot: Spot) -> tuple[dict[Span, float], float]:
    """P(each meaning of the code), read rightly, and P(the casting did not leave the works with this unit), both given that maker."""
    weighing = found.weighing
    frame, posterior, scale = weighing.frames[maker], found.posterior.makers[maker], 1 / float(found.posterior.makers[maker].mass.sum())
    assert isinstance(frame, MakerModelByTime)
    original = posterior.original(spot) * scale
    kept = min(1.0, float(original.sum()))
    likelihood, spans = weighing.dates, piece.spans[maker]
    if likelihood.window is None or not spans:
        return dict.fromkeys(spans, 1 / max(1, len(spans))), 1 - kept
    if frame.by_own_number(spot[0]):  # the cells of its assembly's number, by what each weighs
        share = posterior.assemblies[posterior.component_assembly[spot[0]]].own_numbers()
        original = kept * share / share.sum()
    start, end = frame.built_days(spot[0])
    dated = start > 0
    by_cell = np.array([likelihood.lead.cast_within([_days(span)], start[dated], end[dated]) for span in spans])
    on_any_day = np.array([float(common_days([_days(span)], likelihood.window)) for span in spans])
    of_all = by_cell.sum(0)
    weights = by_cell @ np.divide(original[dated], of_all, out=np.zeros_like(of_all), where=of_all > 0)
    weights += (1 - float(original[dated][of_all > 0].sum())) * (on_any_day / on_any_day.sum() if on_any_day.any() else 1 / len(spans))
    return dict(zip(spans, (weights / weights.sum()).tolist(), strict=True)), 1 - kept


def _days(span: Span) -> tuple[int, int]:
    return span.first.toordinal(), span.last.toordinal()


def _standing(
    meanings: dict[Span, float], window: Span | None, dates_are: str, made: Span | None, variant: str, assumptions: Assumptions
) -> tuple[Standing, str]:
    """How the likeliest meaning stands to the unit and to its variant, as a word and in words."""
    if not meanings:
        return "no dates known", "is no date in this maker's layout"
    best = max(meanings, key=lambda span: (meanings[span], span))
    others = [spell(span) for span in sorted(meanings) if span != best and meanings[span] >= assumptions.date_meaning_at]
    standing, says = _stands(best, window, dates_are, made, variant, assumptions)
    return standing, cast_or(says, others[:MOST_NAMED], len(others) > MOST_NAMED)


def _stands(best: Span, window: Span | None, dates_are: str, made: Span | None, variant: str, assumptions: Assumptions) -> tuple[Standing, str]:
    if window is None:
        return "no dates known", cast_undated(when(best))
    found = relation(best, window, assumptions)
    if made is not None and best.last < made.first - timedelta(days=assumptions.longest_lead_days):
        return "before its variant", cast_outside(when(best), variant, spell(made), after=False)
    if made is not None and best.first > made.last:
        return "after its variant", cast_outside(when(best), variant, spell(made), after=True)
    return STANDINGS[found.order], cast_beside(found.order, found.cast, window, dates_are)


def _window(unit: UnitEntry) -> Span | None:
    return Span(date.fromisoformat(unit.likely_from), date.fromisoformat(unit.likely_to)) if unit.likely_from else None


def _made(found: Examination, maker: str, component: str, variant: str) -> Span | None:
    """The days between which units left the works with a variant, where every such unit has dates and others left with another."""
    frame = found.weighing.frames[maker]
    assert isinstance(frame, MakerModelByTime)
    built = frame.as_built(component)
    fitted = built[:, found.variant_names(component).index(variant)] >= frame.assumptions.present_at
    start, end = frame.built_days(component)
    if not fitted.any() or fitted.all() or (start[fitted] == 0).any():
        return None
    return Span(date.fromordinal(int(start[fitted].min())), date.fromordinal(int(end[fitted].max())))


def two_units(found: Examination) -> list[str]:
    """Where the serial and several castings, each by themselves, tell different units: a possibility, in words."""
    weighing = found.weighing
    castings = [piece for piece in weighing.pieces if piece.kind in ("spot", "date")]
    serial = [piece for piece in weighing.pieces if piece.kind == "unit"]
    if not serial or not found.entries:
        return []
    named = _components(found, [piece.name for piece in castings if piece.kind == "spot"], [p.name for p in castings if p.kind == "date"])
    if len(named) < 2:
        return []
    by_serial = _entries(found, [piece for piece in weighing.pieces if piece.kind != "unit"])
    by_castings = _entries(found, [piece for piece in weighing.pieces if piece.kind in ("unit", "own")])
    assumptions = weighing.assumptions
    if min(max(by_serial), max(by_castings)) < assumptions.disagree_at:
        return []
    on_the_number = sum(c for s, c in zip(by_serial, by_castings, strict=True) if s >= assumptions.present_at)
    if on_the_number > assumptions.disagree_shared:
        return []
    mine = found.entries[by_serial.index(max(by_serial))]
    other = found.entries[by_castings.index(max(by_castings))]
    return [may_be_two_units(serial[0].text, _unit(found, mine), named, _unit(found, other))]


def _entries(found: Examination, without: Sequence[object]) -> list[float]:
    """The probability of every entry of the answer by part of the evidence."""
    posterior = found.weighing.posterior(without)  # type: ignore[arg-type]
    return [float(posterior.mass[e.maker][e.cells].sum()) if e.maker in posterior.mass else 0.0 for e in found.entries]


def _components(found: Examination, spots: Sequence[str], dates: Sequence[str]) -> list[str]:
    """The names of the components that something was seen on, at most once each."""
    question, book = found.weighing.question, found.book
    pieces = [question.spots[int(i)].spots for i in spots] + [question.dates[int(i)].spots for i in dates]
    seen = dict.fromkeys(component for piece in pieces for component, _ in piece.values())
    return list(dict.fromkeys(f"the {book.components[component].name.lower()}" for component in seen))


def _unit(found: Examination, entry: UnitCandidate) -> str:
    book = found.book
    line, position = found.weighing.frames[entry.maker].u.blocks[entry.block]
    block = line.blocks[position]
    name = f"{model_name(book, entry.maker, entry.model)}, block {block.block_id}"
    return unit_of_time(name, spell(block.built) if block.built else "", block.dates_are or "")
