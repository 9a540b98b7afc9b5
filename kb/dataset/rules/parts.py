"""Part numbers that are the same number, supersessions that lead back to where they began, kits inside themselves."""

from collections import defaultdict
from collections.abc import Iterator

from kb.dataset.rules.circles import circles
from kb.dataset.rules.problem import RowProblem
from kb.words import edtf
from kb.words.dataset import Dataset
from kb.words.notation import normalise

_LOOKS_LIKE = str.maketrans("OI", "01")


def check(dataset: Dataset) -> Iterator[RowProblem]:
    """All problems with part numbers."""
    yield from _same_number(dataset)
    yield from _supersession_circles(dataset)
    yield from _kits(dataset)


def _same_number(dataset: Dataset) -> Iterator[RowProblem]:
    """Numbers that are one when spaces and dashes do not count, of one maker: an error. Letters O and I for 0 and 1: a doubt."""
    same: dict[str, list[int]] = defaultdict(list)
    alike: dict[str, int] = {}
    for index, row in enumerate(dataset.parts):
        normal = normalise(row.part_number)
        for other in same[normal]:
            if dataset.parts[other].made_by == row.made_by:
                problem = f'"{row.part_number}" and "{dataset.parts[other].part_number}" are one number, since spaces, dashes and dots do not count.'
                remedy = "Delete one of the rows, or say in made_by that two makers use the number."
                yield RowProblem("parts", index, "part_number", problem, remedy)
                break
        same[normal].append(index)
        first = alike.setdefault(normal.translate(_LOOKS_LIKE), index)
        if normalise(dataset.parts[first].part_number) != normal:
            problem = f'"{row.part_number}" looks like "{dataset.parts[first].part_number}": letter O or I, digit 0 or 1.'
            remedy = "If both mean the same part, keep the right one."
            yield RowProblem("parts", index, "part_number", problem, remedy, "doubt", "look-alike", row.part_number)


def _supersession_circles(dataset: Dataset) -> Iterator[RowProblem]:
    """Rows that lead back to where they began and of which a date is missing. Of dated rows leaving a number only the latest holds."""
    leaving: dict[str, list[int]] = defaultdict(list)
    for index, row in enumerate(dataset.supersessions):
        if not row.retracted and row.direction == "one-way":
            leaving[row.old_part].append(index)
    holding: dict[tuple[str, str], int] = {}
    for indices in leaving.values():
        dates = {index: edtf.parse(date).first for index in indices if (date := dataset.supersessions[index].from_date)}
        latest = max(dates.values(), default=None)
        for index in indices:
            if dates.get(index, latest) == latest:
                row = dataset.supersessions[index]
                holding[row.old_part, row.new_part] = index
    arrows: dict[str, list[str]] = defaultdict(list)
    for old, new in holding:
        arrows[old].append(new)
    for circle in circles(dict(arrows)):
        steps = [holding[pair] for pair in zip(circle, circle[1:], strict=False)]
        undated = [index for index in steps if dataset.supersessions[index].from_date is None]
        if undated:
            problem = f"The supersessions run in a circle: {' to '.join(circle)}."
            remedy = "Retract the wrong one, write from_date in all of them, or make it one row both-ways if the parts interchange."
            yield RowProblem("supersessions", max(undated), "new_part", problem, remedy)


def _kits(dataset: Dataset) -> Iterator[RowProblem]:
    row_of = {(row.kit_number, row.part_number): index for index, row in enumerate(dataset.contents)}
    arrows: dict[str, list[str]] = defaultdict(list)
    for kit, part in row_of:
        arrows[kit].append(part)
    for circle in circles(dict(arrows)):
        index = max(row_of[pair] for pair in zip(circle, circle[1:], strict=False))
        yield RowProblem("contents", index, "part_number", f"A kit contains itself: {' in '.join(circle)}.", "Delete the row that is wrong.")
