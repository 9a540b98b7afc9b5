"""Do the castings belong together: casting dates beside the time of the unit, and serial and castings that tell different units.

What is found is asked about, never held against anybody: castings were exchanged and numbers stamped again in ordinary repairs.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from kb.desk.posterior.cast_date import DateFactor
from kb.desk.posterior.date_standing import standing_of
from kb.desk.posterior.examination import Examination, UnitCandidate
from kb.desk.posterior.factor import Factor
from kb.desk.sentences.names import unit_name, variant_name
from kb.desk.sentences.unit import may_be_two_units
from kb.words.answers.identification import DateEntry, DateMeaning, FittedEntry, UnitEntry
from kb.words.edtf import Span


def dated_castings(found: Examination, fitted: Sequence[FittedEntry], unit: UnitEntry) -> list[DateEntry]:
    """Every casting date at the maker of the most probable unit."""
    maker = found.maker
    assert maker is not None
    by_spot = {(entry.component, entry.place): entry for entry in fitted}
    dates = [factor for factor in found.weighing.of(DateFactor) if maker in factor.piece.spots]
    return [_entry(found, maker, factor, by_spot[factor.piece.spots[maker]], unit) for factor in dates]


def _entry(found: Examination, maker: str, factor: DateFactor, fitted: FittedEntry, unit: UnitEntry) -> DateEntry:
    spot = factor.piece.spots[maker]
    meanings, not_original = factor.meanings(maker, found.posterior.makers[maker])
    made = _made(found, maker, spot[0], fitted.variant) if fitted.variant and found.seen(spot) else None  # not seen: it is itself only inferred
    standing, says = standing_of(meanings, unit, found.weighing.assumptions, made, variant_name(found.book, fitted.variant))
    return DateEntry(
        name=fitted.name,
        component=spot[0],
        place=spot[1],
        code=factor.piece.code,
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


def _made(found: Examination, maker: str, component: str, variant: str) -> Span | None:
    """The days between which units left the works with a variant, where every such unit has dates and others left with another."""
    frame = found.weighing.frames[maker]
    built = frame.as_built(component)
    fitted = built[:, found.variant_names(component).index(variant)] >= frame.assumptions.present_at
    start, end = frame.built_days(component)
    if not fitted.any() or fitted.all() or (start[fitted] == 0).any():
        return None
    return Span(date.fromordinal(int(start[fitted].min())), date.fromordinal(int(end[fitted].max())))


def two_units(found: Examination) -> list[str]:
    """Where the serial and several castings, each by themselves, tell different units: a possibility, in words."""
    factors, assumptions = found.weighing.factors, found.weighing.assumptions
    castings = [factor for factor in factors if factor.about == "casting"]
    serial = [factor for factor in factors if factor.about == "unit"]
    if not serial or not found.entries:
        return []
    named = _components(found, castings)
    if len(named) < 2:
        return []
    by_serial = _entries(found, [factor for factor in factors if factor.about != "unit"])
    by_castings = _entries(found, [factor for factor in factors if factor.about != "casting"])
    if min(max(by_serial), max(by_castings)) < assumptions.disagree_at:
        return []
    on_the_number = sum(c for s, c in zip(by_serial, by_castings, strict=True) if s >= assumptions.present_at)
    if on_the_number > assumptions.disagree_shared:
        return []
    mine = found.entries[by_serial.index(max(by_serial))]
    other = found.entries[by_castings.index(max(by_castings))]
    return [may_be_two_units(serial[0].said, _unit(found, mine), named, _unit(found, other))]


def _entries(found: Examination, without: Sequence[Factor]) -> list[float]:
    """The probability of every entry of the answer by part of the evidence."""
    posterior = found.weighing.posterior(without)
    return [float(posterior.mass[e.maker][e.cells].sum()) if e.maker in posterior.mass else 0.0 for e in found.entries]


def _components(found: Examination, castings: Sequence[Factor]) -> list[str]:
    """The names of the components that something was seen on, at most once each."""
    seen = dict.fromkeys(component for factor in castings for component in factor.components)
    return list(dict.fromkeys(f"the {found.book.components[component].name.lower()}" for component in seen))


def _unit(found: Examination, entry: UnitCandidate) -> str:
    line, position = found.weighing.frames[entry.maker].u.blocks[entry.block]
    return unit_name(found.book, entry.maker, entry.model, line.blocks[position].block_id)
