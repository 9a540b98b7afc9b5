"""Series, blocks, lines and single serials, and the weight of one serial (docs/model.md, section 2)."""

from collections import defaultdict
from dataclasses import dataclass, field
from math import prod
from typing import NamedTuple

from kb.assumptions import Assumptions

from .checkdigits import with_check
from .readings import Seen, normalise, number_weight, spare_zeros
from .tables import Row, Tables, cell, days, index, rows

LineKey = tuple[str, str]  # series, line
Spot = tuple[LineKey, int]  # line, production order


@dataclass
class Block:
    """A stretch of a series with both ends known."""

    block_id: str
    series: str
    maker: str
    component: str  # whose own numbers these are; "" for numbers of whole units
    line: LineKey
    prefix: str
    suffix: str
    width: int
    check: str
    first: int
    last: int
    units: float
    models: list[tuple[str, float]]  # model or "" -> share of the block
    built_first: int | None
    built_last: int | None
    order_first: int = 0

    @property
    def span(self) -> int:
        """How many numbers it has."""
        return self.last - self.first + 1

    def printed(self, number: int) -> tuple[str, str, str]:
        """What is stamped before the digits, the digits, and what is stamped after them."""
        return with_check(self.check, self.prefix, str(number).zfill(self.width), self.suffix)


class Unit(NamedTuple):
    """One serial with one model, and how many units it stands for. A number of an engine is a unit of its own series."""

    line: LineKey
    order: int
    block_id: str
    number: int
    model: str
    units: float

    @property
    def spot(self) -> Spot:
        """Its place in the production order."""
        return self.line, self.order


@dataclass
class Works:
    """Everything that was numbered."""

    blocks: dict[str, Block]
    lines: dict[LineKey, list[Block]]
    affixes: dict[str, tuple[dict[str, float], dict[str, float]]]  # series -> what may stand before, after -> probability
    found: dict[str, dict[str, Spot]] = field(default_factory=dict)  # series -> every way to write a serial -> where it is

    def units(self, line: LineKey) -> list[Unit]:
        """Every serial of a line with every model it may have."""
        return [
            Unit(line, block.order_first + i, block.block_id, block.first + i, model, block.units / block.span * share)
            for block in self.lines[line]
            for i in range(block.span)
            for model, share in block.models
        ]

    def block_at(self, spot: Spot) -> Block:
        """The block that an order of a line lies in."""
        line, order = spot
        return next(block for block in self.lines[line] if block.order_first <= order < block.order_first + block.span)

    def find(self, series: str, text: str) -> Spot | None:
        """Where a whole serial stands; None if it is not among the known ones. Zeros and affixes may be missing."""
        if series not in self.found:
            ways: dict[str, tuple[tuple[bool, int], Spot]] = {}
            before, after = self.affixes.get(series, ({"": 1.0}, {"": 1.0}))
            for line, blocks in self.lines.items():
                for block in blocks if line[0] == series else []:
                    for i in range(block.span):
                        start, digits, rest = block.printed(block.first + i)
                        for zeros in range(spare_zeros(digits) + 1):
                            for a in before:
                                for z in after:
                                    way = a + start + digits[zeros:] + rest + z
                                    rank = (bool(a or z), zeros)  # the plainest way to write it wins
                                    if way not in ways or rank < ways[way][0]:
                                        ways[way] = (rank, (line, block.order_first + i))
            self.found[series] = {way: spot for way, (_, spot) in ways.items()}
        return self.found[series].get(normalise(text))

    def weight(self, readings: list[Seen], unit: Unit, assumptions: Assumptions) -> float:
        """P(readings of one number | serial): one affix stands on the unit, missing zeros are up to each reader."""
        block = self.blocks[unit.block_id]
        start, digits, rest = block.printed(unit.number)
        before, after = self.affixes.get(block.series, ({"": 1.0}, {"": 1.0}))
        return sum(
            p * q * prod(number_weight(seen, a + start, digits, rest + z, assumptions) for seen in readings)
            for a, p in before.items()
            for z, q in after.items()
        )

    def learned_texts(self) -> dict[str, float]:
        """At most 64 evenly spaced serials of every block with their weights, for the model of unknown texts."""
        texts: dict[str, float] = defaultdict(float)
        everything = sum(block.units for block in self.blocks.values())
        for block in self.blocks.values():
            s = min(64, block.span)
            for i in range(s):
                texts["".join(block.printed(block.first + i * block.span // s))] += block.units / s / everything * len(self.blocks)
        return dict(texts)


def lay_out(tables: Tables, assumptions: Assumptions) -> Works:
    """Blocks with both ends resolved, in production order."""
    series = index(tables, "series", "series_id")
    shared: dict[str, list[tuple[str, float]]] = defaultdict(list)
    for row in rows(tables, "block_models"):
        shared[cell(row, "block_id")].append((cell(row, "model_id"), float(cell(row, "units"))))
    used = [row for row in rows(tables, "blocks") if not cell(row, "rival_of")]
    by_line: dict[LineKey, list[Row]] = defaultdict(list)
    for row in used:
        by_line[cell(row, "series_id"), cell(row, "line")].append(row)
    works = Works({}, {}, {key: _affixes(tables, key, assumptions) for key in series})
    for line, its_rows in by_line.items():
        order = 0
        works.lines[line] = []
        for row in sorted(its_rows, key=lambda r: int(cell(r, "position") or 0)):
            block = _block(row, series[line[0]], works.lines[line], used, shared[cell(row, "block_id")])
            block.order_first = order
            order += block.span
            works.lines[line].append(block)
            works.blocks[block.block_id] = block
    return works


def _block(row: Row, series: Row, earlier: list[Block], used: list[Row], shared: list[tuple[str, float]]) -> Block:
    prefix, suffix = (_letters(cell(row, end)) for end in ("prefix", "suffix"))
    stated = sum(units for _, units in shared) if shared else float(cell(row, "units") or 0)
    before = [block.last for block in earlier if (block.prefix, block.suffix) == (prefix, suffix)]
    first = int(cell(row, "first") or (before[-1] + 1 if before else 1))
    higher = [
        int(cell(other, "first"))
        for other in used
        if cell(other, "series_id") == cell(row, "series_id")
        and (_letters(cell(other, "prefix")), _letters(cell(other, "suffix"))) == (prefix, suffix)
        and int(cell(other, "first") or -1) > first
    ]
    last = int(cell(row, "last")) if cell(row, "last") else min(higher) - 1 if higher else first + int(stated) - 1
    if last < first:
        raise ValueError(f"block {cell(row, 'block_id')}: no end is known, or it ends before it begins")
    began, ended = cell(row, "built_from"), cell(row, "built_to") or cell(row, "built_from")
    return Block(
        cell(row, "block_id"), cell(row, "series_id"), cell(series, "maker_id"), cell(series, "component_id"),
        (cell(row, "series_id"), cell(row, "line")), prefix, suffix, int(cell(row, "width") or 0), cell(series, "check"),
        first, last, stated or last - first + 1,
        [(model, units / stated) for model, units in shared] if shared else [(cell(row, "model_id"), 1.0)],
        days(began)[0] if began else None, days(ended)[1] if ended else None,
    )  # fmt: skip


def _letters(text: str) -> str:
    return "#".join(normalise(part) if part else "" for part in text.split("#"))


def _affixes(tables: Tables, series: str, assumptions: Assumptions) -> tuple[dict[str, float], dict[str, float]]:
    """Per end: "" with .9 and each of k recorded ones with .1 / k, or "" alone where none is recorded."""
    ends = []
    for end in ("prefix", "suffix"):
        recorded = [normalise(cell(r, "affix")) for r in rows(tables, "affixes") if cell(r, "series_id") == series and cell(r, "at") == end]
        share = assumptions.affix_share
        ends.append({"": 1 - share, **{affix: share / len(recorded) for affix in recorded}} if recorded else {"": 1.0})
    return ends[0], ends[1]
