"""Looking around: makers with their models, series and components; a model; a series with its time-line."""

import json
from typing import Any

from kb.desk.sentences.numbers import span
from kb.desk.workshop.comparison import pictures_of
from kb.probability.production.blocks import Line
from kb.store import procedures as stored
from kb.store.book import Book
from kb.store.changeovers import changeovers_in_line, changeovers_in_series
from kb.store.lookups import blocks_of_model
from kb.store.rows import ComponentRow, UsedBlockRow
from kb.web import figures
from kb.web.history import Places
from kb.web.pages.page import NotHere, Page, Request, Shown
from kb.web.pool import Opened

MOST_COMPONENTS = 40  # tracks in one picture


def sheet(opened: Opened, asked: Request) -> Shown:
    """Everything there is, by maker."""
    book = opened.book
    makers = []
    for maker in book.makers.values():
        assemblies: dict[str, list[ComponentRow]] = {}
        for component in book.components.values():
            if component.maker_id == maker.maker_id:
                assemblies.setdefault(component.assembly, []).append(component)
        models = [m for m in book.models.values() if m.maker_id == maker.maker_id]
        series = [s for s in book.series.values() if s.maker_id == maker.maker_id]
        procedures = stored.procedures_of(book, maker.maker_id)
        makers.append((maker, models, series, assemblies, procedures))
    rows = {table: count for table, count in json.loads(book.info["rows"]).items() if count}
    return Shown("browse.html", {"makers": makers, "rows": rows})


def model_sheet(opened: Opened, asked: Request) -> Shown:
    """A model: its blocks of serials, and the parts recorded for it alone."""
    book, model_id = opened.book, asked.steps["model"]
    if model_id not in book.models:
        raise NotHere(f'There is no model "{model_id[:60]}" in this knowledge base.', "Look it up among the models.")
    model = book.models[model_id]
    mine = blocks_of_model(book, model_id)
    blocks = [block for block in book.blocks.values() if block.block_id in mine]
    components = [c for c in book.components.values() if c.maker_id == model.maker_id]
    return Shown("model.html", {"model": model, "blocks": [(block, _printed(book, block)) for block in blocks], "components": components})


def series_sheet(opened: Opened, asked: Request) -> Shown:
    """A run of numbers: where it is stamped, its blocks, and when castings changed in it."""
    book, series_id = opened.book, asked.steps["series"]
    if series_id not in book.series:
        raise NotHere(f'There is no series "{series_id[:60]}" in this knowledge base.', "Look it up among the series.")
    lines = [(line, _timeline(book, line), _blocks(book, line)) for line in book.lines if line.series_id == series_id and line.count]
    affixes = book.affixes.get(series_id, [])
    changes = changeovers_in_series(book, series_id)
    values = {"series": book.series[series_id], "lines": lines, "affixes": affixes, "pictures": pictures_of(book, "series", series_id)}
    return Shown("series.html", {**values, "changes": changes})


def _blocks(book: Book, line: Line) -> list[tuple[int, UsedBlockRow, str, str]]:
    found = []
    for number, block in enumerate(line.blocks, 1):
        row = book.blocks[block.block_id]
        models = ", ".join(book.models[model].name for model, _ in block.models if model)
        found.append((number, row, _printed(book, row), models))
    return found


def _printed(book: Book, row: UsedBlockRow) -> str:
    line = book.lines.by_id[row.line_id]
    start = line.starts[row.place]
    return span(line.serial(start), line.serial(start + line.blocks[row.place].count - 1))


def _timeline(book: Book, line: Line) -> str:
    bars = [
        figures.Bar(line.starts[i], line.starts[i + 1] - 1, i + 1, f"{i + 1}: {_printed(book, book.blocks[block.block_id])}")
        for i, block in enumerate(line.blocks)
    ]
    places = Places(book, line.series_id, line)
    tracks: dict[str, list[tuple[int, int, int, str]]] = {}
    for row in changeovers_in_line(book, line.line_id):
        low, first, high = (places.order(serial, line.count) for serial in (row.low, row.first_new, row.high))
        name = book.components[row.component_id].name + (f", {book.models[row.model_id].name}" if row.model_id else "")
        label = f"{book.variants[row.new_variant_id].name}: {row.first_new or 'not yet'}"
        tracks.setdefault(name, []).append((low, first, high, label))
    shown = [figures.Track(name, tuple(changes)) for name, changes in list(tracks.items())[:MOST_COMPONENTS]]
    ends = (line.serial(0), line.serial(line.count - 1))
    name = f"{book.series[line.series_id].name}{', ' + line.line if line.line else ''}: blocks and change-overs"
    return figures.timeline(name, line.count, ends, bars, shown)


def procedure_sheet(opened: Opened, asked: Request) -> Shown:
    """A procedure: its steps in order, cautions first."""
    book = opened.book
    procedure = stored.procedure(book, asked.steps["procedure"])
    if procedure is None:
        raise NotHere(f'There is no procedure "{asked.steps["procedure"][:60]}" in this knowledge base.', "Look it up among the procedures.")
    steps = stored.steps_of(book, procedure.procedure_id)
    parts: dict[str, list[Any]] = {}
    for row in stored.parts_of_procedure(book, procedure.procedure_id):
        parts.setdefault(row.step_id, []).append(row)
    return Shown("procedure.html", {"procedure": procedure, "steps": steps, "step_parts": parts})


BROWSE = Page("/browse", sheet)
MODEL = Page("/models/(?P<model>[^/]+?)", model_sheet)
SERIES = Page("/series/(?P<series>[^/]+?)", series_sheet)
PROCEDURE = Page("/procedures/(?P<procedure>[^/]+?)", procedure_sheet)
