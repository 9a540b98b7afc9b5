"""Blocks and lines: stretches of stamped numbers, and the order in which they were built.

The blocks of one line of a series, by position, give the production order 0, 1, 2, ... Orders and numbers are Python
integers, so a series of 10**18 numbers costs the same as one of ten. Rules: docs/model.md, section 2.
"""

from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

from kb.probability.channel.digits import PrintedForm, format_serial
from kb.words.edtf import Span


@dataclass(frozen=True)
class Block:
    """A stretch of a line: `first`..`last` (both ends included), every number equally likely.

    `models` holds (model_id, units); model_id "" is a block without a model. `units` is their sum.
    """

    block_id: str
    series_id: str
    line: str
    position: int
    prefix: str
    first: int
    last: int
    suffix: str
    width: int | None
    models: tuple[tuple[str, float], ...]
    units: float
    built: Span | None = None
    dates_are: str | None = None
    kind: str = "new"
    source_id: str | None = None
    page: str | None = None

    @property
    def count(self) -> int:
        """How many numbers the block has, built or not."""
        return self.last - self.first + 1


@dataclass(frozen=True)
class Line:
    """The blocks of one series and line in production order, with everything needed to print their serials."""

    line_id: str
    series_id: str
    line: str
    blocks: tuple[Block, ...]
    check: str | None = None
    affixes_before: tuple[str, ...] = ()
    affixes_after: tuple[str, ...] = ()

    @cached_property
    def starts(self) -> tuple[int, ...]:
        """Order of the first number of each block, and at the end the count of all."""
        return tuple(accumulate((block.count for block in self.blocks), initial=0))

    @property
    def count(self) -> int:
        """How many numbers the line has."""
        return self.starts[-1]

    def order(self, block_index: int, number: int) -> int:
        """Production order of a number of a block."""
        return self.starts[block_index] + number - self.blocks[block_index].first

    def at(self, order: int) -> tuple[int, int]:
        """Block index and number of a production order, the inverse of `order`.

        Raises:
            IndexError: the line has no such order.
        """
        if not 0 <= order < self.count:
            raise IndexError(f"{self.line_id} has the orders 0..{self.count - 1}, not {order}")
        index = bisect_right(self.starts, order) - 1
        return index, self.blocks[index].first + order - self.starts[index]

    def serial(self, order: int) -> str:
        """The serial of a production order as it is stamped, in normal form and without affixes.

        Raises:
            IndexError: the line has no such order.
        """
        index, number = self.at(order)
        return format_serial(self.form(index), number)

    def form(self, block_index: int) -> PrintedForm:
        """How the numbers of a block are printed."""
        block = self.blocks[block_index]
        return PrintedForm(block.prefix, block.suffix, block.width, self.check, self.affixes_before, self.affixes_after)
