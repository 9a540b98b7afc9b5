"""A whole dataset as one workbook (XLSX), with a sheet for each file, for people who would rather not see CSV.

Every cell is text, so that leading zeros, dates and long numbers stay as typed. Headings are locked and explained in comments, and
ids can be picked from those that exist. On import, only what was changed in the workbook is changed in the folder: what others have done
in the meantime stays, the order of the rows does not count, and a missing row is not deleted.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from kb.dataset.changes import Change, NewCell, NewRow, Refused
from kb.words.errors import FileError, Finding
from kb.words.records import TABLES
from kb.words.records.columns import columns
from loaders import csvtable, sheets
from loaders.folder import load
from loaders.rejects import Rejected

GUIDE = "read me"  # a sheet that is not data
NOTES = "kb notes"  # a hidden sheet: table, key and note of every row when the workbook was written


@dataclass
class Table:
    """The cells of one file or sheet: column names, and rows with their numbers."""

    names: list[str]
    rows: list[tuple[int, list[str]]] = field(default_factory=list)
    file: str = ""

    def by_key(self, table: str) -> dict[str, tuple[int, dict[str, str]]]:
        """Row number and filled cells, by key; the last of several rows with the same key."""
        key = TABLES[table].key
        found = {}
        for row, cells in self.rows:
            filled = {name: _one_line_end(cell) for name, cell in zip(self.names, cells, strict=False) if cell}
            found["/".join(filled.get(name, "") for name in key)] = row, filled
        return found

    def notes(self, table: str) -> dict[str, str]:
        """What a workbook remembers of each row, by key, to tell changed rows from unchanged ones."""
        return {key: note(filled) for key, (_, filled) in self.by_key(table).items()}


@dataclass
class Book:
    """A workbook that was read."""

    file: str
    tables: dict[str, Table] = field(default_factory=dict)
    notes: dict[str, dict[str, str]] = field(default_factory=dict)  # by table and key, of the rows as they were when it was written
    findings: list[Finding] = field(default_factory=list)
    rejected: list[Rejected] = field(default_factory=list)

    def sheet(self, table: str) -> str:
        """The name of a sheet in findings."""
        return f"{self.file}, sheet {table}"


def note(filled: Mapping[str, str]) -> str:
    """A short digest that is the same for the same filled cells."""
    plain = "\x1e".join(f"{name}\x1f{filled[name]}" for name in sorted(filled))
    return hashlib.sha256(plain.encode("utf-8", "surrogatepass")).hexdigest()[:12]


def tables_of(folder: Path) -> dict[str, Table]:
    """The cells of every file of a folder; none for an empty folder.

    Raises:
        FileError: a file cannot be read, or has malformed rows.
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
    """Read a workbook. What is wrong with a cell is reported at the cell.

    Raises:
        FileError: it cannot be read, or has no sheet of a dataset.
    """
    book = Book(path.name)
    with sheets.opened(path, values=False) as opened:
        for name in opened.sheetnames:
            if name == GUIDE:
                continue
            if name == NOTES:
                book.notes = _notes(opened[name])
                continue
            if name not in TABLES:
                remedy = f"Name it one of {', '.join(TABLES)}, or delete it."
                book.findings.append(Finding("error", book.sheet(name), 0, "", "", "No file of a dataset has this name.", remedy))
                continue
            _sheet(book, name, opened[name])
    if not book.tables:
        raise FileError(f'"{path}" has no sheet of a dataset.', "kb template -o book.xlsx writes a workbook with all of them.")
    return book


def changes(book: Book, folder: Path) -> list[Change]:
    """The rows and cells in which the workbook differs from a folder, if they were changed in the workbook.

    Raises:
        Refused: a cell is damaged, a row was deleted, or a row was changed in both since the workbook was written.
    """
    if book.findings:
        raise Refused(book.findings)
    held = tables_of(folder)
    found: list[Change] = []
    wrong: list[Finding] = []
    for table, sheet in book.tables.items():
        here = held[table].by_key(table) if table in held else {}
        file, notes, there = book.sheet(table), book.notes.get(table, {}), sheet.by_key(table)
        for key in [key for key in notes if key in here and key not in there]:
            remedy = "Put it back. Rows are retracted, not deleted: write the reason into the column retracted."
            wrong.append(Finding("error", file, 0, "", key, "A row that the dataset has is gone from the workbook.", remedy))
        for key, (row, filled) in there.items():
            noted = notes.get(key)
            if note(filled) == noted:
                continue
            if key not in here:
                found.append(NewRow(table, filled, file, row))
                continue
            old = here[key][1]
            if noted is not None and note(old) not in (noted, note(filled)):
                problem = f"The row was changed in {held[table].file}, row {here[key][0]}, too, since the workbook was written."
                wrong.append(Finding("error", file, row, "", key, problem, "Write a new workbook with kb template, and change the row in that."))
                continue
            changed = [name for name in sheet.names if name and filled.get(name, "") != old.get(name, "")]
            found += [NewCell(table, key, name, filled.get(name, ""), file, row) for name in changed]
    if wrong:
        raise Refused(wrong)
    return found


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
    found, keys = Table(names), dict[str, int]()
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
        key = "/".join(texts[names.index(each)] for each in TABLES[table].key if each in names)
        if (earlier := keys.setdefault(key, row)) != row:
            remedy = "Give one of the two another key, or delete it if both are the same."
            book.findings.append(Finding("error", book.sheet(table), row, "", key, f"The key is that of row {earlier}, too.", remedy))
        found.rows.append((row, texts))
    book.tables[table] = found


def _notes(sheet: Any) -> dict[str, dict[str, str]]:
    """What was recorded when the workbook was written."""
    found: dict[str, dict[str, str]] = {}
    for _, cells in sheets.rows(sheet):
        if len(cells) >= 3:
            table, key, noted = (str(cell.value or "") for cell in cells[:3])
            found.setdefault(table, {})[key] = noted
    return found


def _one_line_end(text: str) -> str:
    """Spreadsheets write one kind of line end inside a cell."""
    return text.replace("\r\n", "\n").replace("\r", "\n")
