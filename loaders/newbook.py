"""Writing the workbook that `loaders.workbook` reads: every sheet with its headings, their explanations, and ids to choose from."""

import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill, Protection
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from kb.output import writing as output
from kb.output.kinds import WORKBOOK
from kb.words.errors import DataError
from kb.words.records import TABLES
from kb.words.records.columns import Column, columns
from loaders.workbook import GUIDE, NOTES, Table

_ROOM = 2000  # rows below the last one that are prepared for more
_LONGEST_CHOICE = 255  # characters of a list that stands in the sheet itself (ISO/IEC 29500-1, 18.3.1.32)
_HOW = (
    "One sheet for each file of the dataset. Point at a heading to read what belongs below it.",
    "All cells are text: do not change that, or the spreadsheet takes zeros off the front of serials and part numbers.",
    "Headings are locked. Where something exists already it can be picked from a list.",
    "Rows are not deleted but retracted: write the reason into the column retracted.",
    "When you are done: kb import workbook BOOK.xlsx --folder FOLDER. What is wrong is said with its cell, and then nothing is changed.",
)


def write(path: Path, held: Mapping[str, Table] | None = None) -> None:
    """Write a workbook with the rows of a dataset (`loaders.workbook.tables_of`), or an empty one.

    Raises:
        FileError: it cannot be written.
        DataError: a character that no workbook can hold.
    """
    held = held or {}
    for table, rows in held.items():
        for row, cells in rows.rows:
            if any(ILLEGAL_CHARACTERS_RE.search(cell) for cell in cells):
                raise DataError(f"{table}.csv, row {row}: a character that no workbook can hold.", "Delete the control character.")
    book = Workbook(write_only=True)
    guide = book.create_sheet(GUIDE)
    guide.column_dimensions["A"].width = 120
    for line in _HOW:
        guide.append([line])
    widths = {table: len(held[table].rows) if table in held else 0 for table in TABLES}
    for table in TABLES:
        _sheet(book, table, held.get(table), widths)
    notes = book.create_sheet(NOTES)
    notes.sheet_state = "hidden"
    for table, rows in held.items():
        for key, noted in rows.notes(table).items():
            notes.append([_text(notes, each) for each in (table, key, noted)])
    made = io.BytesIO()
    book.save(made)
    output.write(path, made.getvalue(), WORKBOOK)


def _sheet(book: Workbook, table: str, held: Table | None, counts: Mapping[str, int]) -> None:
    sheet = book.create_sheet(table)
    known = {column.name: column for column in columns(table)}
    names = [*(held.names if held else ()), *(name for name in known if held is None or name not in held.names)]
    last = counts[table] + 1 + _ROOM
    for at, name in enumerate(names, 1):
        letter = get_column_letter(at)
        style = sheet.column_dimensions[letter]
        style.number_format = "@"
        style.protection = Protection(locked=False)
        style.width = max(12, min(40, len(name) + 4))
        if (column := known.get(name)) and (picked := _picked(column, counts)):
            picked.add(f"{letter}2:{letter}{last}")
            sheet.data_validations.append(picked)
    sheet.freeze_panes = "A2"
    sheet.protection.sheet = True
    for allowed in ("formatCells", "formatColumns", "formatRows", "insertRows", "sort", "autoFilter"):
        setattr(sheet.protection, allowed, False)  # False: not forbidden
    sheet.append([_heading(sheet, name, known.get(name)) for name in names])
    for _, cells in held.rows if held else ():
        sheet.append([_text(sheet, cell) for cell in cells])


def _heading(sheet: Any, name: str, column: Column | None) -> Any:
    cell = WriteOnlyCell(sheet, value=name)
    cell.font = Font(bold=True)
    cell.number_format = "@"
    cell.protection = Protection(locked=True)
    if column is not None:
        required = "Must be filled in." if column.required else "May be empty."
        comment = Comment(f"{column.description}\n{column.says_how[:1].upper()}{column.says_how[1:]}. {required}", "kb", width=320, height=120)
        cell.comment = comment
        cell.fill = PatternFill("solid", fgColor="FFDDE6EE" if column.required else "FFF2F2F2")
    return cell


def _text(sheet: Any, text: str) -> Any:
    """A cell that holds this text and nothing else: not a number, a date or a formula."""
    if not text:
        return None
    cell = WriteOnlyCell(sheet, value=text)
    cell.data_type = "s"
    cell.number_format = "@"
    cell.protection = Protection(locked=False)
    return cell


def _picked(column: Column, counts: Mapping[str, int]) -> DataValidation | None:
    """The list of choices for a cell; for several ids in one cell it only helps, and refuses nothing."""
    if column.kind == "yes/no" or column.choices:
        words = ",".join(column.choices or ("yes", "no"))
        if len(words) + 2 > _LONGEST_CHOICE:
            return None
        return DataValidation(
            "list", formula1=f'"{words}"', allow_blank=True, showErrorMessage=True, errorTitle=column.name, error="Pick one.", errorStyle="stop"
        )
    if column.points_at is None or len(TABLES[column.points_at].key) > 1:
        return None
    keys = f"{column.points_at}!$A$2:$A${counts[column.points_at] + 1 + _ROOM}"
    return DataValidation("list", formula1=keys, allow_blank=True, showErrorMessage=False)
