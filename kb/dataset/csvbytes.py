"""Editing a CSV file byte by byte: rows are appended, cells changed, and every other byte stays as it was.

Whatever a spreadsheet wrote is kept: byte order mark, separator, line ends, quotation marks, blank lines, the order of the columns.
A version-control diff of an added row is one line. A column missing from the file is added at its end, because every row must
have as many cells as the header (RFC 4180).
"""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from kb.words.errors import DataError

_BOM = b"\xef\xbb\xbf"
_SEPARATORS = (",", ";", "\t")
_SEP_LINE = re.compile(r'"?sep=([,;\t])"?', re.IGNORECASE)
_QUOTED = re.compile(r'"((?:[^"]|"")*+)"')
_BLANK = " \t\u00a0\ufeff"


@dataclass(frozen=True)
class _Record:
    """One row: where its cells and its line end are in the text."""

    cells: tuple[tuple[int, int], ...]
    end: int  # of the last cell
    after: int  # of the line end


class CsvBytes:
    """The text of one file, with the position of every cell. Rows are counted as a spreadsheet shows them."""

    def __init__(self, data: bytes) -> None:
        """Find the cells.

        Raises:
            DataError: not UTF-8, a quotation mark that is never closed, or no header.
        """
        self._bom = _BOM if data.startswith(_BOM) else b""
        try:
            self._text = data.removeprefix(_BOM).decode("utf-8")
        except UnicodeDecodeError as error:
            raise DataError("The file is not UTF-8.", 'Save it again as "CSV UTF-8".') from error
        self._separator, told = _separator(self._text)
        self._records = _scan(self._text, self._separator)
        rows = (row for row, record in enumerate(self._records) if not (told and row == 0) and any(map(self._cell, record.cells)))
        header = next(rows, None)
        if header is None:
            raise DataError("The file is empty.", "Begin with a header row of column names, or delete the file.")
        self._header = header
        self.names = [self._cell(span) for span in self._records[header].cells]
        while not self.names[-1]:
            self.names.pop()

    @property
    def next_row(self) -> int:
        """The number of the first row to be appended."""
        return len(self._records) + 1

    def cell(self, row: int, column: str) -> str:
        """The text in a cell; "" if the row or the column does not exist."""
        if column not in self.names or not self._header < row - 1 < len(self._records):
            return ""
        at = self.names.index(column)
        cells = self._records[row - 1].cells
        return self._cell(cells[at]) if at < len(cells) else ""

    def edited(self, added: Sequence[Mapping[str, str]] = (), changed: Mapping[tuple[int, str], str] | None = None) -> bytes:
        """The bytes of the file with rows appended (text by column) and cells changed (by row and column)."""
        by_row: dict[int, dict[str, str]] = {}
        for (row, name), instead in (changed or {}).items():
            by_row.setdefault(row, {})[name] = instead
        filled = dict.fromkeys(name for row in [*by_row.values(), *added] for name, instead in row.items() if instead)
        new = [name for name in filled if name not in self.names]
        text, done = [], 0
        for start, end, instead in self._pieces(by_row, new):
            text += [self._text[done:start], instead]
            done = end
        text.append(self._text[done:])
        line_end = self.line_end
        if added and not self._text.endswith(("\n", "\r")):
            text.append(line_end)
        text += [self._written([row.get(name, "") for name in [*self.names, *new]]) + line_end for row in added]
        return self._bom + "".join(text).encode("utf-8")

    def _pieces(self, by_row: Mapping[int, Mapping[str, str]], new: Sequence[str]) -> Iterator[tuple[int, int, str]]:
        """Start, end and the new text; in the order of the text."""
        width = len(self.names)
        at = {name: index for index, name in enumerate(self.names)}
        rows = range(self._header, len(self._records)) if new else sorted(row - 1 for row in by_row)
        for row in rows:
            cells, end = self._records[row].cells, self._records[row].end
            if len(cells) < width or not any(map(self._cell, cells)):
                continue
            texts = by_row.get(row + 1, {})
            for index, name in sorted((at[name], name) for name in texts if name in at):
                yield *cells[index], self._written([texts[name]])
            if new:
                beyond = new if row == self._header else [texts.get(name, "") for name in new]
                yield cells[width - 1][1], end, "".join(self._separator + self._written([text]) for text in beyond)

    @property
    def line_end(self) -> str:
        """How the lines of this file end: the same way as the header."""
        header = self._records[self._header]
        return self._text[header.end : header.after] or "\n"

    def _cell(self, span: tuple[int, int]) -> str:
        text = self._text[slice(*span)]
        if found := _QUOTED.match(text):
            text = found[1].replace('""', '"') + text[found.end() :]
        return text.strip(_BLANK)

    def _written(self, cells: Sequence[str]) -> str:
        return write(cells, self._separator)


def write(cells: Sequence[str], separator: str = ",") -> str:
    """One line without its end, with quotation marks where they are needed."""
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="\r\n").writerow(cells)
    return "" if list(cells) == [""] else out.getvalue().removesuffix("\r\n")


def new_file(names: Sequence[str], rows: Iterable[Sequence[str]] = ()) -> bytes:
    """A file as this program writes one."""
    return "".join(write(cells) + "\n" for cells in [names, *rows]).encode("utf-8")


def _separator(text: str) -> tuple[str, bool]:
    """What separates the cells, and whether the first line says only that."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    if told := _SEP_LINE.fullmatch(first.strip(" ")):
        return told[1], True
    outside_quotes = re.sub(r'"[^"]*"', "", first)
    return max(_SEPARATORS, key=outside_quotes.count), False


def _scan(text: str, separator: str) -> list[_Record]:
    """All rows of the text, including blank ones."""
    cell = re.compile(rf'{_QUOTED.pattern}[^{separator}\r\n]*|(?!")[^{separator}\r\n]*')
    line_end = re.compile(r"\r\n|\n|\r")
    records: list[_Record] = []
    at = 0
    while at < len(text):
        cells = []
        while True:
            found = cell.match(text, at)
            if found is None:
                problem = f"A quotation mark is opened in row {len(records) + 1} and never closed."
                raise DataError(problem, 'Close it, or write "" for a quotation mark inside a text.')
            cells.append(found.span())
            at = found.end()
            if not text.startswith(separator, at):
                break
            at += 1
        end = at
        if found_end := line_end.match(text, at):
            at = found_end.end()
        records.append(_Record(tuple(cells), end, at))
    return records
