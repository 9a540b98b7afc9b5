"""One part number, two descriptions: lists that agree on where a part goes and differ in what it is there, or in how many are needed.

Two fitments that agree in every condition and differ in role or quantity cannot both be right. (The same number of two makers is two
parts, and of one maker an error.)
"""

from collections.abc import Iterator
from operator import attrgetter

from kb.dataset.rules.problem import RowProblem
from kb.words.dataset import Dataset
from kb.words.records import Fitment

_CONDITIONS = ("part_number", "component_id", "series_id", "serial_from", "serial_to", "model_id", "variant_id", "place", "fits", "per")
_conditions = attrgetter(*_CONDITIONS)


def check(dataset: Dataset) -> Iterator[RowProblem]:
    """All doubts about what a part is."""
    conditional = {row.fitment_id for row in dataset.fitment_conditions}
    first: dict[tuple[object, ...], Fitment] = {}
    for index, row in enumerate(dataset.fitments):
        if row.retracted or row.fitment_id in conditional:
            continue
        other = first.setdefault(_conditions(row), row)
        if other is row or other.source_id == row.source_id:
            continue
        column = "role" if row.role.casefold() != other.role.casefold() else "quantity"
        here, there = getattr(row, column), getattr(other, column)
        if column == "role" or here != there:
            problem = f'{row.part_number} in "{row.component_id}": {column} "{there}" by {other.fitment_id}, "{here}" by this row.'
            remedy = "Look up both lists and retract the row that is wrong."
            sources = (other.source_id, row.source_id)
            yield RowProblem("fitments", index, column, problem, remedy, "doubt", "description", row.part_number, sources)
