"""A list of inquiries, one a row: CSV (RFC 4180), XLSX (ISO/IEC 29500, first sheet), JSON Lines (jsonlines.org) or Parquet (parquet.apache.org).

All columns are kept as they are, and all rows: one that cannot be read stays in its place with its error.
"""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from kb.words.errors import FileError
from loaders import csvtable

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")  # what a spreadsheet takes for the beginning of a formula
KINDS = {".csv": "csv", ".tsv": "csv", ".txt": "csv", ".xlsx": "xlsx", ".jsonl": "jsonl", ".ndjson": "jsonl", ".parquet": "parquet"}


@dataclass(frozen=True)
class InquiryRow:
    """One row. number: as a spreadsheet or an editor shows it. error: why it could not be read, "" if it could."""

    number: int
    values: Mapping[str, Any]
    error: str = ""


@dataclass
class InquiryList:
    """All rows of a file, and its columns in order. data: the bytes, to tell one list from another."""

    columns: list[str] = field(default_factory=list)
    rows: list[InquiryRow] = field(default_factory=list)
    data: bytes = b""


def kind_of(path: Path) -> str:
    """csv, xlsx, jsonl or parquet, by the ending of the name.

    Raises:
        FileError: it is none of them.
    """
    if path.suffix.lower() not in KINDS:
        raise FileError(f'"{path.name}" has no known ending.', f"Use one of: {', '.join(dict.fromkeys(KINDS))}.")
    return KINDS[path.suffix.lower()]


def read(path: Path) -> InquiryList:
    """Read a list by the ending of its name.

    Raises:
        FileError: the file cannot be read, or is not what its ending says.
    """
    readers = {"csv": _csv, "xlsx": _xlsx, "jsonl": _json_lines, "parquet": _parquet}
    kind = kind_of(path)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise FileError(f'"{path}" cannot be read: {error.strerror or error}.', "Check the name, and close it in other programs.") from error
    found = readers[kind](path, data)
    if not found.columns:
        raise FileError(f'"{path}" has no rows with headings.', "Begin with a row of headings: part, serial, mark, saw.")
    found.data = data
    return found


def plain_text(cell: str) -> str:
    """A cell of a CSV file without the apostrophe that keeps a spreadsheet from taking it for a formula.

    >>> plain_text("'=1+1"), plain_text("'tis")
    ('=1+1', "'tis")
    """
    return cell[1:] if cell[:1] == "'" and cell[1:2] and cell[1] in FORMULA_SIGNS else cell


def _csv(path: Path, data: bytes) -> InquiryList:
    table = csvtable.parse(data)
    if not (table.readable and table.complete):
        fault = table.faults[-1]
        raise FileError(f'"{path}"{f", row {fault.row}" if fault.row else ""}: {fault.problem}', fault.remedy)
    columns = _distinct(plain_text(name) for name in table.header)
    faults: dict[int, list[csvtable.Fault]] = {}
    for fault in table.faults:
        faults.setdefault(fault.row, []).append(fault)
    rows = [InquiryRow(number, dict(zip(columns, map(plain_text, cells), strict=True))) for number, cells in table.rows]
    broken = [number for number in faults if number not in dict(table.rows) and number > 1]
    for number, cells in zip(broken, table.left_out, strict=False):
        said = " ".join(f"{fault.column + ': ' if fault.column else ''}{fault.problem} {fault.remedy}" for fault in faults[number])
        clean = [cell.encode("utf-8", "surrogateescape").decode("utf-8", "replace").replace("\0", "\ufffd") for cell in cells]
        rows.append(InquiryRow(number, dict(zip(columns, map(plain_text, clean), strict=False)), said))
    return InquiryList(columns, sorted(rows, key=lambda row: row.number))


def _xlsx(path: Path, data: bytes) -> InquiryList:
    from loaders import sheets  # only a workbook needs it

    with sheets.opened(path, values=True) as book:
        lines = sheets.rows(book.worksheets[0])
        header: list[str] = []
        for _, cells in lines:
            header = [sheets.text(cell, number=True).shown for cell in cells]
            if any(header):
                break
        while header and not header[-1]:
            header.pop()
        columns = _distinct(header)
        found = InquiryList(columns)
        for number, cells in lines:
            read = [sheets.text(cell, number=True) for cell in cells[: len(columns)]]
            if any(each.shown for each in read):
                wrong = [f"{name}: {' '.join(each.wrong)}" for name, each in zip(columns, read, strict=False) if each.wrong]
                values = {name: each.shown for name, each in zip(columns, read, strict=False)}
                found.rows.append(InquiryRow(number, values, " ".join(wrong)))
    return found


def _json_lines(path: Path, data: bytes) -> InquiryList:
    found = InquiryList()
    names: dict[str, None] = {}
    for number, line in enumerate(data.removeprefix(b"\xef\xbb\xbf").splitlines(), 1):
        if not line.strip():
            continue
        try:
            values = json.loads(line.decode("utf-8"))
        except (ValueError, RecursionError) as error:
            found.rows.append(InquiryRow(number, {}, f"The line is not JSON: {error}. Write one object a line."))
            continue
        if not isinstance(values, dict):
            found.rows.append(InquiryRow(number, {}, 'The line is not an object. Write {"part": "6104", "serial": "104873"}.'))
            continue
        names.update(dict.fromkeys(values))
        found.rows.append(InquiryRow(number, values))
    found.columns = list(names)
    return found


def _parquet(path: Path, data: bytes) -> InquiryList:
    parquet, arrow = need_parquet()
    try:
        table = parquet.read_table(arrow.BufferReader(data))
    except (arrow.ArrowInvalid, OSError) as error:
        raise FileError(f'"{path}" is not Parquet ({error}).', "Write it anew with the program it came from.") from error
    rows = [InquiryRow(number, row) for number, row in enumerate(table.to_pylist(), 1)]
    return InquiryList(list(table.column_names), rows)


def need_parquet() -> tuple[Any, Any]:
    """The modules that know Parquet.

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
    """Headings, those without a name or with one that was there numbered."""
    return list(_numbered(names))


def _numbered(names: Iterable[str]) -> Iterator[str]:
    seen: dict[str, int] = {}
    for at, name in enumerate(names, 1):
        name = name or f"column {at}"
        seen[name] = seen.get(name, 0) + 1
        yield name if seen[name] == 1 else f"{name} ({seen[name]})"
