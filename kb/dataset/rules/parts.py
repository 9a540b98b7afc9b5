"""Part numbers that are the same number, supersessions that lead back to where they began, kits inside themselves."""

from collections import defaultdict
from collections.abc import Iterator

from kb.dataset.rules.circles import circles
from kb.dataset.rules.problem import RowProblem
from kb.words import edtf
from kb.words.dataset import Dataset
from kb.words.records.record import normal_form

_LOOKS_LIKE = str.maketrans("OI", "01")


def check(dataset: Dataset) -> Iterator[RowProblem]:
    """All problems with part numbers."""
    yield from _same_number(dataset)
    yield from _supersession_circles(dataset)
    yield from _kits(dataset)


def _same_number(dataset: Dataset) -> Iterator[RowProblem]:
    """Numbers that are one when spaces and dashes do not count, of one maker: an error. Letters O and I for 0 and 1: a doubt."""
    parts = dataset.parts
    normals = [normal_form(row.part_number) for row in parts]
    first_of: dict[str, int] = {}
    again: dict[str, list[int]] = {}
    for index, normal in enumerate(normals):
        if (first := first_of.setdefault(normal, index)) != index:
            others = again.setdefault(normal, [first])
            same = next((other for other in others if parts[other].made_by == parts[index].made_by), None)
            if same is not None:
                problem = f'"{parts[index].part_number}" and "{parts[same].part_number}" are one number, since spaces, dashes and dots do not count.'
                remedy = "Delete one of the rows, or say in made_by that two makers use the number."
                yield RowProblem("parts", index, "part_number", problem, remedy)
            others.append(index)
    doubtful: dict[str, int] = {}
    for index, normal in enumerate(normals):
        if "O" in normal or "I" in normal:
            digits = normal.translate(_LOOKS_LIKE)
            other = first_of.get(digits, doubtful.setdefault(digits, index))
            if normals[other] != normal:
                number = parts[index].part_number
                problem = f'"{number}" looks like "{parts[other].part_number}": letter O or I, digit 0 or 1.'
                yield RowProblem(
                    "parts", index, "part_number", problem, "If both mean the same part, keep the right one.", "doubt", "look-alike", number
                )


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
