"""The characters of a unit's readings that are worth reading again: of its serial, of the numbers its components carry, of its casting marks.

The serial is asked through the cells of the production line, whose sums by character are exact; where there are several readings of it, or it has
a check digit, through the most probable whole serials, if those hold nearly all of the probability. Formulas: docs/model.md, section 10.
"""

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kb.channel.alignment import rereadable
from kb.channel.compiled import Compiled
from kb.channel.digits import PrintedForm, outermost
from kb.channel.standing import stands_on_stretches
from kb.channel.stretches import Weigher
from kb.channel.wear import confusion
from kb.desk import explain
from kb.desk.asked import Asked
from kb.desk.cells import Stretches
from kb.desk.pieces import SerialPiece, SpotPiece
from kb.desk.reread import Reread, characters, seen_again, unrecorded_again
from kb.desk.secondlooks import name_of
from kb.desk.serials import Whole, printed
from kb.desk.weigh import UnitPosterior, Weighing
from kb.words.evidence import SecondLook
from kb.words.notation import simplify

Floats = NDArray[np.float64]
LISTED_AT_LEAST = 0.9  # of the probability that the listed whole serials must hold to speak for all
FAINT = 1e-3  # of the best; texts and cells that are less likely are left out when asking what stands where


def of_mark(weighing: Weighing, joint: Floats, maker: str, piece: SpotPiece) -> Iterator[Reread]:
    """The characters of a mark. joint: (answers, V+2) as `Asked.by_spot` gives it for its place."""
    assert piece.reading is not None
    component, place = piece.spots[maker]
    compiled = weighing.likelihood.compiled(piece)
    texts, shares = _texts_by_variant(weighing, component, compiled, joint.shape[1])
    _, of_texts = seen_again(compiled.parts[0], piece.reading, texts, weighing.assumptions)
    again = shares @ np.hstack([of_texts, unrecorded_again(piece.reading, piece.wear, weighing.assumptions)])  # (positions, V+2, 36)
    yield from _of_reading(weighing, np.matmul(joint, again), piece, explain.place_name(weighing.book, component, place), maker)


def _texts_by_variant(weighing: Weighing, component: str, compiled: Compiled, columns: int) -> tuple[list[str], Floats]:
    """Texts, and (V+2, texts + 1) the share of each, and of a text nobody recorded, in the likelihood of every variant (section 4)."""
    likelihood, variants = weighing.likelihood, weighing.book.variants_of.get(component, [])
    weights, foundry = likelihood.of_texts(component, compiled), likelihood.of_foundry(compiled)
    share = weighing.assumptions.foundry_share if foundry else 0.0
    terms: list[dict[str, float]] = []
    for variant in variants:
        mine = [mark.normal for mark in weighing.book.marks_of(component) if mark.variant_id == variant.variant_id]
        best = max((weights[text] for text in mine), default=0.0)
        terms.append({text: (1 - share) * weights[text] / len(mine) for text in mine if weights[text] >= FAINT * best and best > 0})
        if not mine:
            terms[-1][""] = (1 - share) * likelihood.unknown(compiled)
    terms += [{"": (1 - share) * likelihood.unknown(compiled)} for _ in range(columns - len(variants))]
    best = max(foundry.values(), default=0.0)
    stamps = {text: share * weight / len(foundry) for text, weight in foundry.items() if weight >= FAINT * best and best > 0}
    texts = sorted({text for each in [*terms, stamps] for text in each if text})
    at = {text: i for i, text in enumerate([*texts, ""])}
    table = np.zeros((columns, len(at)))
    for row, each in zip(table, terms, strict=True):
        for text, weight in [*each.items(), *stamps.items()]:
            row[at[text]] += weight
        if row.sum() <= 0:
            row[-1] = 1.0
    return texts, table / table.sum(axis=1, keepdims=True)


def of_serials(weighing: Weighing, posterior: UnitPosterior, joint: Floats, maker: str) -> Iterator[Reread]:
    """The characters of the readings of the unit's serial. joint: (answers, u cells) as `Asked.by_cells` gives it."""
    if "" not in weighing.numbers:
        return
    pieces, compiled = weighing.numbers[""]
    mass, u = posterior.mass[maker], weighing.frames[maker].u
    weigher = weighing.weigher(maker)
    assert weigher is not None
    live = np.flatnonzero(mass >= FAINT * mass.max())
    of_causes = _of_cells(weighing, compiled, u, live, weigher)
    causes = joint[:, live]
    if of_causes is None:
        listed = weighing.likely_serials(posterior, maker)
        if sum(whole.probability for whole in listed) < LISTED_AT_LEAST * float(mass.sum()):
            return
        causes = joint[:, [whole.cell for whole in listed]] * np.array([whole.probability / mass[whole.cell] for whole in listed])
        of_causes = list(_of_listed(weighing, pieces, compiled, u, listed))
    share = float(mass.sum()) / (float(mass.sum()) + posterior.unknown)
    causes = causes * (share / causes.sum())
    stranger = np.zeros((len(joint), 1))
    stranger[-1] = 1 - share
    for piece, again in zip(pieces, of_causes, strict=True):
        tables = np.matmul(causes, again) + stranger * unrecorded_again(piece.reading, piece.wear, weighing.assumptions)
        yield from _of_reading(weighing, tables, piece, "serial", maker)


def of_own_numbers(weighing: Weighing, posterior: UnitPosterior, asked: Asked, maker: str) -> Iterator[Reread]:
    """The characters of the readings of numbers that components carry themselves."""
    frame = weighing.frames[maker]
    for component, (pieces, compiled) in weighing.numbers.items():
        own = frame.own.get(frame.components[component].assembly) if component in frame.components else None
        if own is None or len(pieces) > 1:
            continue
        piece = pieces[0]
        weights = weighing.own_reading(component) * own.x.share
        live = np.flatnonzero(weights >= FAINT * weights.max(initial=0.0))
        strange = unrecorded_again(piece.reading, piece.wear, weighing.assumptions)
        weigher = Weigher(compiled, own.x.forms, weighing.assumptions)
        for again in _of_cells(weighing, compiled, own.x, live, weigher) or ():
            parts = np.repeat(strange, len(own.x.units), axis=1)  # (positions, x cells, 36)
            parts[:, live] = again
            positions, cells, seen = parts.shape
            split = asked.by_own_number(maker, frame.components[component].assembly, np.moveaxis(parts, 2, 1).reshape(-1, cells))
            if split is None:
                continue
            tables = np.moveaxis(split.reshape(len(split), positions, seen), 1, 0).copy()
            share = tables.sum(axis=(1, 2), keepdims=True)
            tables *= np.divide(1 - posterior.unknown, share, out=np.zeros_like(share), where=share > 0)
            tables[:, -1] += posterior.unknown * strange[:, 0]
            tables /= tables.sum(axis=(1, 2), keepdims=True)
            yield from _of_reading(weighing, tables, piece, explain.place_name(weighing.book, component, ""), maker)


def _of_reading(weighing: Weighing, tables: Floats, piece: SerialPiece | SpotPiece, where: str, maker: str) -> Iterator[Reread]:
    assert piece.reading is not None
    name = name_of(weighing.question, piece, maker)

    def adds(position: int, seen: str) -> dict[str, Any]:
        return {"again": str(SecondLook(what=name, at=position + 1, seen=seen))}

    yield from characters(tables, piece.reading, where, adds, piece.again)


def _of_listed(weighing: Weighing, pieces: Sequence[SerialPiece], compiled: Compiled, u: Stretches, listed: Sequence[Whole]) -> Iterator[Floats]:
    """For every reading (positions, serials, 36) P(character seen again | serial)."""
    ways = [_as_written(u.forms[u.block[whole.cell]], printed(u, int(u.block[whole.cell]), whole.number), weighing) for whole in listed]
    texts = list(dict.fromkeys(text for way in ways for text, _ in way))
    at = {text: i for i, text in enumerate(texts)}
    looks = [seen_again(part, piece.reading, texts, weighing.assumptions) for part, piece in zip(compiled.parts, pieces, strict=True)]
    text_of = np.array([at[text] for way in ways for text, _ in way])
    shares = np.array([share for way in ways for _, share in way]) * np.prod([weights for weights, _ in looks], axis=0)[text_of]
    begins = np.cumsum([0] + [len(way) for way in ways[:-1]])
    shares /= np.repeat(np.maximum(np.add.reduceat(shares, begins), 1e-300), [len(way) for way in ways])
    for _, again in looks:
        yield np.add.reduceat(again[:, text_of] * shares[:, None], begins, axis=1)


def _as_written(form: PrintedForm, text: str, weighing: Weighing) -> list[tuple[str, float]]:
    """The ways in which a serial may be written down: leading zeros left out, meaningful letters at the ends; with the share that looks so."""
    head = len(simplify(form.prefix))
    digits = text[head:]
    zeros = min(len(digits) - len(digits.lstrip("0")), (form.width or 0) - 1)
    plain = [text[:head] + digits[k:] for k in range(max(0, zeros) + 1)]
    before, after = (outermost(side, weighing.assumptions.affix_share) for side in (form.affixes_before, form.affixes_after))
    return [(front + each + back, p * q) for each in plain for front, p in before for back, q in after]


def _of_cells(weighing: Weighing, compiled: Compiled, cells: Stretches, live: NDArray[np.intp], weigher: Weigher) -> list[Floats] | None:
    """For the one reading (positions, live cells, 36) P(character seen again | cell); None for several, or where a check digit stands in the way."""
    if len(compiled.readings) > 1 or any(form.check for form in weigher.kinds):
        return None
    stands = stands_on_stretches(compiled, weigher, cells.block[live], cells.first[live], cells.last[live])[rereadable(compiled.readings[0])]
    stands = np.ascontiguousarray(np.moveaxis(stands, 1, 2))
    stands /= np.maximum(stands.sum(axis=2, keepdims=True), 1e-300)
    return [stands @ confusion("clean", weighing.assumptions)]
