"""What `kb listing` and `kb stock` have in common: a list of part numbers goes in, the same list with answers comes out."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.output.kinds import answers
from kb.output.writing import refuse
from kb.words.errors import DataError

if TYPE_CHECKING:
    from loaders.inquiries import InquiryList

output_option = click.option(
    "-o", "--output", metavar="FILE", type=click.Path(path_type=Path), help="Write the list with the answers: .csv, .xlsx, .jsonl or .parquet."
)


def part_numbers(path: Path) -> "tuple[InquiryList, list[str]]":
    """A list, and the part number of each of its rows; "" where there is none.

    Raises:
        FileError: the list cannot be read.
        DataError: it has no column of part numbers.
    """
    from kb.desk.trade.inquiry import heading
    from loaders.inquiries import read

    listed = read(path)
    column = next((name for name in listed.columns if (found := heading(name)) is not None and found.field == "part"), None)
    if column is None:
        raise DataError(f'"{path}" has no column of part numbers.', "Name it part or part_number.")
    return listed, [str(row.values.get(column) or "").strip() for row in listed.rows]


def may_be_written(output: Path | None, columns: Sequence[str], inputs: Sequence[Path], force: bool) -> None:
    """Refuse a file that is something else, before the work begins.

    Raises:
        FileError: it would replace something else.
    """
    if output is not None:
        refuse(output, answers(columns), inputs=inputs, force=force)


def write_beside(output: Path, listed: "InquiryList", columns: Sequence[str], found: Sequence[Mapping[str, Any]]) -> None:
    """The rows of the list, followed by the columns of the answers; `may_be_written` has been asked."""
    from loaders.answerlist import write

    names = {name: name if name not in listed.columns else f"kb_{name}" for name in columns}
    rows = [
        {**row.values, **{names[name]: answer.get(name, "") for name in columns}} for row, answer in zip(listed.rows, found, strict=True)
    ]
    write(output, [*listed.columns, *names.values()], rows, frozenset(), answers(columns), force=True)


def each_in_its_row(numbers: Sequence[str], answer: Callable[[str], Any], otherwise: Callable[[str, str], Any]) -> list[Any]:
    """The answer for each number; if it cannot be answered, the result of `otherwise`, and the reason."""
    from kb.words.errors import KbError

    found = []
    for number in numbers:
        try:
            found.append(answer(number) if number else otherwise("", "No part number in this row."))
        except KbError as error:
            found.append(otherwise(number, str(error)))
    return found
