"""When a unit was built, by where its serial stands in a block whose dates are known.

Linear interpolation between the first and the last number of the block, as people do on paper. Works
do not turn out the same number every week, so the answer is a span of days around the likely one. Outside the block there is
no answer.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from kb.words.edtf import Span
from kb.words.errors import DataError


@dataclass(frozen=True)
class BuildDate:
    """likely: the day by linear interpolation; within: the days that are plausible, never outside those of the block."""

    likely: Span
    within: Span


def build_date(first: int, last: int, block_first: int, block_last: int, built: Span, unsteady: float) -> BuildDate:
    """The build date of the serials first..last of a block.

    Args:
        first, last: numbers of the unit (the same twice if it is known); ends included.
        block_first, block_last: numbers of the block.
        built: the days over which the block was built: the first number on the first day, the last on the last.
        unsteady: the share of the block's time by which its output may have run ahead or behind.

    Raises:
        DataError: the numbers are not in the block.

    >>> build_date(1250, 1250, 1000, 2000, Span(date(1947, 1, 1), date(1947, 12, 31)), 0.15).likely.first
    datetime.date(1947, 4, 2)
    """
    if not block_first <= first <= last <= block_last:
        raise DataError(f"{first} to {last} is not within {block_first} to {block_last}.", "A build date is only known inside a block.")
    likely = Span(_day(first, block_first, block_last, built, 0.0), _day(last, block_first, block_last, built, 0.0))
    within = Span(_day(first, block_first, block_last, built, -unsteady), _day(last, block_first, block_last, built, unsteady))
    return BuildDate(likely, within)


def _day(number: int, block_first: int, block_last: int, built: Span, off: float) -> date:
    """The day of a number, moved by a share of the block's time but not out of it. A block of one number: its first day, or last."""
    share = (number - block_first) / (block_last - block_first) if block_last > block_first else 0.5  # numeric
    days = (built.last - built.first).days
    return built.first + timedelta(days=round(min(1.0, max(0.0, share + off)) * days))
