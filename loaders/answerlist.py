"""Answers beside their inquiries: CSV, XLSX, JSON Lines or Parquet, the same bytes for the same answers.

Anything that begins with = + - or @ is written as text, never as a formula: in CSV with an apostrophe before it (OWASP, CSV Injection,
owasp.org/www-community/attacks/CSV_Injection), in XLSX as a text cell. The file is put in place once it is complete.
"""

import csv
import json
import os
import re
import shutil
import tempfile
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from kb.words.errors import FileError
from loaders.inquiries import FORMULA_SIGNS, kind_of, need_parquet

Row = Mapping[str, Any]
_LONGEST_CELL = 32767  # characters; ISO/IEC 29500 sets no limit, but spreadsheets accept no more
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
_WHEN = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)  # the earliest that a ZIP file can hold; with the real time the file would differ each time


def write(path: Path, columns: Sequence[str], rows: Iterable[Row], numbers: frozenset[str] = frozenset()) -> None:
    """Write rows under these columns. numbers: the columns that hold numbers or None; all others are text, and in JSON Lines whatever they are.

    Raises:
        FileError: the file cannot be written, or is of no known kind.
    """
    writers: dict[str, Callable[[Path, Sequence[str], Iterable[Row], frozenset[str]], None]] = {
        "csv": _csv, "xlsx": _xlsx, "jsonl": _json_lines, "parquet": _parquet,
    }  # fmt: skip
    writer = writers[kind_of(path)]
    try:
        handle, name = tempfile.mkstemp(".new", f".{path.name}.", path.parent)
        os.close(handle)
    except OSError as error:
        raise FileError(f'"{path}" cannot be written: {error.strerror or error}.', "Name a file in a folder of your own.") from error
    try:
        writer(Path(name), columns, rows, numbers)
        Path(name).chmod(0o666 & ~_umask())
        os.replace(name, path)
    except OSError as error:
        raise FileError(f'"{path}" cannot be written: {error.strerror or error}.', "Make room on the disk, or name another file.") from error
    finally:
        Path(name).unlink(missing_ok=True)


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


def _csv(path: Path, columns: Sequence[str], rows: Iterable[Row], numbers: frozenset[str]) -> None:
    with path.open("w", encoding="utf-8", newline="") as opened:
        writer = csv.writer(opened, lineterminator="\n")
        writer.writerow(map(harmless, columns))
        writer.writerows([harmless(as_text(row.get(name))) for name in columns] for row in rows)


def _json_lines(path: Path, columns: Sequence[str], rows: Iterable[Row], numbers: frozenset[str]) -> None:
    with path.open("w", encoding="utf-8", newline="") as opened:
        for row in rows:
            plain = {name: row[name] for name in columns if name in row}
            opened.write(json.dumps(plain, ensure_ascii=False, default=str) + "\n")


def _xlsx(path: Path, columns: Sequence[str], rows: Iterable[Row], numbers: frozenset[str]) -> None:
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
    book.save(path)
    _without_time(path)


def _without_time(path: Path) -> None:
    """A workbook without its time of creation."""
    plain = path.with_name(path.name + ".plain")
    with zipfile.ZipFile(path) as made, zipfile.ZipFile(plain, "w", zipfile.ZIP_DEFLATED) as kept:
        for name in made.namelist():
            about = zipfile.ZipInfo(name, _FIRST_DAY)
            about.compress_type = zipfile.ZIP_DEFLATED
            if name == "docProps/core.xml":
                kept.writestr(about, _WHEN.sub(rb"\g<1>1980-01-01T00:00:00Z", made.read(name)))
            else:
                about.file_size = made.getinfo(name).file_size
                with made.open(name) as source, kept.open(about, "w") as target:
                    shutil.copyfileobj(source, target, 1 << 20)
    plain.replace(path)


def _parquet(path: Path, columns: Sequence[str], rows: Iterable[Row], numbers: frozenset[str]) -> None:
    parquet, arrow = need_parquet()
    schema = arrow.schema([(name, arrow.float64() if name in numbers else arrow.string()) for name in columns])
    with parquet.ParquetWriter(path, schema) as writer:
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


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
