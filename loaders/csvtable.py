"""One CSV file as text: RFC 4180 the way spreadsheets really write it.

Accepted silently: a byte order mark, CRLF or CR line ends, `;` or tab instead of the comma, a first line `sep=;`, blank lines,
empty cells beyond the header, columns in any order. Everything else that is wrong is a fault, with its row and column.
"""

import codecs
import csv
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import BinaryIO, NamedTuple

SEPARATORS = (",", ";", "\t")
_AT_A_TIME = 1 << 20
_UTF16 = (b"\xff\xfe", b"\xfe\xff")
_NOT_UTF8 = re.compile("[\udc80-\udcff]+")
_SPREADSHEET_ERROR = re.compile(r"#(?:REF!|N/A|NAME\?|VALUE!|DIV/0!|NUM!|NULL!)|#{3,}")
_CONFLICT = re.compile(r"(?:<{7}|>{7}|\|{7}) |={7}$")
_SEP_LINE = re.compile(r'"?sep=([,;\t])"?', re.IGNORECASE)
_SAVE_AS = 'Save it again as "CSV UTF-8".'
_BLANK = " \t\u00a0\ufeff"


@dataclass(frozen=True)
class Fault:
    """What is wrong with one cell, one row (column "") or the whole file (row 0)."""

    row: int
    column: str
    value: str
    problem: str
    remedy: str


@dataclass
class CsvTable:
    """The header, the rows below it with their row numbers as a spreadsheet shows them, and what was wrong on the way.

    Cells are stripped of blanks; every row has as many cells as the header. Rows that could not be read are in `left_out`.
    """

    header: list[str] = field(default_factory=list)
    rows: list[tuple[int, list[str]]] = field(default_factory=list)
    broken: set[int] = field(default_factory=set)  # rows with a line break in a cell; it is kept
    left_out: list[tuple[int, list[str]]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    readable: bool = True
    complete: bool = True  # False: rows were lost, and it is not known which


def parse(data: bytes) -> CsvTable:
    """Read the bytes of one CSV file. Nothing is raised: everything that is wrong is in `faults`."""
    table = CsvTable()
    table.rows = list(rows(lambda: io.BytesIO(data), table))
    return table


def rows(opened: Callable[[], BinaryIO], table: CsvTable) -> Iterator[tuple[int, list[str]]]:
    """The rows of one CSV file, one after the other, however long it is. Nothing is raised, as in `parse`.

    Args:
        opened: opens the file; it is read up to three times.
        table: receives everything but the rows as they are read; its header is there before the first row.
    """
    about = _look_through(opened)
    if about.utf16:
        _unreadable(table, "The file is in UTF-16, not in UTF-8.", _SAVE_AS)
        return
    separator, told = _separator(opened)
    records = _records(opened, separator, told, _never_closed(opened, separator) if about.odd_quotes else 0, table)
    records = _without_marks(records, table)
    header_row, header = next(((row, cells) for row, cells in records if any(cell.strip(_BLANK) for cell in cells)), (1, []))
    table.header = [cell.strip(_BLANK) for cell in header]
    while table.header and not table.header[-1]:
        table.header.pop()
    if not table.header:
        _unreadable(table, "The file is empty.", "Begin with a header row of column names, or delete the file.")
        return
    width, broken, damaged = len(table.header), table.broken, about.damaged
    for row, cells in records:
        stripped = cells if row in broken else list(map(str.strip, cells))
        if len(stripped) != width:
            if not any(stripped):
                continue
            if not _fit(stripped, width, row, table):
                table.left_out.append((row, stripped))
                continue
        elif not any(stripped):
            continue
        if damaged and not _sound(stripped, row, table):
            table.left_out.append((row, stripped))
            continue
        yield row, stripped
    if damaged:
        _sound(table.header, header_row, table)


class _About(NamedTuple):
    """What decides how a file is read. damaged: whether it may have characters that no cell should have."""

    utf16: bool
    odd_quotes: bool
    damaged: bool


def _look_through(opened: Callable[[], BinaryIO]) -> _About:
    size = zeros = quotes = 0
    first, damaged = b"", False
    decoder = codecs.getincrementaldecoder("utf-8")("surrogateescape")
    with opened() as file:
        while block := file.read(_AT_A_TIME):
            first = first or block[:2]
            size, zeros, quotes = size + len(block), zeros + block.count(0), quotes + block.count(b'"')
            text = decoder.decode(block)
            damaged = damaged or "#" in text or not (text.isascii() or _NOT_UTF8.search(text) is None)
    damaged = damaged or zeros > 0 or bool(_NOT_UTF8.search(decoder.decode(b"", final=True)))
    return _About(first in _UTF16 or zeros > size / 4, quotes % 2 == 1, damaged)


def _text(opened: Callable[[], BinaryIO]) -> io.TextIOWrapper:
    """The file as text, without its byte order mark."""
    file = opened()
    if file.read(len(codecs.BOM_UTF8)) != codecs.BOM_UTF8:
        file.seek(0)
    return io.TextIOWrapper(file, "utf-8", "surrogateescape", newline="")


def _unreadable(table: CsvTable, problem: str, remedy: str) -> None:
    table.readable = False
    table.faults.append(Fault(0, "", "", problem, remedy))


def _separator(opened: Callable[[], BinaryIO]) -> tuple[str, bool]:
    """What separates the cells, judging by the first line that is not blank; and whether that line says only that."""
    with _text(opened) as text:
        first = next((line for lines in text for line in lines.splitlines() if line.strip()), "")
    if told := _SEP_LINE.fullmatch(first.strip(" ")):
        return told[1], True
    outside_quotes = re.sub(r'"[^"]*"', "", first)
    return max(SEPARATORS, key=outside_quotes.count), False


def _records(opened: Callable[[], BinaryIO], separator: str, told: bool, open_from: int, table: CsvTable) -> Iterator[tuple[int, list[str]]]:
    """(row, cells), rows counted as a spreadsheet shows them: a cell with a line break is still one row.

    told: whether the first line only names the separator. open_from: see `_never_closed`.
    """
    row = lines = 0
    with _text(opened) as text:
        reader = csv.reader(text, delimiter=separator)
        try:
            for cells in reader:
                row += 1
                if row == open_from:
                    table.complete = False
                    problem = "A quotation mark is opened and never closed, so the rest of the file is one cell."
                    table.faults.append(Fault(row, "", "", problem, 'Close it, or write "" for a quotation mark inside a text.'))
                    return
                if reader.line_num > lines + 1:
                    table.broken.add(row)
                    cells = [cell.strip(_BLANK) for cell in cells]
                lines = reader.line_num
                if not (told and row == 1):
                    yield row, cells
        except csv.Error:
            table.complete = False
            problem = f"A cell of more than {csv.field_size_limit()} characters."
            table.faults.append(Fault(row + 1, "", "", problem, "A quotation mark is probably not closed. Close it, or shorten the text."))


def _without_marks(records: Iterator[tuple[int, list[str]]], table: CsvTable) -> Iterator[tuple[int, list[str]]]:
    """The rows without the lines that git puts around what two people changed at the same place; each such line is a fault."""
    for row, cells in records:
        first = cells[0].strip() if cells else ""
        if _CONFLICT.match(first) and not any(cells[1:]):
            problem = "A mark of a conflict: two people changed the same place, and git could not put both together."
            table.faults.append(Fault(row, "", first, problem, "Keep the right rows of both; delete the lines with <<<<<<<, ======= and >>>>>>>."))
        else:
            yield row, cells


def _never_closed(opened: Callable[[], BinaryIO], separator: str) -> int:
    """The row that begins with an unclosed quotation mark; 0 if all are closed."""
    row = 0
    with _text(opened) as text:
        try:
            for _ in csv.reader(text, delimiter=separator, strict=True):
                row += 1
        except csv.Error as error:
            return row + 1 if "unexpected end of data" in str(error) else 0
    return 0


def _fit(cells: list[str], width: int, row: int, table: CsvTable) -> bool:
    """Cut or refuse a row with more or fewer cells than the header."""
    if len(cells) > width and not any(cells[width:]):
        del cells[width:]
        return True
    more = len(cells) > width
    problem = f"The row has {len(cells)} cells, the header has {width}."
    remedy = "Put a text with a separator in it into quotation marks." if more else "Add the missing separators, or save the file from a spreadsheet."
    table.faults.append(Fault(row, "", cells[width] if more else cells[-1], problem, remedy))
    return False


def _sound(cells: list[str], row: int, table: CsvTable) -> bool:
    """Refuse cells with broken characters or what a spreadsheet writes instead of a value."""
    faults = [fault for name, cell in zip(table.header, cells, strict=True) if (fault := _fault(row, name, cell))]
    table.faults += faults
    return not faults


def _fault(row: int, column: str, cell: str) -> Fault | None:
    if _NOT_UTF8.search(cell):
        shown = cell.encode("utf-8", "surrogateescape").decode("cp1252", "replace")
        column = _NOT_UTF8.sub("?", column)
        return Fault(row, column, shown, "A character that is not UTF-8: the file was saved in another encoding.", _SAVE_AS)
    if "\0" in cell:
        shown = cell.replace("\0", "\ufffd")
        return Fault(row, column.replace("\0", "\ufffd"), shown, "A NUL character: the file is damaged, or was saved in another encoding.", _SAVE_AS)
    if _SPREADSHEET_ERROR.fullmatch(cell):
        return Fault(
            row,
            column,
            cell,
            "The spreadsheet could not work this cell out.",
            "Write the value itself, not a formula; widen a column that shows ####.",
        )
    return None
