"""Places: where in its line a whole serial is, looked up as it is stamped or written down.

Nothing is guessed here; a worn serial is a reading and goes through the channel. Rules: docs/model.md, section 2.
"""

import re
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from kb.probability.channel.digits import format_serial
from kb.probability.production.blocks import Block, Line
from kb.words.errors import DataError
from kb.words.notation import normalise

CHECK_PLACE = "#"  # in a prefix: where the check character of a 17-character number stands
MOST_CHECKS = 2  # characters that any scheme adds
_DIGITS = re.compile("[0-9]+")


class Lines(tuple[Line, ...]):
    """The lines of a dataset, in the order of their first blocks."""

    @cached_property
    def by_id(self) -> dict[str, Line]:
        """By line_id."""
        return {line.line_id: line for line in self}

    @cached_property
    def stampings(self) -> "dict[str, _Stampings]":
        """What `find` searches, by series_id."""
        return {series_id: _Stampings(lines) for series_id, lines in self.by_series.items()}

    @cached_property
    def by_series(self) -> dict[str, tuple[Line, ...]]:
        """By series_id."""
        grouped: dict[str, list[Line]] = defaultdict(list)
        for line in self:
            grouped[line.series_id].append(line)
        return {series_id: tuple(lines) for series_id, lines in grouped.items()}


class SerialPlace(NamedTuple):
    """Where one whole serial is; `affixes` are the letters outside it that have a meaning but do not affect its order."""

    line: Line
    block_index: int
    number: int
    order: int
    affixes: tuple[str, ...] = ()


def find(lines: Lines, series_id: str, text: str) -> SerialPlace:
    """The place of a whole serial as it is stamped or written down.

    Case, spaces, dashes, dots and slashes do not count; leading zeros of a padded number and recorded affixes may be
    left out; check characters must be present and right. The interpretation with the fewest affixes and missing zeros is taken.

    Raises:
        DataError: no number of the series is printed like this, or several are; the problem says why.
    """
    whole = normalise(text)
    known = lines.stampings.get(series_id)
    if known is None:
        raise DataError(f'The series "{series_id}" has no blocks.', "Add its blocks to blocks.csv.")
    if (at_once := known.as_printed(whole)) is not None:
        return at_once
    found: dict[tuple[int, int], list[SerialPlace]] = defaultdict(list)
    reasons: list[DataError] = []
    for core, affixes in _without_affixes(whole, lines.by_series[series_id][0]):
        for stamping, checks in known.fitting(core):
            try:
                place, zeros = stamping.place(core, checks, affixes)
            except DataError as error:
                if checks == stamping.checks:
                    reasons.append(error)
            else:
                found[len(affixes), zeros].append(place)
    if not found:
        if reasons:
            raise DataError(f'"{text}": {reasons[0].problem}', reasons[0].remedy)
        shapes = ", ".join(sorted({each.example for each in known.all})[:5])
        remedy = f"Its serials look like {shapes}. If a letter at an end has a meaning of its own, add it to affixes.csv."
        raise DataError(f'"{text}" does not begin and end as any serial of "{series_id}".', remedy)
    best = found[min(found)]
    if len(best) > 1:
        where = " and ".join(sorted({place.line.blocks[place.block_index].block_id for place in best}))
        raise DataError(f'"{text}" can be a serial of {where}.', "Blocks of one series should be told apart by their numbers or letters.")
    return best[0]


def _without_affixes(whole: str, line: Line) -> Iterable[tuple[str, tuple[str, ...]]]:
    """The text with at most one affix taken off each end, in all ways."""
    for before in ("", *line.affixes_before):
        for after in ("", *line.affixes_after):
            if len(before) + len(after) < len(whole) and whole.startswith(before) and whole.endswith(after):
                yield whole[len(before) : len(whole) - len(after)], tuple(affix for affix in (before, after) if affix)


@dataclass(frozen=True)
class _Stamping:
    """The blocks of one line that are printed alike: what `find` searches."""

    line: Line
    indices: tuple[int, ...]  # of blocks, by first number
    firsts: tuple[int, ...]
    checks: int  # how many check characters usually follow the digits

    @cached_property
    def block(self) -> Block:
        """Any of the blocks; prefix, suffix and width are the same in all."""
        return self.line.blocks[self.indices[0]]

    @property
    def example(self) -> str:
        """The first serial of all."""
        return format_serial(self.line.form(self.indices[0]), self.firsts[0])

    def as_printed(self, whole: str) -> SerialPlace | None:
        """The place of a text that is just what is stamped on one of the units, without check characters; None if it is not."""
        prefix, suffix, width = self.block.prefix, self.block.suffix, self.block.width or 0
        digits = whole[len(prefix) : len(whole) - len(suffix)]
        if not (digits.isdigit() and whole.endswith(suffix)) or len(digits) < width or (digits[0] == "0" and len(digits) > max(width, 1)):
            return None
        number = int(digits)
        index = self.indices[max(bisect_right(self.firsts, number) - 1, 0)]
        if not self.line.blocks[index].first <= number <= self.line.blocks[index].last:
            return None
        return SerialPlace(self.line, index, number, self.line.order(index, number))

    def place(self, core: str, checks: int, affixes: tuple[str, ...]) -> tuple[SerialPlace, int]:
        """Where a text that begins and ends like these, with so many check characters, stands, and how many leading zeros it lacks.

        Raises:
            DataError: no such number, zeros too many, or wrong check characters.
        """
        block = self.block
        digits = core[len(block.prefix) : len(core) - len(block.suffix) - checks]
        number = int(digits)
        at = bisect_right(self.firsts, number) - 1
        index = self.indices[max(at, 0)]
        if at < 0 or number > self.line.blocks[index].last:
            ranges = ", ".join(self._range(each) for each in self.indices[max(at - 1, 0) : at + 3])
            raise DataError(f'No block of "{self.line.line_id}" holds the number {number}.', f"Known near it: {ranges}.")
        printed = self._printed(index, number)
        zeros = len(printed) - len(core)
        if zeros < 0:
            raise DataError("The serial has more leading zeros than are stamped.", f"Write {printed}.")
        expected = printed[: len(block.prefix)] + printed[len(block.prefix) + zeros :]
        if core != expected or zeros > max((block.width or 0) - len(str(number)), 0):
            raise DataError("The check characters are wrong.", f"The number {number} is stamped {printed}.")
        return SerialPlace(self.line, index, number, self.line.order(index, number), affixes), zeros

    def _printed(self, index: int, number: int) -> str:
        """As `format_serial` has it; the common case is spared the parsing of prefix and suffix."""
        if self.line.check is None:
            return self.block.prefix + str(number).zfill(self.block.width or 0) + self.block.suffix
        return format_serial(self.line.form(index), number)

    def _range(self, index: int) -> str:
        block, form = self.line.blocks[index], self.line.form(index)
        return f"{format_serial(form, block.first)} to {format_serial(form, block.last)}"


class _Stampings:
    """All stampings of a series, found by prefix."""

    def __init__(self, lines: Iterable[Line]) -> None:
        alike: dict[tuple[str, str, str, int | None], list[int]] = defaultdict(list)
        by_id = {line.line_id: line for line in lines}
        for line in by_id.values():
            for index, block in enumerate(line.blocks):
                alike[line.line_id, block.prefix, block.suffix, block.width].append(index)
        self.all: list[_Stamping] = []
        self._by_prefix: dict[str, list[_Stamping]] = defaultdict(list)
        for (line_id, prefix, *_), indices in alike.items():
            line = by_id[line_id]
            indices.sort(key=lambda index: line.blocks[index].first)
            firsts = tuple(line.blocks[index].first for index in indices)
            stamping = _Stamping(line, tuple(indices), firsts, max(_checks(line, indices[0], last) for last in (False, True)))
            self.all.append(stamping)
            self._by_prefix[prefix].append(stamping)
        self._plain_lengths = sorted({len(prefix) for prefix in self._by_prefix if CHECK_PLACE not in prefix})
        self._checked = [prefix for prefix in self._by_prefix if CHECK_PLACE in prefix]

    def as_printed(self, whole: str) -> SerialPlace | None:
        """Where a text stands that is printed so, in full, on one unit; None if there is none, or another one, or check characters must be looked at.

        No number that lacks zeros or has an affix could be meant instead.
        """
        if self._checked or any(stamping.line.check for stamping in self.all[:1]):
            return None
        found: SerialPlace | None = None
        for length in self._plain_lengths:
            for stamping in self._by_prefix.get(whole[:length], ()):
                here = stamping.as_printed(whole)
                if here is not None and found is not None:
                    return None
                found = here or found
        return found

    def fitting(self, core: str) -> Iterable[tuple[_Stamping, int]]:
        """Those with the prefix and suffix of the text, and nothing but digits where the number stands, before so many check characters."""
        prefixes = [core[:length] for length in self._plain_lengths]
        prefixes += [prefix for prefix in self._checked if _agree(prefix, core)]
        for prefix in prefixes:
            for stamping in self._by_prefix.get(prefix, ()):
                suffix = stamping.block.suffix
                for checks in range(MOST_CHECKS + 1) if stamping.line.check and prefix not in self._checked else (0,):
                    if core.endswith(suffix) and _DIGITS.fullmatch(core[len(prefix) : len(core) - len(suffix) - checks]):
                        yield stamping, checks


def _checks(line: Line, index: int, last: bool) -> int:
    """How many check characters follow the digits of the first or last number of a block; ISO 7064 leaves one out at times."""
    block = line.blocks[index]
    number = block.last if last else block.first
    return len(format_serial(line.form(index), number)) - len(block.prefix) - len(block.suffix) - max(block.width or 0, len(str(number)))


def _agree(prefix: str, core: str) -> bool:
    """Whether a text begins with a prefix that holds the place of a check character."""
    return len(prefix) <= len(core) and all(p in (CHECK_PLACE, c) for p, c in zip(prefix, core, strict=False))
