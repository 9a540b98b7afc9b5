"""What is this unit: the posterior put into an answer with its reasons."""

import numpy as np
from numpy.typing import NDArray

from kb.desk.advice.checks import rank_checks
from kb.desk.advice.unit_targets import UnitTarget, VariantTarget
from kb.desk.identify.consistency import dated_castings, two_units
from kb.desk.identify.warnings import cannot_tell, remarks
from kb.desk.posterior.examination import Examination, UnitCandidate
from kb.desk.posterior.factor import Said
from kb.desk.sentences.cautions import safety
from kb.desk.sentences.dating import dated_conflict
from kb.desk.sentences.names import model_name, spot_name, variant_name
from kb.desk.sentences.numbers import SETTLED_BITS
from kb.desk.sentences.unit import SUITS_NONE, not_here, replaced_since, speaks_against
from kb.probability.dating.build_date import build_date
from kb.probability.inference.information import weight_of_evidence
from kb.probability.production.cell_table import CellTable
from kb.probability.production.serial_search import printed, still_possible
from kb.words.answers.identification import Check, DateEntry, FittedEntry, Identification, Reason, SerialEntry, UnitEntry
from kb.words.patience import go_on

Floats = NDArray[np.float64]
LEAST_SHOWN = 0.0001  # display: units less probable are summed in `rest`
SERIALS_SHOWN = 10
OUTSIDE = ("before its variant", "after its variant")
CONTRADICTS_BITS = -3.0  # evidence that makes the answer eight times less likely


def identify(found: Examination) -> Identification:
    """The answer to "what is this unit"."""
    weighing = found.weighing
    units = _units(found, [entry for entry in found.entries if entry.probability >= LEAST_SHOWN])
    fitted = fitted_entries(found)
    reasons = because(found, units)
    dates = dated_castings(found, fitted, units[0]) if units else []
    return Identification(
        evidence=weighing.question.evidence,
        units=units,
        rest=max(0.0, found.known - sum(u.probability for u in units)),
        not_in_knowledge_base=found.probability_unknown,
        serials=_serials(found),
        fitted=fitted,
        conflicts=_conflicts(found, units, fitted, dates, reasons),
        check_next=check_next(found),
        because=reasons,
        cautions=_cautions(found),
        dates=dates,
        assumptions=weighing.assumptions.changed() | ({} if weighing.replaced_rate is None else {"replaced_rate": weighing.replaced_rate}),
        cannot_tell=cannot_tell(found),
    )


def check_next(found: Examination) -> list[Check]:
    """What would tell most about which unit it is, or once that is settled, about the castings it carries."""
    which = UnitTarget(found)
    if which.bits >= SETTLED_BITS:
        return rank_checks(found.weighing, found.posterior, which)
    return rank_checks(found.weighing, found.posterior, VariantTarget(found))


def _units(found: Examination, entries: list[UnitCandidate]) -> list[UnitEntry]:
    """The entries as they are answered, each with the stretch of serials still possible."""
    weighing = found.weighing
    spans: dict[int, tuple[int, int]] = {}
    for maker, mass in found.posterior.mass.items():
        mine = [e for e in entries if e.maker == maker]
        ends = still_possible(weighing.weigher(maker), weighing.frames[maker].u, mass, [e.cells for e in mine], weighing.assumptions.serials_tail)
        spans.update((id(e), span) for e, span in zip(mine, ends, strict=True))
    return [_unit(found, entry, *spans[id(entry)]) for entry in entries]


def _unit(found: Examination, entry: UnitCandidate, first: int, last: int) -> UnitEntry:
    u = found.weighing.frames[entry.maker].u
    line, position = u.blocks[entry.block]
    book = found.book
    block = book.blocks[line.blocks[position].block_id]
    built = line.blocks[position].built
    whole, unsteady = line.blocks[position], found.weighing.assumptions.build_unsteady
    likely = build_date(first, last, whole.first, whole.last, built, unsteady).within if built else None
    return UnitEntry(
        name=f"{book.makers[entry.maker].name} {book.models[entry.model].name}" if entry.model else model_name(book, entry.maker, ""),
        maker=entry.maker,
        model=entry.model,
        series=line.series_id,
        block=block.block_id,
        serial_first=printed(u, entry.block, first),
        serial_last=printed(u, entry.block, last),
        built_from=block.built_from or "",
        built_to=block.built_to or "",
        probability=entry.probability,
        likely_from=likely.first.isoformat() if likely else "",
        likely_to=likely.last.isoformat() if likely else "",
        dates_are=(block.dates_are or "built") if likely else "",
    )


def _serials(found: Examination) -> list[SerialEntry]:
    """The ten most probable whole serials; none without a reading, or where too many are equally likely."""
    listed: list[SerialEntry] = []
    for maker, mass in found.posterior.mass.items():
        if mass.max(initial=0.0) >= LEAST_SHOWN / 100:
            u: CellTable = found.weighing.frames[maker].u
            best = found.weighing.likely_serials(found.posterior, maker)[:SERIALS_SHOWN]
            listed += [
                SerialEntry(serial=printed(u, u.block[w.cell], w.number), model=u.models[u.model[w.cell]], probability=w.probability) for w in best
            ]
    return sorted(listed, key=lambda s: (-round(s.probability, 12), s.serial, s.model))[:SERIALS_SHOWN]


def fitted_entries(found: Examination) -> list[FittedEntry]:
    """What sits at every component place of the most probable unit's maker, given that it is a known unit of that maker."""
    if found.maker is None:
        return []
    book, posterior, scale = found.book, found.maker_posterior, found.given_maker
    rows, odd_at = [], found.weighing.assumptions.odd_at
    for component, place in found.maker_model.places:
        go_on()
        names = found.variant_names(component)
        totals = posterior.totals((component, place))
        fitted, built, kept = totals.fitted[0] * scale, totals.built[0] * scale, float(totals.kept[0]) * scale
        best, built_best = int(fitted.argmax()), int(built.argmax())
        rows.append(
            FittedEntry(
                name=spot_name(book, component, place),
                variant_name=variant_name(book, names[best]),
                as_built_name=variant_name(book, names[built_best]),
                component=component,
                place=place,
                variant=names[best],
                probability=float(fitted[best]),
                as_built=names[built_best],
                as_built_probability=float(built[built_best]),
                swapped=1 - kept > odd_at,
            )
        )
    return rows


def because(found: Examination, units: list[UnitEntry]) -> list[Reason]:
    """What each piece of evidence weighs for the most probable unit, all else given; heaviest first."""
    whole, reasons = found.top(found.posterior), []
    for factor in found.weighing.factors:
        go_on()
        bits = weight_of_evidence(whole, found.top(found.weighing.posterior([factor])))
        said = factor.reason(units[0], found.posterior.makers[units[0].maker], bits) if units else Said(SUITS_NONE)
        reasons.append(Reason(evidence=factor.said, weight_bits=bits, says=said.says, source=said.source, page=said.page))
    return sorted(reasons, key=lambda r: -abs(r.weight_bits))


def _conflicts(found: Examination, units: list[UnitEntry], fitted: list[FittedEntry], dates: list[DateEntry], reasons: list[Reason]) -> list[str]:
    book = found.book
    other = two_units(found)
    if found.unknown:
        return [not_here(found.probability_unknown), *other, *remarks(found)]
    odd_at = found.weighing.assumptions.odd_at
    texts = (
        other
        + remarks(found)
        + [dated_conflict(d.name, d.says, d.not_original) for d in dates if d.not_original > odd_at or d.standing in OUTSIDE]
    )
    texts += [replaced_since(book, f.component, f.place, f.variant, f.as_built) for f in fitted if f.swapped and f.variant != f.as_built]
    return texts + [speaks_against(r.evidence, r.weight_bits) for r in reasons if r.weight_bits <= CONTRADICTS_BITS]


def _cautions(found: Examination) -> list[str]:
    if found.maker is None:
        return []
    critical = [c.name for c in found.maker_model.components.values() if c.safety_critical]
    return [safety(critical)] if critical else []
