"""Rows of the derived tables: what the build found out about lines, change-overs, cells and supersessions.

Probabilities are rounded, so that the last digit of a sum decides nothing: the same dataset gives the same bytes.
"""

import json
from collections import defaultdict
from collections.abc import Iterator
from typing import Any

import numpy as np

from kb.probability.production.cells import Cells
from kb.probability.production.estimate import Production
from kb.words.dataset import Dataset

Row = tuple[Any, ...]
DECIMALS = 13  # of P(as built)
DIGITS = 12  # of other numbers
RATE_DIGITS = 4  # read off a grid


def production_rows(production: Production) -> Iterator[tuple[str, Row]]:
    """(table, row) of everything that `kb.probability.production.estimate.derive` found."""
    for position, line in enumerate(production.lines):
        yield "lines", (line.line_id, line.series_id, line.line or None, position)
    for line in production.lines:
        for index, block in enumerate(line.blocks):
            built = (block.built.first.isoformat(), block.built.last.isoformat()) if block.built else (None, None)
            start = line.order(index, block.first)
            yield "line_blocks", (block.block_id, line.line_id, index, block.first, block.last, start, _rounded(block.units), *built)
            for model_id, units in block.models:
                yield "line_block_models", (f"{block.block_id}/{model_id}", block.block_id, model_id or None, _rounded(units))
    for line_id, cells in production.cells.items():
        yield "cells", (line_id, _json(cells.models), len(cells.block), cell_bytes(cells))
        for component_id, (variants, table) in cells.as_built.items():
            data = (np.round(table, DECIMALS) + 0.0).astype("<f8").tobytes()  # + 0.0: there is no -0.0
            yield "as_built", (f"{line_id}|{component_id}", line_id, component_id, _json(variants), data)
    for each in production.changeovers:
        mixed = [{"width": width, "probability": _rounded(probability)} for width, probability in each.mixed]
        yield "changeovers", (
            each.changeover_id, each.line_id, each.series_id, each.line or None, each.component_id, each.model_id or None, each.old_variant_id,
            each.new_variant_id, each.units_concerned, each.first_new, each.first_new_order, each.low, each.low_order, each.high, each.high_order,
            _rounded(each.probability), _json(mixed), each.sightings, each.seek_serial, _rounded(each.seek_gain_bits), each.both_to,
        )  # fmt: skip
        for claim in each.claims:
            key = f"{each.changeover_id}/{claim.breakpoint_id}"
            yield "changeover_claims", (key, each.changeover_id, claim.breakpoint_id, claim.standing, _rounded(claim.probability))
        for sighting_id, probability in each.odd:
            yield "changeover_odd_sightings", (f"{each.changeover_id}/{sighting_id}", each.changeover_id, sighting_id, _rounded(probability))


def rate_rows(production: Production) -> Iterator[tuple[str, str]]:
    """What build_info says of the rate of replaced castings that the sightings tell; nothing if they tell none."""
    if (rate := production.rate) is not None:
        numbers = {name: float(f"{getattr(rate, name):.{RATE_DIGITS}g}") for name in ("likeliest", "low", "high")}
        yield "replaced_rate", _json({**numbers, "sightings": rate.sightings, "changeovers": rate.changeovers})


def cell_bytes(cells: Cells) -> bytes:
    """The arrays of a line one after the other, little-endian: block and model int32, first and last int64, units float64."""
    columns = ((cells.block, "<i4"), (cells.model, "<i4"), (cells.first, "<i8"), (cells.last, "<i8"), (cells.units, "<f8"))
    return b"".join(np.asarray(column).astype(kind).tobytes() for column, kind in columns)


def mark_variant_rows(dataset: Dataset) -> Iterator[Row]:
    """(key, mark_id, variant_id): the lists of marks.csv, one row a pair."""
    for mark in dataset.marks:
        for variant_id in dict.fromkeys(mark.variant_ids):
            yield f"{mark.mark_id}/{variant_id}", mark.mark_id, variant_id


def closure_rows(dataset: Dataset) -> Iterator[Row]:
    """(key, from_part, to_part): which number leads to which by supersessions that are not withdrawn, interchangeable ones in both directions."""
    arrows: dict[str, dict[str, None]] = defaultdict(dict)
    for row in dataset.supersessions:
        if not row.retracted:
            arrows[row.old_part][row.new_part] = None
            if row.direction == "both-ways":
                arrows[row.new_part][row.old_part] = None
    for start in arrows:
        reached: dict[str, None] = {}
        waiting = [start]
        while waiting:
            for following in arrows.get(waiting.pop(), ()):
                if following not in reached:
                    reached[following] = None
                    waiting.append(following)
        for each in reached:
            if each != start:
                yield f"{start}/{each}", start, each


def _rounded(number: float) -> float:
    return float(f"{number:.{DIGITS}g}") + 0.0


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)
