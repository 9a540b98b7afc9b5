"""Layouts of casting dates must be layouts; how they are read is `kb.probability.dating.layout`."""

from collections.abc import Iterator

from kb.dataset.rules.problem import RowProblem
from kb.probability.dating.layout import Layout
from kb.words.dataset import Dataset
from kb.words.errors import DataError


def check(dataset: Dataset) -> Iterator[RowProblem]:
    """All rows whose layout cannot be read."""
    for index, row in enumerate(dataset.date_codes):
        for column, letters, year in (("layout", None, None), ("month_letters", row.month_letters, None), ("century_from", None, row.century_from)):
            try:
                Layout.parse(row.layout, letters, year)
            except DataError as error:
                yield RowProblem("date_codes", index, column, error.problem, error.remedy)
                break
