"""A whole dataset as one workbook (XLSX), a sheet for each file: for those who would rather not see CSV.

Every cell is text, so that zeros in front, dates and long numbers stay what was typed. Headings are locked, explained in comments, and
ids can be picked from what exists. Coming back, a sheet that nobody touched changes nothing; a file that somebody else has changed meanwhile is
not written over; a row that is missing in the workbook is not deleted.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from kb.dataset.changes import Refused
from kb.dataset.csvbytes import CsvBytes, new_file
from kb.words.errors import FileError, Finding
from kb.words.records import TABLES
from kb.words.records.columns import columns
from loaders import csvtable, sheets
from loaders.folder import load
from loaders.rejects import Rejected

GUIDE = "read me"  # a sheet that is not data
NOTED = "kb "  # custom property of the workbook: "kb sightings" is digest and number of columns of the file when it was written


@dataclass
class Table:
    """The cells of one file or sheet: column names, and rows with their numbers."""

    names: list[str]
    rows: list[tuple[int, list[str]]] = field(default_factory=list)
    file: str = ""

    def note(self) -> str:
        """What a workbook remembers of the file."""
        return f"{self.digest()} {len(self.names)}"

    def digest(self) -> str:
        """The same for the same cells, whatever file or sheet they stand in."""
        plain = "\x1e".join("\x1f".join(map(_one_line_end, cells)) for cells in [self.names, *(self._filled(cells) for _, cells in self.rows)])
        return hashlib.sha256(plain.encode("utf-8", "surrogatepass")).hexdigest()[:20]

    def without_unused(self, old: Sequence[str]) -> "Table":
        """Without the columns that were offered and not used; those of the file stay."""
        keep = [at for at, name in enumerate(self.names) if name in old or any(cells[at] for _, cells in self.rows)]
        return Table([self.names[at] for at in keep], [(row, [cells[at] for at in keep]) for row, cells in self.rows])

    def keys(self, table: str) -> dict[str, int]:
        """Row numbers by key."""
        at = [self.names.index(name) for name in TABLES[table].key if name in self.names]
        return {"/".join(cells[each] for each in at): row for row, cells in self.rows}

    def _filled(self, cells: Sequence[str]) -> list[str]:
        return [*cells, *[""] * (len(self.names) - len(cells))]


@dataclass
class Book:
    """A workbook that was read."""

    file: str
    tables: dict[str, Table] = field(default_factory=dict)
    written: dict[str, tuple[str, int]] = field(default_factory=dict)  # digest and number of columns of the file, by table
    findings: list[Finding] = field(default_factory=list)
    rejected: list[Rejected] = field(default_factory=list)

    def sheet(self, table: str) -> str:
        """How findings name a sheet."""
        return f"{self.file}, sheet {table}"


def tables_of(folder: Path) -> dict[str, Table]:
    """The cells of every file of a folder; of an empty one nothing.

    Raises:
        FileError: a file cannot be read, or has rows that are no rows.
    """
    if not any(folder.glob("*.csv")) and not (folder / "datapackage.json").exists():
        return {}
    found = {}
    for table, rows in load([folder]).rows.items():
        if not rows.files[0]:
            continue
        read = csvtable.parse((folder / rows.files[0]).read_bytes())
        if not read.readable or not read.complete or read.left_out:
            raise FileError(f"{rows.files[0]} has rows that cannot be read.", "kb check says which; mend them first.")
        found[table] = Table(read.header, read.rows, rows.files[0])
    return found


def read(path: Path) -> Book:
    """Read a workbook. What is wrong with a cell is found at the cell.

    Raises:
        FileError: it cannot be read, or has no sheet of a dataset.
    """
    book = Book(path.name)
    with sheets.opened(path, values=False) as opened:
        book.written = _written(opened)
        for name in opened.sheetnames:
            if name == GUIDE:
                continue
            if name not in TABLES:
                remedy = f"Name it one of {', '.join(TABLES)}, or delete it."
                book.findings.append(Finding("error", book.sheet(name), 0, "", "", "No file of a dataset has this name.", remedy))
                continue
            _sheet(book, name, opened[name])
    if not book.tables:
        raise FileError(f'"{path}" has no sheet of a dataset.', "kb template -o book.xlsx writes a workbook with all of them.")
    return book


@dataclass
class Brought:
    """What a workbook changes in a folder: the new bytes of files by table, and how many rows of each are new or changed."""

    files: dict[str, bytes] = field(default_factory=dict)
    changed: dict[str, int] = field(default_factory=dict)
    _rows: dict[str, tuple[str, dict[int, int]]] = field(default_factory=dict)  # by file: sheet, row of the sheet by row of the file

    def seen_from(self, findings: Sequence[Finding]) -> list[Finding]:
        """Findings of the check, at the sheet and row that a row of a file comes from."""
        found = []
        for each in findings:
            sheet, rows = self._rows.get(each.file, (each.file, {}))
            found.append(Finding(each.severity, sheet, rows.get(each.row, each.row), each.column, each.value, each.problem, each.remedy))
        return found


def bring(book: Book, folder: Path) -> Brought:
    """What the workbook changes in a folder. Nothing is written.

    Raises:
        Refused: a cell is damaged, a row of the folder is missing in the workbook, or both have changed since the workbook was written.
    """
    if book.findings:
        raise Refused(book.findings)
    held = tables_of(folder)
    brought = Brought()
    wrong: list[Finding] = []
    for table, sheet in book.tables.items():
        old = held.get(table)
        base, width = book.written.get(table, ("", 0))
        new = sheet.without_unused(old.names if old else sheet.names[:width])
        if old is None and not new.rows and not base:
            continue
        if old is not None and new.digest() in (base, old.digest()):
            continue
        if old is not None and base and base != old.digest():
            problem = f"{old.file} has changed since the workbook was written, and so has the sheet."
            remedy = "Write a new workbook with kb template, and make your changes in that."
            wrong.append(Finding("error", book.sheet(table), 0, "", "", problem, remedy))
            continue
        if old is not None:
            for key in sorted(old.keys(table).keys() - new.keys(table).keys()):
                remedy = "Put it back. Rows are retracted, not deleted: kb retract, or a reason in the column retracted."
                wrong.append(Finding("error", book.sheet(table), 0, "", key, f"The row of {old.file} is not in the workbook.", remedy))
        data, fresh = _composed(folder, old, new)
        brought.files[table], brought.changed[table] = data, fresh
        first = CsvBytes(data).next_row - len(new.rows)
        file = old.file if old else f"{table}.csv"
        brought._rows[file] = book.sheet(table), {first + at: row for at, (row, _) in enumerate(new.rows)}
    if wrong:
        raise Refused(wrong)
    return brought


def _sheet(book: Book, table: str, sheet: Any) -> None:
    rows = sheets.rows(sheet)
    _, heading = next(rows, (0, ()))
    names = [str(cell.value).strip() if cell.value is not None else "" for cell in heading]
    while names and not names[-1]:
        names.pop()
    known = {column.name: column for column in columns(table)}
    wrong = [name for name in names if name not in known and not name.startswith("x_")] + [n for n in set(names) if names.count(n) > 1]
    for name in wrong:
        problem = f'The heading "{name}" is no column of {table}.csv, or is there twice.'
        book.findings.append(Finding("error", book.sheet(table), 1, name, name, problem, "Put the headings back as the workbook had them."))
    if wrong or not names:
        return
    found = Table(names)
    for row, cells in rows:
        read = [sheets.text(cell, number=name in known and known[name].kind in ("whole", "number")) for name, cell in zip(names, cells, strict=False)]
        texts = [each.shown for each in read] + [""] * (len(names) - len(read))
        if not any(texts):
            continue
        faults = [
            Finding("error", book.sheet(table), row, f"{name} (cell {cell.coordinate})", each.shown, *each.wrong)
            for name, cell, each in zip(names, cells, read, strict=False)
            if each.wrong
        ]
        book.findings += faults
        if faults:
            book.rejected.append(Rejected(book.sheet(table), row, dict(zip(names, texts, strict=True)), tuple(faults)))
        found.rows.append((row, texts))
    book.tables[table] = found


def _composed(folder: Path, old: Table | None, new: Table) -> tuple[bytes, int]:
    """The bytes of a file with the rows of a sheet, and how many of them are not in the file yet. Rows that are stay as they stand."""
    rows = [cells for _, cells in new.rows]
    if old is None:
        return new_file(new.names, rows), len(rows)
    as_they_are: dict[tuple[str, ...], list[str]] = {}
    if new.names[: len(old.names)] == old.names:
        added = [""] * (len(new.names) - len(old.names))
        as_they_are = {tuple(map(_one_line_end, [*cells, *added])): [*cells, *added] for _, cells in old.rows}
    found = [as_they_are.get(tuple(map(_one_line_end, cells))) for cells in rows]
    data = CsvBytes((folder / old.file).read_bytes()).composed(new.names, [cells or row for cells, row in zip(found, rows, strict=True)])
    return data, found.count(None)


def _written(opened: Any) -> dict[str, tuple[str, int]]:
    """What was noted of each file when the workbook was written: digest, and how many columns it had."""
    properties = opened.custom_doc_props
    noted = {name.removeprefix(NOTED): str(properties[name].value).split() for name in properties.names if name.startswith(NOTED)}
    return {table: (note[0], int(note[1])) for table, note in noted.items() if len(note) == 2 and note[1].isdigit()}


def _one_line_end(text: str) -> str:
    """Spreadsheets write one kind of line end inside a cell."""
    return text.replace("\r\n", "\n").replace("\r", "\n")
