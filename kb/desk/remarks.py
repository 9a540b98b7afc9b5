"""What is odd about the evidence itself: a clear mark that nobody recorded, a serial that is a component's number, readings that cannot both be."""

from typing import TYPE_CHECKING

from kb.desk import explain
from kb.production.places import find
from kb.words.errors import DataError
from kb.words.notation import normalise

if TYPE_CHECKING:
    from kb.desk.identify import Found


def remarks(found: "Found") -> list[str]:
    """All of them, as sentences."""
    return [*unrecorded_marks(found), *numbers_of_components(found), *two_serials(found)]


def unrecorded_marks(found: "Found") -> list[str]:
    """Marks read without a doubt that are recorded on no casting of their component; the nearest is named, not taken for it."""
    weighing, maker = found.weighing, found.maker
    texts = []
    for piece in weighing.question.spots:
        if maker in piece.spots and piece.reading is not None and piece.reading.plain:
            component, place = piece.spots[maker]
            known = {mark.normal: mark.text for mark in weighing.book.marks_of(component)}
            if known and str(piece.reading) not in known and str(piece.reading) not in weighing.book.foundry_marks:
                likely = weighing.likelihood.of_texts(component, weighing.likelihood.compiled(piece))
                nearest = max(likely, key=lambda text: likely[text])
                texts.append(explain.unrecorded_mark(weighing.book, piece, component, place, known[nearest] if likely[nearest] > 0 else ""))
    return texts


def numbers_of_components(found: "Found") -> list[str]:
    """Serials that suit no unit but are exactly the number of a component, an engine say."""
    weighing, book = found.weighing, found.weighing.book
    if found.posterior.unknown <= 0.5:
        return []
    texts = []
    for serial in weighing.question.serials:
        if serial.series_id or not serial.reading.plain:
            continue
        for series in book.series.values():
            if series.component_id and series.maker_id in weighing.frames:
                try:
                    find(book.lines, series.series_id, serial.text)
                except DataError:
                    continue
                texts.append(explain.number_of_component(book, serial.text, series))
    return texts


def two_serials(found: "Found") -> list[str]:
    """Two clear readings of the unit's serial that are not the same number."""
    clear = [
        s for s in found.weighing.question.serials if s.reading.plain and not (s.series_id and found.weighing.book.series[s.series_id].component_id)
    ]
    numbers = {normalise(str(s.reading)).lstrip("0") for s in clear}
    return [explain.two_serials([s.text for s in clear])] if len(numbers) > 1 else []
