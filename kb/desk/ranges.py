"""Between which serials a unit left the works with a variant: the answer read backwards, from casting to units."""

from dataclasses import dataclass

import numpy as np

from kb.desk.frame import MakerFrame, Stretches
from kb.desk.serials import printed
from kb.file.book import Book, Row
from kb.production.places import find

PRESENT = 0.05  # a variant less probable than this is not said to occur in a cell
CLEAR = 0.75  # outside change-over intervals, one variant this probable is "the" variant (options side by side stay below)


@dataclass(frozen=True)
class Stretch:
    """Serials of one block and model, first..last in numbers. variants: what a unit may have left the works with; sure: one, outside intervals."""

    block: int
    model: str
    first: int
    last: int
    variants: frozenset[str]
    sure: bool


def stretches(frame: MakerFrame, component_id: str) -> tuple[Stretches, list[Stretch]]:
    """The cells a component goes by (units, or own numbers), and what it was built with along them."""
    own = frame.own.get(frame.components[component_id].assembly)
    cells = own.x if own is not None and frame.by_own_number(component_id) else frame.u
    names = [v.variant_id for v in frame.book.variants_of.get(component_id, [])] + [""]
    built = frame.as_built(component_id)
    intervals = [_interval(frame.book, row) for row in frame.book.changeovers_of(component_id)]
    found: list[Stretch] = []
    for cell in np.lexsort((cells.first, cells.model, cells.block)):
        line, position = cells.blocks[cells.block[cell]]
        model = cells.models[cells.model[cell]]
        start = line.order(position, 0)  # order of a number = number + this
        for first, last, open_between in _cut(int(cells.first[cell]), int(cells.last[cell]), start, _of(intervals, line.line_id, model)):
            row = built[cell]
            if open_between:
                variants, sure = frozenset(v for pair in open_between for v in pair if v), False
            else:
                best = int(row.argmax())
                sure = bool(row[best] >= CLEAR)
                variants = frozenset([names[best]]) if sure else frozenset(names[i] for i in np.flatnonzero(row >= PRESENT))
            previous = found[-1] if found else None
            if (
                previous is not None
                and (previous.block, previous.model, previous.variants, previous.sure) == (int(cells.block[cell]), model, variants, sure)
                and previous.last + 1 == first
            ):
                found[-1] = Stretch(previous.block, model, previous.first, last, variants, sure)
            else:
                found.append(Stretch(int(cells.block[cell]), model, first, last, variants, sure))
    return cells, found


def built_with(frame: MakerFrame, component_id: str, variants: list[str]) -> tuple[list[str], str, str]:
    """The models that left the works with one of these variants, and the first and last serial in the line that has most of them."""
    cells, found = stretches(frame, component_id)
    mine = [s for s in found if s.variants & set(variants)]
    if not mine:
        return [], "", ""
    span: dict[str, int] = {}
    for s in mine:
        line_id = cells.blocks[s.block][0].line_id
        span[line_id] = span.get(line_id, 0) + s.last - s.first + 1
    line_id = max(span, key=lambda name: span[name])
    of_line = sorted((s for s in mine if cells.blocks[s.block][0].line_id == line_id), key=lambda s: (cells.blocks[s.block][1], s.first))
    first, last = of_line[0], max(of_line, key=lambda s: (cells.blocks[s.block][1], s.last))
    return sorted({s.model for s in mine if s.model}), printed(cells, first.block, first.first), printed(cells, last.block, last.last)


@dataclass(frozen=True)
class _Interval:
    """A change-over with its interval in orders of the line: first unit that may be new, first that surely is."""

    line_id: str
    model: str
    old: str
    new: str
    low: int
    high: int


def _interval(book: Book, row: Row) -> _Interval:
    line = book.lines.by_id[row.line_id]
    low, high = (find(book.lines, row.series_id, serial).order if serial else line.count for serial in (row.low, row.high))
    return _Interval(row.line_id, row.model_id or "", row.old_variant_id or "", row.new_variant_id, low, high)


def _of(intervals: list[_Interval], line_id: str, model: str) -> list[_Interval]:
    """The change-overs that govern a model in a line: its own where it has any, else the general ones."""
    mine = [c for c in intervals if c.line_id == line_id]
    return [c for c in mine if c.model == model and model] or [c for c in mine if not c.model]


def _cut(first: int, last: int, start: int, intervals: list[_Interval]) -> list[tuple[int, int, list[tuple[str, str]]]]:
    """The stretch first..last cut at the ends of change-over intervals; with the changes that are open in each piece."""
    edges = {first, last + 1}
    for change in intervals:
        edges |= {edge for edge in (change.low - start, change.high - start) if first < edge <= last}
    pieces = sorted(edges)
    return [(a, b - 1, [(c.old, c.new) for c in intervals if c.low - start <= a < c.high - start]) for a, b in zip(pieces, pieces[1:], strict=False)]
