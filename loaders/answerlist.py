"""Answers beside their inquiries: CSV, XLSX, JSON Lines or Parquet, the same bytes for the same answers.

Anything that begins with = + - or @ is written as text, never as a formula: in CSV with an apostrophe before it (OWASP, CSV Injection,
owasp.org/www-community/attacks/CSV_Injection), in XLSX as a text cell. The file is put in place once it is complete.
"""

import csv
import io
import json
import re
import shutil
import tempfile
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import IO, Any, BinaryIO

from kb.output.kinds import Kind
from kb.output.writing import beside
from loaders.inquiries import FORMULA_SIGNS, kind_of, need_parquet

Row = Mapping[str, Any]
_LONGEST_CELL = 32767  # characters; ISO/IEC 29500 sets no limit, but spreadsheets accept no more
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
_WHEN = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)  # the earliest that a ZIP file can hold; with the real time the file would differ each time


def write(path: Path, columns: Sequence[str], rows: Iterable[Row], numbers: frozenset[str], kind: Kind, *, force: bool = False) -> None:
    """Write rows under these columns. numbers: the columns that hold numbers or None; all others are text, and in JSON Lines whatever they are.

    kind: of the older answer that may be replaced.

    Raises:
        FileError: the file cannot be written, is of no known kind, or something else stands there.
    """
    writers: dict[str, Callable[[BinaryIO, Sequence[str], Iterable[Row], frozenset[str]], None]] = {
        "csv": _csv, "xlsx": _xlsx, "jsonl": _json_lines, "parquet": _parquet,
    }  # fmt: skip
    writer = writers[kind_of(path)]
    with beside(path, kind, force=force) as file:
        writer(file, columns, rows, numbers)


def as_text(value: Any) -> str:
    """A value in a cell: numbers short, lists and objects as JSON."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.12g}"
    return json.dumps(value, ensure_ascii=False) if isinstance(value, dict | list) else str(value)


def harmless(cell: str) -> str:
    """A cell of a CSV file that no spreadsheet mistakes for a formula.

    >>> harmless("=1+1"), harmless("@x"), harmless("6104-2")
    ("'=1+1", "'@x", '6104-2')
    """
    return f"'{cell}" if cell.startswith(FORMULA_SIGNS) else cell


def _csv(file: BinaryIO, columns: Sequence[str], rows: Iterable[Row], numbers: frozenset[str]) -> None:
    text = io.TextIOWrapper(file, encoding="utf-8", newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(map(harmless, columns))
    writer.writerows([harmless(as_text(row.get(name))) for name in columns] for row in rows)
    text.detach()


def _json_lines(file: BinaryIO, columns: Sequence[str], rows: Iterable[Row], numbers: frozenset[str]) -> None:
    for row in rows:
        plain = {name: row[name] for name in columns if name in row}
        file.write((json.dumps(plain, ensure_ascii=False, default=str) + "\n").encode())


def _xlsx(file: BinaryIO, columns: Sequence[str], rows: Iterable[Row], numbers: frozenset[str]) -> None:
    from openpyxl import Workbook  # needed only for a workbook
    from openpyxl.cell import WriteOnlyCell

    book = Workbook(write_only=True)
    sheet = book.create_sheet("answers")
    sheet.freeze_panes = "A2"

    def cell(value: Any, is_number: bool) -> Any:
        if is_number and isinstance(value, int | float):
            return value
        text = _CONTROL.sub("\ufffd", as_text(value))[:_LONGEST_CELL]
        made = WriteOnlyCell(sheet, text)
        made.data_type = "s"
        made.number_format = "@"
        made.quotePrefix = text.startswith(FORMULA_SIGNS)  # stays text when somebody edits the cell
        return made

    sheet.append([cell(name, False) for name in columns])
    for row in rows:
        sheet.append([cell(row.get(name), name in numbers) for name in columns])
    with tempfile.TemporaryFile() as made:
        book.save(made)
        _without_time(made, file)


def _without_time(saved: IO[bytes], file: BinaryIO) -> None:
    """A workbook without its time of creation."""
    with zipfile.ZipFile(saved) as made, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as kept:
        for name in made.namelist():
            about = zipfile.ZipInfo(name, _FIRST_DAY)
            about.compress_type = zipfile.ZIP_DEFLATED
            if name == "docProps/core.xml":
                kept.writestr(about, _WHEN.sub(rb"\g<1>1980-01-01T00:00:00Z", made.read(name)))
            else:
                about.file_size = made.getinfo(name).file_size
                with made.open(name) as source, kept.open(about, "w") as target:
                    shutil.copyfileobj(source, target, 1 << 20)


def _parquet(file: BinaryIO, columns: Sequence[str], rows: Iterable[Row], numbers: frozenset[str]) -> None:
    parquet, arrow = need_parquet()
    schema = arrow.schema([(name, arrow.float64() if name in numbers else arrow.string()) for name in columns])
    with parquet.ParquetWriter(file, schema) as writer:
        for batch in _batches(rows):
            values = {
                name: [row.get(name) if name in numbers else as_text(row.get(name)) for row in batch] for name in columns
            }
            writer.write_table(arrow.table(values, schema=schema))


def _batches(rows: Iterable[Row], size: int = 10_000) -> Iterator[list[Row]]:
    batch: list[Row] = []
    for row in rows:
        batch.append(row)
        if len(batch) == size:
            yield batch
            batch = []
    if batch:
        yield batch
