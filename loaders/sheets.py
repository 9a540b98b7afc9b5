"""Sheets of a workbook (XLSX, ISO/IEC 29500) as text, and what a spreadsheet did to the numbers in them.

A spreadsheet takes anything that looks like a number for one: leading zeros disappear, long numbers end in zeros, 1E5 is a hundred thousand, 1948-05
is the first of May. What was typed can no longer be known, so such cells are refused.
"""

import datetime
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import openpyxl

from kb.words.errors import FileError
from kb.words.records.record import DAMAGED_NUMBER, DAMAGED_REMEDY
from loaders import xlsxguard

MOST_DIGITS = 15  # a spreadsheet keeps no more digits of a number
_AS_TEXT = "Set the column to Text and type it again from the source."


class Cell(Protocol):
    """A cell of a sheet."""

    @property
    def value(self) -> Any:
        """What is in it, None if nothing."""

    @property
    def data_type(self) -> str:
        """n number, s text, b yes or no, d date, e error, f formula."""

    @property
    def coordinate(self) -> str:
        """Its name: B7."""


@dataclass(frozen=True)
class Read:
    """A cell as text. `wrong` gives problem and remedy if it is no longer what was typed."""

    shown: str
    wrong: tuple[str, str] | tuple[()] = ()


@contextmanager
def opened(path: Path, *, values: bool) -> Iterator[Any]:
    """A workbook to read from. values: the results of formulas instead of the formulas.

    Raises:
        FileError: there is no such file, or it is not a workbook, or a damaged one.
    """
    xlsxguard.check(path)
    with path.open("rb") as file:
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # things that other programs put into workbooks and that are not needed here
                book = openpyxl.load_workbook(file, read_only=True, data_only=values)
        except Exception as error:  # whatever the reader trips over, the file is not what it should be
            raise xlsxguard.damaged(path, error) from error
        if not book.worksheets:
            raise FileError(f'"{path}" has no sheet.', "Save it as XLSX (Excel workbook).")
        yield book


def rows(sheet: Any) -> Iterator[tuple[int, tuple[Cell, ...]]]:
    """(row, cells) of a sheet, from the first row on.

    Raises:
        FileError: the sheet is gone or damaged, which shows only now.
    """
    try:
        sheet.reset_dimensions()
        reading = enumerate(sheet.iter_rows(), 1)
        row, cells = next(reading, (0, ()))
        while row:
            yield row, cells
            row, cells = next(reading, (0, ()))
    except GeneratorExit:
        raise
    except Exception as error:  # as above: what comes out of the reader here is nothing of ours
        raise FileError(f'The sheet "{sheet.title}" is damaged ({type(error).__name__}).', "Save the workbook again as XLSX.") from error


def text(cell: Cell, *, number: bool) -> Read:
    """A cell as text. number: the column holds amounts, so a number in it is right."""
    value = cell.value
    if value is None:
        return Read("")
    match cell.data_type:
        case "f":
            return Read(str(value), ("A formula.", "Write the value itself."))
        case "e":
            return Read(str(value), ("The spreadsheet could not work this cell out.", "Write the value itself."))
    if isinstance(value, bool):
        return Read("yes" if value else "no")
    if isinstance(value, datetime.datetime | datetime.date | datetime.time | datetime.timedelta):
        shown = value.date().isoformat() if isinstance(value, datetime.datetime) else str(value)
        return Read(shown, ("The spreadsheet has made a date of what was typed.", _AS_TEXT))
    if isinstance(value, int | float):
        return _number(value, number)
    shown = str(value).strip()
    if DAMAGED_NUMBER.fullmatch(shown):
        return Read(shown, ("No longer the number that was typed.", DAMAGED_REMEDY))
    return Read(shown)


def _number(value: float, number: bool) -> Read:
    shown = str(int(value)) if value == int(value) and abs(value) < 1e300 else repr(value)
    if len(shown.lstrip("-").replace(".", "")) > MOST_DIGITS or "e" in shown:
        return Read(shown, ("A number too long for a spreadsheet: its last digits are lost.", _AS_TEXT))
    if number:
        return Read(shown)
    return Read(shown, ("A number where text is wanted: zeros in front of it would be lost.", _AS_TEXT))
