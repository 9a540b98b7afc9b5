"""A list of inquiries, one a row: CSV (RFC 4180), XLSX (ISO/IEC 29500, first sheet), JSON Lines (jsonlines.org) or Parquet (parquet.apache.org).

All columns and rows are kept as they are: a row that cannot be read stays in its place, with its error.
"""

import codecs
import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from io import BufferedReader
from pathlib import Path
from typing import Any

from kb.words.errors import FileError
from loaders import csvtable

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")  # what a spreadsheet takes for the start of a formula
_ROWS_AT_A_TIME = 1000  # of Parquet
KINDS = {".csv": "csv", ".tsv": "csv", ".txt": "csv", ".xlsx": "xlsx", ".jsonl": "jsonl", ".ndjson": "jsonl", ".parquet": "parquet"}


@dataclass(frozen=True)
class InquiryRow:
    """One row. number: as a spreadsheet or an editor shows it. error: why it could not be read, "" if it could."""

    number: int
    values: Mapping[str, Any]
    error: str = ""


@dataclass
class InquiryList:
    """All rows of a file, and its columns in order."""

    columns: list[str] = field(default_factory=list)
    rows: list[InquiryRow] = field(default_factory=list)


def kind_of(path: Path) -> str:
    """csv, xlsx, jsonl or parquet, by the ending of the name.

    Raises:
        FileError: it is not one of them.
    """
    if path.suffix.lower() not in KINDS:
        raise FileError(f'"{path.name}" has no known ending.', f"Use one of: {', '.join(dict.fromkeys(KINDS))}.")
    return KINDS[path.suffix.lower()]


def read(path: Path) -> InquiryList:
    """Read a list by the ending of its name.

    Raises:
        FileError: the file cannot be read, or is not what its ending says.
    """
    found = InquiryList()
    found.rows = list(rows(path, found.columns))
    return found


def rows(path: Path, columns: list[str]) -> Iterator[InquiryRow]:
    """The rows of a list one after the other, however long it is.

    columns: filled while the rows are read and complete after the last one, because JSON Lines may have new ones anywhere.

    Raises:
        FileError: the file cannot be read, or is not what its ending says.
    """
    readers = {"csv": _csv, "xlsx": _xlsx, "jsonl": _json_lines, "parquet": _parquet}
    yield from readers[kind_of(path)](path, columns)
    if not columns:
        raise FileError(f'"{path}" has no rows with headings.', "Begin with a row of headings: part, serial, mark, saw.")


def fingerprint(path: Path) -> str:
    """SHA-256 of a file, to tell one list from another.

    Raises:
        FileError: it cannot be read.
    """
    with _opened(path) as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _opened(path: Path) -> BufferedReader:
    try:
        return path.open("rb")
    except OSError as error:
        raise FileError(f'"{path}" cannot be read: {error.strerror or error}.', "Check the name, and close it in other programs.") from error


def plain_text(cell: str) -> str:
    """A cell of a CSV file without the apostrophe that keeps a spreadsheet from taking it for a formula.

    >>> plain_text("'=1+1"), plain_text("'tis")
    ('=1+1', "'tis")
    """
    return cell[1:] if cell[:1] == "'" and cell[1:2] and cell[1] in FORMULA_SIGNS else cell


def _csv(path: Path, columns: list[str]) -> Iterator[InquiryRow]:
    table = csvtable.CsvTable()
    for number, cells in csvtable.rows(lambda: _opened(path), table):
        columns += [] if columns else _distinct(map(plain_text, table.header))
        yield from _broken(table, columns)
        yield InquiryRow(number, dict(zip(columns, map(plain_text, cells), strict=True)))
    if not (table.readable and table.complete):
        fault = table.faults[-1]
        raise FileError(f'"{path}"{f", row {fault.row}" if fault.row else ""}: {fault.problem}', fault.remedy)
    columns += [] if columns else _distinct(map(plain_text, table.header))
    yield from _broken(table, columns)


def _broken(table: csvtable.CsvTable, columns: list[str]) -> Iterator[InquiryRow]:
    """The rows that were left out since the last valid one."""
    for number, cells in table.left_out:
        faults = [fault for fault in table.faults if fault.row == number]
        said = " ".join(f"{fault.column + ': ' if fault.column else ''}{fault.problem} {fault.remedy}" for fault in faults)
        clean = [cell.encode("utf-8", "surrogateescape").decode("utf-8", "replace").replace("\0", "\ufffd") for cell in cells]
        yield InquiryRow(number, dict(zip(columns, map(plain_text, clean), strict=False)), said)
    table.left_out.clear()
    table.faults.clear()
    table.broken.clear()


def _xlsx(path: Path, columns: list[str]) -> Iterator[InquiryRow]:
    from loaders import sheets  # needed only for a workbook

    with sheets.opened(path, values=True) as book:
        lines = sheets.rows(book.worksheets[0])
        header: list[str] = []
        for _, cells in lines:
            header = [sheets.text(cell, number=True).shown for cell in cells]
            if any(header):
                break
        while header and not header[-1]:
            header.pop()
        columns += _distinct(header)
        for number, cells in lines:
            read = [sheets.text(cell, number=True) for cell in cells[: len(columns)]]
            if any(each.shown for each in read):
                wrong = [f"{name}: {' '.join(each.wrong)}" for name, each in zip(columns, read, strict=False) if each.wrong]
                values = {name: each.shown for name, each in zip(columns, read, strict=False)}
                yield InquiryRow(number, values, " ".join(wrong))


def _json_lines(path: Path, columns: list[str]) -> Iterator[InquiryRow]:
    known = set[str]()
    with _opened(path) as file:
        for number, line in enumerate((line for lines in file for line in lines.splitlines()), 1):
            if number == 1:
                line = line.removeprefix(codecs.BOM_UTF8)
            if not line.strip():
                continue
            try:
                values = json.loads(line.decode("utf-8"))
            except (ValueError, RecursionError) as error:
                yield InquiryRow(number, {}, f"The line is not JSON: {error}. Write one object a line.")
                continue
            if not isinstance(values, dict):
                yield InquiryRow(number, {}, 'The line is not an object. Write {"part": "6104", "serial": "104873"}.')
                continue
            columns += [name for name in values if name not in known]
            known.update(values)
            yield InquiryRow(number, values)


def _parquet(path: Path, columns: list[str]) -> Iterator[InquiryRow]:
    parquet, arrow = need_parquet()
    try:
        with _opened(path) as opened, parquet.ParquetFile(opened) as file:
            columns += file.schema_arrow.names
            number = 0
            for batch in file.iter_batches(_ROWS_AT_A_TIME, use_threads=False):
                for values in batch.to_pylist():
                    number += 1
                    yield InquiryRow(number, values)
    except (arrow.ArrowInvalid, OSError) as error:
        raise FileError(f'"{path}" is not Parquet ({error}).', "Write it anew with the program it came from.") from error


def need_parquet() -> tuple[Any, Any]:
    """The modules that read and write Parquet.

    Raises:
        FileError: they are not installed.
    """
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError as error:
        raise FileError("pyarrow is not installed.", "Install it with: pip install 'casting-kb[parquet]', or use CSV.") from error
    return parquet, pyarrow


def _distinct(names: Iterable[str]) -> list[str]:
    """Headings; those without a name, or with a repeated one, are numbered."""
    return list(_numbered(names))


def _numbered(names: Iterable[str]) -> Iterator[str]:
    seen: dict[str, int] = {}
    for at, name in enumerate(names, 1):
        name = name or f"column {at}"
        seen[name] = seen.get(name, 0) + 1
        yield name if seen[name] == 1 else f"{name} ({seen[name]})"
