"""What is odd about the evidence itself: a mark that nobody recorded, a serial that is a component's number, readings that cannot both be, and
what a worn reading cannot tell."""

from collections.abc import Sequence

import numpy as np

from kb.assumptions import Assumptions
from kb.desk.evidence.serial import ResolvedSerial
from kb.desk.posterior.examination import Examination
from kb.desk.posterior.mark import MarkFactor
from kb.desk.sentences.names import place_name
from kb.desk.sentences.readings import no_such_mark, part_of_a_serial, part_of_marks, suits_unrecorded
from kb.desk.sentences.unit import not_one_serial, number_of_component
from kb.probability.channel.automaton import compile_readings, level_of
from kb.probability.channel.range_weights import weigh_stretches
from kb.probability.channel.reading import Reading
from kb.probability.channel.truncated import part_of, starred
from kb.probability.channel.unrecorded_runs import FEWEST, gaps
from kb.probability.production.cell_table import CellTable
from kb.probability.production.layout import find
from kb.words.errors import DataError
from kb.words.notation import normalise

MOST_OFFERED = 3


def remarks(found: Examination) -> list[str]:
    """All of them, as sentences."""
    return [*unrecorded_marks(found), *numbers_of_components(found), *parts_of_serials(found), *two_serials(found)]


def unrecorded_marks(found: Examination) -> list[str]:
    """Marks that are recorded on no casting of their component: read without a doubt, or better suiting a stranger. Those near are offered, none is
    taken."""
    weighing, maker = found.weighing, found.maker
    texts = []
    for factor in weighing.of(MarkFactor):
        if maker is not None and maker in factor.spots:
            (component, place), piece = factor.spots[maker], factor.piece
            known = {mark.normal: mark.text for mark in weighing.book.marks_of(component)}
            best = max(factor.of_texts(component).values(), default=1.0)
            if not piece.now.plain and best >= factor.of_unrecorded:
                continue
            if known and not piece.now.could_be_any([*known, *weighing.book.foundry_marks]):
                from kb.probability.channel.nearest import nearest  # only a mark that is recorded nowhere needs it

                piece_of = part_of(piece.now, list(known))
                if piece_of is not None:
                    written, whole = piece_of
                    texts.append(part_of_marks(piece.now.text, str(written), [known[text] for text in whole]))
                    continue
                near = [(known[text], apart) for text, apart in nearest(piece.now, sorted(known), weighing.assumptions)[:MOST_OFFERED]]
                texts.append(no_such_mark(piece.now.text, place_name(weighing.book, component, place), near))
    return texts


def cannot_tell(found: Examination) -> list[str]:
    """For worn marks that suit numbers nobody recorded as well as the recorded ones around them: that they cannot be told apart."""
    weighing, maker = found.weighing, found.maker
    texts = []
    for factor in weighing.of(MarkFactor):
        piece = factor.piece
        if maker is not None and maker in factor.spots and level_of(piece.reading, piece.wear) != "clean":
            component, place = factor.spots[maker]
            weights = factor.of_texts(component)
            if len(weights) < FEWEST:
                continue
            found_gaps = gaps(factor.compiled, max(weights, key=weights.__getitem__), list(weights), weighing.assumptions)
            if found_gaps:
                where = f"for {place_name(weighing.book, component, place)}"
                texts.append(suits_unrecorded(piece.reading.text, **vars(found_gaps), where=where))
    return texts


def numbers_of_components(found: Examination) -> list[str]:
    """Serials that suit no unit but are exactly the number of a component, an engine say."""
    weighing, book = found.weighing, found.weighing.book
    if not found.unknown:
        return []
    texts = []
    for serial in weighing.question.of(ResolvedSerial):
        if serial.series_id or not serial.now.plain:
            continue
        for series in book.series.values():
            if series.component_id and series.maker_id in weighing.frames:
                try:
                    find(book.lines, series.series_id, serial.text)
                except DataError:
                    continue
                texts.append(number_of_component(book, serial.text, series))
    return texts


def parts_of_serials(found: Examination) -> list[str]:
    """Serials that suit no unit because characters are missing, and nothing says so."""
    if not found.unknown:
        return []
    weighing = found.weighing
    texts = []
    for serial in weighing.question.of(ResolvedSerial):
        if not serial.component:
            written = _part_of_serials(serial.now, [frame.u for frame in weighing.frames.values()], weighing.assumptions)
            texts += [part_of_a_serial(serial.text, str(written))] if written is not None else []
    return texts


def two_serials(found: Examination) -> list[str]:
    """Two clear readings of the unit's serial that are not the same number."""
    clear = [s for s in found.weighing.question.of(ResolvedSerial) if s.now.plain and not s.component]
    numbers = {normalise(str(s.now)).lstrip("0") for s in clear}
    return [not_one_serial([s.text for s in clear])] if len(numbers) > 1 else []


def _part_of_serials(reading: Reading, cells: Sequence[CellTable], assumptions: Assumptions) -> Reading | None:
    """How a reading must be written to be part of a serial of some blocks; None if it is part of none."""
    certain = assumptions.override(upside_down=0.0)
    for written in starred(reading):
        compiled = compile_readings([written], ["clean"], certain)
        for each in cells:
            blocks = [line.blocks[position] for line, position in each.blocks]
            first, last = (np.array([getattr(block, end) for block in blocks], dtype=np.int64) for end in ("first", "last"))
            if not len(blocks):
                continue
            weights = weigh_stretches(compiled, each.forms, np.arange(len(blocks)), first, last, certain)
            if weights.max() >= assumptions.whole_serial_at:
                return written
    return None
