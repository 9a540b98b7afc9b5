"""Serials: from the rows of blocks.csv to lines with a production order.

Open ends, shared models, numbers in two blocks: docs/model.md, section 2. What cannot be resolved is reported, not raised.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from kb.probability.production.blocks import Block, Line
from kb.probability.production.layout import Lines, SerialPlace, find
from kb.words import edtf
from kb.words.edtf import Span
from kb.words.notation import simplify

if TYPE_CHECKING:
    from kb.words.dataset import Dataset
    from kb.words.records import Block as BlockRow

__all__ = ["Block", "Line", "Lines", "SerialPlace", "Problem", "find", "lay_out"]


@dataclass(frozen=True)
class Problem:
    """Something wrong or doubtful in a row; the caller, which knows the files, adds file and row."""

    table: str
    key: str
    column: str
    problem: str
    remedy: str
    severity: Literal["error", "doubt"] = "error"


def lay_out(dataset: "Dataset") -> tuple[Lines, list[Problem]]:
    """Resolve open ends, order and shared models of all blocks that are used.

    A block whose ends cannot be found is reported and left out, so that everything else can still be checked.
    """
    problems: list[Problem] = []
    used = [row for row in dataset.blocks if not row.retracted and not row.rival_of]
    shares: dict[str, list[tuple[str, float]]] = defaultdict(list)
    for share in dataset.block_models:
        shares[share.block_id].append((share.model_id, float(share.units)))
    checks = {row.series_id: row.check for row in dataset.series}
    before, after = _affixes(dataset)
    by_line: dict[tuple[str, str], list[BlockRow]] = defaultdict(list)
    firsts: dict[tuple[str, str, str], list[int]] = defaultdict(list)
    for row in used:
        by_line[row.series_id, row.line or ""].append(row)
        if row.first is not None:
            firsts[_stamp(row)].append(row.first)
    for values in firsts.values():
        values.sort()
    lines = []
    for (series_id, name), rows in by_line.items():
        rows.sort(key=lambda row: row.position)
        problems += _equal_positions(rows)
        blocks = _resolve(rows, firsts, shares, problems)
        problems += _overlaps(blocks)
        if blocks:
            line_id = f"{series_id}/{name}" if name else series_id
            line = Line(line_id, series_id, name, tuple(blocks), checks.get(series_id), before.get(series_id, ()), after.get(series_id, ()))
            lines.append(line)
    return Lines(lines), problems


def _stamp(row: "BlockRow") -> tuple[str, str, str]:
    """Blocks alike in this count on from one another."""
    return row.series_id, simplify(row.prefix or ""), simplify(row.suffix or "")


def _affixes(dataset: "Dataset") -> tuple[dict[str, tuple[str, ...]], dict[str, tuple[str, ...]]]:
    before: dict[str, tuple[str, ...]] = {}
    after: dict[str, tuple[str, ...]] = {}
    for row in dataset.affixes:
        ends = before if row.at == "prefix" else after
        ends[row.series_id] = (*ends.get(row.series_id, ()), simplify(row.affix))
    return before, after


def _resolve(
    rows: Sequence["BlockRow"],
    firsts: dict[tuple[str, str, str], list[int]],
    shares: dict[str, list[tuple[str, float]]],
    problems: list[Problem],
) -> list[Block]:
    """The blocks of one line with both ends; `rows` by position."""
    blocks = []
    ends: dict[tuple[str, str, str], int] = {}
    for row in rows:
        stamp = _stamp(row)
        models = tuple(shares.get(row.block_id, ()))
        built = sum(units for _, units in models) if models else row.units
        first = row.first if row.first is not None else ends.get(stamp, 0) + 1
        last = row.last
        if last is None:
            known = firsts.get(stamp, [])
            following = bisect_right(known, first)
            if following < len(known):
                last = known[following] - 1
            elif built:
                last = first + int(built) - 1
            else:
                remedy = "Write last or units; an open block needs a later block with the same prefix and suffix."
                problems.append(Problem("blocks", row.block_id, "last", "Nothing says where the block ends.", remedy))
                continue
        if last < first:
            remedy = "Write the lower number in first."
            problems.append(Problem("blocks", row.block_id, "last", f"The block ends at {last}, before it begins at {first}.", remedy))
            continue
        ends[stamp] = last
        units = float(built) if built is not None else float(last - first + 1)
        if models and units <= 0:
            remedy = "Write in block_models how many of each model were built."
            problems.append(Problem("blocks", row.block_id, "units", "The models of the block have no units.", remedy))
            continue
        blocks.append(
            Block(
                row.block_id, row.series_id, row.line or "", row.position, stamp[1], first, last, stamp[2], row.width,
                models or ((row.model_id or "", units),), units, _built(row), row.dates_are, row.kind or "new", row.source_id, row.page,
            )
        )  # fmt: skip
    return blocks


def _built(row: "BlockRow") -> Span | None:
    if not row.built_from:
        return None
    return Span(edtf.parse(row.built_from).first, edtf.parse(row.built_to or row.built_from).last)


def _equal_positions(rows: Sequence["BlockRow"]) -> Iterable[Problem]:
    for earlier, later in pairwise(rows):
        if earlier.position == later.position:
            problem = f"The block {earlier.block_id} of the same line has the position {later.position} too, so their order is a guess."
            yield Problem("blocks", later.block_id, "position", problem, "Number the blocks of a line in the order they were built.", "doubt")


def _overlaps(blocks: Sequence[Block]) -> Iterable[Problem]:
    """Blocks of one line that hold the same number twice."""
    furthest: dict[tuple[str, str], Block] = {}
    for block in sorted(blocks, key=lambda block: (block.first, block.position)):
        other = furthest.get((block.prefix, block.suffix))
        if other is not None and block.first <= other.last:
            last = min(block.last, other.last)
            problem = f"The blocks {other.block_id} and {block.block_id} of one line both hold the numbers {block.first} to {last}."
            remedy = f"Correct first or last, or write {other.block_id} in rival_of if another source counts them otherwise."
            yield Problem("blocks", block.block_id, "first", problem, remedy)
        if other is None or block.last > other.last:
            furthest[block.prefix, block.suffix] = block
