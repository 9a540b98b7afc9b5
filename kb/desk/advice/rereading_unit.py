"""The characters of a unit's readings that are worth reading again: of its serial, of the numbers its components carry, of its casting marks.

What else is known of the unit is one table, by what the reading is of: the cells of the production line, or the variants at a place; given one of
them a reading has nothing to do with anything else. Formulas: docs/model.md, section 10.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kb.desk.advice.rereading import Reread, characters, unrecorded_again, whole_number
from kb.desk.evidence.resolved import ResolvedReading
from kb.desk.evidence.second_looks import name_of
from kb.desk.posterior.mark import MarkFactor, UnplacedMarkFactor
from kb.desk.posterior.serial import OwnNumberFactor, UnitSerialFactor
from kb.desk.posterior.unit_posterior import UnitEvidence, UnitPosterior
from kb.desk.sentences.names import place_name
from kb.probability.channel.alignment import seen_again, shown_again
from kb.probability.channel.automaton import ReadingAutomata
from kb.probability.channel.range_weights import Weigher
from kb.probability.channel.token_posterior import stands_on_stretches
from kb.probability.inference.assembly import Spot
from kb.probability.inference.information import entropy, gain, most
from kb.probability.inference.mark_likelihood import foundry_share
from kb.probability.inference.posterior import MakerPosterior
from kb.probability.inference.target import ANYWHERE, Target
from kb.probability.production.cell_table import CellTable
from kb.words.errors import DataError
from kb.words.evidence import SecondLook
from kb.words.patience import go_on

Floats = NDArray[np.float64]
LEFT_OUT = 1e-4  # numeric: of the probability: cells and texts that hold no more are taken to look like the others
LEFT_OUT_AT_MOST = 1e-2  # numeric: where it would take too long otherwise
FAINT = 1e-9  # numeric: own numbers that the reading makes this much less likely than the best


def of_mark(
    weighing: UnitEvidence, posterior: UnitPosterior, asked: Target, maker: str, factor: MarkFactor, among_best: Callable[[float], bool]
) -> Iterator[Reread]:
    """The characters of a mark.

    Args:
        among_best: whether so many bits would be among the best; no character can tell more than knowing the casting that the mark is on.
    """
    of, anywhere = factor.spots.get(maker, ANYWHERE), isinstance(factor, UnplacedMarkFactor)
    by_component: dict[str, Floats] = {}  # (answers, V+1)
    for each, spot, at in _where(weighing, posterior, factor):
        joint = asked.by_fitted(each, spot, at, of)
        by_component[spot[0]] = by_component[spot[0]] + joint if spot[0] in by_component else joint
    if not by_component:
        return
    rest = np.zeros(len(next(iter(by_component.values()))))  # of units that have no such component
    rest += sum(asked.by_cells(each, of).sum(axis=1) for each in posterior.makers if not anywhere and each not in factor.spots)
    rest[-1] += max(0.0, 1 - rest.sum() - sum(float(joint.sum()) for joint in by_component.values()))
    if not among_best(gain(np.hstack([*by_component.values(), rest[:, None]]))):
        return
    strange = unrecorded_again(factor.compiled.parts[0], factor.piece.reading, weighing.book.text_models["mark"], weighing.assumptions)
    tables: Floats = np.zeros(())
    for component, joint in by_component.items():
        go_on()
        chances = joint.sum(axis=0) + rest.sum() * (np.arange(joint.shape[1]) == joint.shape[1] - 1)
        shown = _of_variants(weighing, component, factor, chances, strange, LEFT_OUT / len(by_component))
        tables = tables + np.matmul(joint, shown)
    tables = tables + rest[:, None] * shown[:, -1:]
    where = "read somewhere on the unit" if anywhere else place_name(weighing.book, *factor.spots[maker])
    yield from _of_reading(weighing, tables, factor.piece, where, maker)


def _where(weighing: UnitEvidence, posterior: UnitPosterior, factor: MarkFactor) -> list[tuple[str, Spot, MakerPosterior]]:
    """Makers and places where a mark may be, each with the posterior for it: what it takes to leave out next to nothing."""
    if not isinstance(factor, UnplacedMarkFactor):
        return [(maker, factor.spots[maker], whole) for maker, whole in posterior.makers.items() if maker in factor.spots]
    found = [(m, spot, weighing.placed(posterior, m, factor, spot)) for m in posterior.makers for spot in weighing.frames[m].places]
    chances = np.array([float(at.mass.sum()) * posterior.scale[maker] for maker, _, at in found])
    return [found[i] for i in most(chances, LEFT_OUT)]


def _of_variants(weighing: UnitEvidence, component: str, factor: MarkFactor, chances: Floats, strange: Floats, left_out: float) -> Floats:
    """(positions, V+1, 36) what a second look at a mark would show, by the variant that carries it; the last one is that nobody recorded.

    A variant shows one of its marks, a foundry mark or a text nobody recorded by their shares in its likelihood (docs/model.md, section 4).

    Args:
        chances: (V+1,) how likely each is. strange: (positions, 1, 36) of a text nobody recorded. left_out: of the probability.
    """
    book, of_foundry = weighing.book, factor.on_foundry
    marks, texts = book.marks_by_variant(component), [*book.marks_index(component).texts, *factor.foundry_texts, ""]
    weights = np.concatenate([factor.on_texts(component), of_foundry, [factor.of_unrecorded]])
    foundry = np.arange(len(texts) - 1 - len(of_foundry), len(texts) - 1)
    share = foundry_share(len(foundry), weighing.assumptions)
    rows: list[tuple[int, Sequence[int] | NDArray[np.intp], float]] = [(v, foundry, share) for v in range(len(chances))]
    for v in range(len(chances)):
        mine = marks[v] if v < len(marks) and len(marks[v]) else [len(texts) - 1]
        rows.append((v, mine, 1 - share))
    variant = np.concatenate([np.full(len(mine), v) for v, mine, _ in rows])
    text = np.concatenate([np.asarray(mine, dtype=np.intp) for _, mine, _ in rows])
    worth = weights[text] * np.concatenate([np.full(len(mine), part / max(1, len(mine))) for _, mine, part in rows])
    whole = np.bincount(variant, worth, len(chances))
    worth = worth / np.where(whole > 0, whole, 1.0)[variant]
    kept = most(worth * chances[variant], left_out)
    used = np.union1d(text[kept], [len(texts) - 1])  # what nobody recorded comes last
    table = np.zeros((len(chances), len(used)))
    np.add.at(table, (variant[kept], np.searchsorted(used, text[kept])), worth[kept])
    table[table.sum(axis=1) <= 0, -1] = 1.0
    table /= table.sum(axis=1, keepdims=True)
    _, of_texts = seen_again(factor.compiled.parts[0], factor.piece.reading, [texts[i] for i in used[:-1]], weighing.assumptions)
    return np.asarray(table @ np.hstack([of_texts, strange]))


def of_serials(weighing: UnitEvidence, posterior: UnitPosterior, asked: Target, maker: str, among_best: Callable[[float], bool]) -> Iterator[Reread]:
    """The characters of the readings of the unit's serial, of a question put place by place each for the place of which it tells most.

    among_best: as for `of_mark`; no character can tell more than knowing the unit.
    """
    mass = np.concatenate(list(posterior.mass.values()))
    factor = next(iter(weighing.of(UnitSerialFactor)), None)
    if factor is None or not among_best(entropy(np.append(mass, posterior.unknown))):
        return
    asked_of = [(of, joint) for of in asked.places if among_best(gain(joint := _by_units(posterior, asked, of)))]
    if not asked_of:
        return
    pieces, compiled = factor.pieces, factor.compiled
    stands: list[Floats] = []
    for left_out in (LEFT_OUT, LEFT_OUT_AT_MOST):
        live = most(mass, left_out)
        with suppress(DataError):
            stands = _of_units(weighing, posterior, compiled, live)
            break
    if not stands:
        of, joint = max(asked_of, key=lambda each: gain(each[1]))
        yield replace(whole_number(compiled.readings, joint, _serial_for(weighing, of)), of=of)
        return
    strange = _strange(weighing, compiled)
    found: dict[tuple[int, int], Reread] = {}
    for of, joint in asked_of:
        kept = joint[:, live] * (mass.sum() / mass[live].sum())
        for number, piece in enumerate(pieces):
            go_on()
            tables = shown_again(compiled.parts[number], piece.reading, kept @ stands[number], weighing.assumptions)
            tables += joint[:, -1:] * strange[number]
            for each in _of_reading(weighing, tables, piece, _serial_for(weighing, of), maker):
                if (number, each.position) not in found or each.bits > found[number, each.position].bits:
                    found[number, each.position] = replace(each, of=of)
    yield from found.values()


def _serial_for(weighing: UnitEvidence, of: Spot | None) -> str:
    return f"serial, for {place_name(weighing.book, *of)}" if of else "serial"


def _by_units(posterior: UnitPosterior, asked: Target, of: Spot | None) -> Floats:
    """(answers, cells of all makers + 1): by the cell of the unit; the last is one that is not in this knowledge base."""
    by_cells = [asked.by_cells(each, of) for each in posterior.makers]
    return np.hstack([*by_cells, posterior.unknown * np.eye(len(by_cells[0]))[:, -1:]])


def _of_units(weighing: UnitEvidence, posterior: UnitPosterior, compiled: ReadingAutomata, live: NDArray[np.intp]) -> list[Floats]:
    """For each reading (T, live cells, 36) which true character each token stands for; cells of all makers, one maker after the other."""
    found: list[list[Floats]] = []
    for maker in posterior.makers:
        go_on()
        weigher, u = weighing.weigher(maker), weighing.frames[maker].u
        assert weigher is not None
        mine = live[(live >= 0) & (live < len(u.units))]
        live = live - len(u.units)
        found += [_of_cells(compiled, u, mine, weigher)] if len(mine) else []
    return [np.concatenate(each, axis=1) for each in zip(*found, strict=True)]


def of_own_numbers(weighing: UnitEvidence, posterior: UnitPosterior, asked: Target, maker: str) -> Iterator[Reread]:
    """The characters of the readings of numbers that components of the maker's units carry."""
    frame = weighing.frames[maker]
    rest = sum((asked.by_cells(each).sum(axis=1) for each in posterior.makers if each != maker), np.zeros(1))
    for factor in weighing.of(OwnNumberFactor):
        component, pieces, compiled = factor.component, factor.pieces, factor.compiled
        if component not in frame.components or factor.cells is None:
            continue
        own = frame.own[frame.components[component].assembly]
        weights = factor.cells * own.x.share
        live = np.flatnonzero(weights > FAINT * weights.max(initial=0.0))
        weigher, strange = Weigher(compiled, own.x.forms, weighing.assumptions), _strange(weighing, compiled)
        try:
            stood = _of_cells(compiled, own.x, live, weigher)
        except DataError:
            split = asked.by_own_number(maker, frame.components[component].assembly, np.eye(len(own.x.units)))
            if split is not None:
                left = rest[:, None] + posterior.unknown * _last(len(split))
                yield whole_number(compiled.readings, np.hstack([split, left]), place_name(weighing.book, component, ""))
            continue
        looks = []
        for part, piece, stands, stranger in zip(compiled.parts, pieces, stood, strange, strict=True):
            looks.append(np.repeat(stranger, len(own.x.units), axis=1))  # (positions, x cells, 36)
            looks[-1][:, live] = shown_again(part, piece.reading, stands, weighing.assumptions)
        parts = np.moveaxis(np.concatenate(looks), 2, 1)
        split = asked.by_own_number(maker, frame.components[component].assembly, parts.reshape(-1, len(own.x.units)))
        if split is None:
            continue
        tables = np.moveaxis(split.reshape(len(split), -1, parts.shape[1]), 1, 0)
        for piece, stranger in zip(pieces, strange, strict=True):
            mine, tables = tables[: len(stranger)].copy(), tables[len(stranger) :]
            mine += rest[:, None] * stranger
            mine[:, -1] += posterior.unknown * stranger[:, 0]
            yield from _of_reading(weighing, mine, piece, place_name(weighing.book, component, ""), maker)


def _of_reading(weighing: UnitEvidence, tables: Floats, piece: ResolvedReading, where: str, maker: str) -> Iterator[Reread]:
    name = name_of(weighing.question, piece, maker)

    def adds(position: int, seen: str) -> dict[str, Any]:
        return {"again": str(SecondLook(what=name, at=position + 1, seen=seen))}

    yield from characters(tables, piece.reading, where, adds, piece.again)


def _last(answers: int) -> Floats:
    """(answers, 1) all of it with the last answer."""
    return np.eye(answers)[:, -1:]


def _strange(weighing: UnitEvidence, compiled: ReadingAutomata) -> list[Floats]:
    """For each reading of a number (positions, 1, 36) what a second look would show if the number is not in this knowledge base."""
    texts = weighing.book.text_models["serial"]
    ways = zip(compiled.parts, compiled.readings, strict=True)
    return [unrecorded_again(part, reading, texts, weighing.assumptions) for part, reading in ways]


def _of_cells(compiled: ReadingAutomata, cells: CellTable, live: NDArray[np.intp], weigher: Weigher) -> list[Floats]:
    """For each reading (T, live cells, 36) which true character each token stands for, by cell."""
    found = stands_on_stretches(compiled, weigher, cells.block[live], cells.first[live], cells.last[live])
    return [np.moveaxis(each / part.once(each), 1, 2) for part, each in zip(compiled.parts, found, strict=True)]
