"""When the units of a stretch of serials were built: the time of a block divided into parts (docs/model.md, section 13).

A block's numbers are assumed to be built in order and steadily, give or take `build_unsteady` of its time. The time is divided into
parts of about a month; finer would be false precision.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.probability.production.blocks import Block
from kb.probability.production.cell_table import CellTable

Ints = NDArray[np.int64]


def parts_of(block: Block, assumptions: Assumptions) -> int:
    """Into how many parts the time of a block is divided: about a month each, one where its dates are not known.

    >>> from types import SimpleNamespace
    >>> from kb.words.edtf import parse
    >>> parts_of(SimpleNamespace(count=1000, built=parse("1948")), Assumptions())
    13
    """
    if block.built is None:
        return 1
    days = (block.built.last - block.built.first).days + 1
    return max(1, min(block.count, -(-days // assumptions.build_part_days)))


def days_of_part(block: Block, part: int, parts: int, assumptions: Assumptions) -> tuple[int, int]:
    """First and last day, as day numbers, on which units of a part of a block's numbers may have been built; (0, 0): nothing says when."""
    if block.built is None:
        return 0, 0
    start, days = block.built.first.toordinal(), (block.built.last - block.built.first).days + 1
    unsteady = Fraction(str(assumptions.build_unsteady))
    first = floor(days * max(Fraction(0), Fraction(part, parts) - unsteady))
    last = ceil(days * min(Fraction(1), Fraction(part + 1, parts) + unsteady)) - 1
    return start + first, start + last


def cut_by_time(cells: CellTable, assumptions: Assumptions) -> tuple[CellTable, Ints]:
    """The cells cut where a part of their block's time begins, and for each new cell the index of the one it was cut from.

    Number i of a block of N, from 0, is in part floor(i K / N) of its K parts; units are shared by count of numbers.
    """
    whole: list[Ints] = []
    first: list[Ints] = []
    last: list[Ints] = []
    for number in np.unique(cells.block):
        line, position = cells.blocks[number]
        block = line.blocks[position]
        parts = parts_of(block, assumptions)
        begins = np.array([block.first - (-part * block.count // parts) for part in range(parts)], dtype=np.int64)
        mine = np.flatnonzero(cells.block == number)
        low = np.searchsorted(begins, cells.first[mine], side="right") - 1
        high = np.searchsorted(begins, cells.last[mine], side="right") - 1
        count = high - low + 1
        of = np.repeat(np.arange(len(mine)), count)
        part = low[of] + np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
        whole.append(mine[of])
        first.append(np.maximum(cells.first[mine][of], begins[part]))
        last.append(np.minimum(cells.last[mine][of], np.append(begins[1:] - 1, block.last)[part]))
    if not whole:
        return cells, np.zeros(0, np.int64)
    origin = np.concatenate(whole)
    order = np.argsort(origin, kind="stable")
    origin, firsts, lasts = origin[order], np.concatenate(first)[order], np.concatenate(last)[order]
    share = (lasts - firsts + 1) / (cells.last[origin] - cells.first[origin] + 1)
    line, block_of, model = cells.line[origin], cells.block[origin], cells.model[origin]
    return replace(cells, line=line, block=block_of, model=model, first=firsts, last=lasts, units=cells.units[origin] * share), origin


def built_days(cells: CellTable, assumptions: Assumptions) -> tuple[Ints, Ints]:
    """(cells,) first and last day on which the units of each cell may have been built, as day numbers, 0 where nothing says when.

    The cells have to be cut by time.
    """
    days: dict[tuple[int, int], tuple[int, int]] = {}
    found = np.zeros((len(cells.units), 2), dtype=np.int64)
    for cell, number in enumerate(cells.block.tolist()):
        line, position = cells.blocks[number]
        block = line.blocks[position]
        parts = parts_of(block, assumptions)
        part = (int(cells.first[cell]) - block.first) * parts // block.count
        if (number, part) not in days:
            days[number, part] = days_of_part(block, part, parts, assumptions)
        found[cell] = days[number, part]
    return found[:, 0], found[:, 1]
