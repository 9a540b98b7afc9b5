"""A whole dataset as one workbook (XLSX), with a sheet for each file, for people who would rather not see CSV.

Every cell is text, so that leading zeros, dates and long numbers stay as typed. Headings are locked and explained in comments, and
ids can be picked from those that exist. On import, only what was changed in the workbook is changed in the folder: what others have done
in the meantime stays, the order of the rows does not count, and a missing row is not deleted.
"""

import hashlib
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from kb.dataset.changes import Change, NewCell, NewRow, Refused
from kb.dataset.ids import NUMBERED, NextIds
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
            if len(key) > 1 or filled.get(key[0]):
                found["/".join(filled.get(name, "") for name in key)] = row, filled
        return found

    def without_key(self, table: str) -> list[tuple[int, dict[str, str]]]:
        """Row number and filled cells of rows that have no id yet; where several columns are the key, none."""
        key = TABLES[table].key
        filled = [(row, {n: _one_line_end(cell) for n, cell in zip(self.names, cells, strict=False) if cell}) for row, cells in self.rows]
        return [(row, cells) for row, cells in filled if len(key) == 1 and key[0] not in cells]

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
    return _Merge(book, tables_of(folder)).changes()


class _Merge:
    """A workbook, the folder as it was when the workbook was written (by its notes), and the folder as it is."""

    def __init__(self, book: Book, held: Mapping[str, Table]) -> None:
        self.book, self.held = book, held
        self.here = {table: held[table].by_key(table) if table in held else {} for table in book.tables}
        self.wrong: list[Finding] = []
        self.renamed: dict[str, dict[str, str]] = {}  # table -> id as typed -> id given instead

    def changes(self) -> list[Change]:
        """Rows and cells to be changed in the folder.

        Raises:
            Refused: a row is gone from the workbook, or stands otherwise in both.
        """
        found: list[Change] = []
        new = {table: self._new_rows(table, self.book.tables[table]) for table in TABLES if table in self.book.tables}
        for table, sheet in self.book.tables.items():
            found += self._changed(table, sheet)
            found += [NewRow(table, self._referring(table, filled), self.book.sheet(table), row) for row, filled in new[table]]
        if self.wrong:
            raise Refused(self.wrong)
        return found

    def _new_rows(self, table: str, sheet: Table) -> list[tuple[int, dict[str, str]]]:
        """Rows that were typed into the workbook. One whose id somebody else has used meanwhile gets another id; both stay."""
        here, notes, file = self.here[table], self.book.notes.get(table, {}), self.book.sheet(table)
        there_already = Counter(_content(table, filled) for key, (_, filled) in here.items() if key not in notes)
        typed = sheet.by_key(table)
        given = NextIds(table, list(here)) if table in NUMBERED else None
        found: list[tuple[int, dict[str, str]]] = []
        rows = [place for key, place in typed.items() if key not in notes] + sheet.without_key(table)
        for row, filled in rows:
            filled = self._referring(table, filled)
            key = "/".join(filled.get(name, "") for name in TABLES[table].key)
            if key and key not in here:
                found.append((row, filled))
                continue
            if there_already[_content(table, filled)] > 0:  # brought before, under another id
                there_already[_content(table, filled)] -= 1
            elif not key:
                found.append((row, filled))
            elif given is not None:
                instead = given.next({*here, *typed, *self.renamed.get(table, {}).values()})
                self.renamed.setdefault(table, {})[key] = instead
                found.append((row, {**filled, TABLES[table].key[0]: instead}))
            else:
                both = self._both(here[key][1], filled)
                problem = f"{self._place(table, key)} has this key, too, and is new since the workbook was written. {both}"
                self.wrong.append(Finding("error", file, row, "", key, problem, "Give one of the two another id, or make them alike."))
        return found

    def _changed(self, table: str, sheet: Table) -> Iterator[NewCell]:
        """Cells that were changed in the workbook, of rows that it was written with."""
        here, notes, file = self.here[table], self.book.notes.get(table, {}), self.book.sheet(table)
        there = sheet.by_key(table)
        for key in [key for key in notes if key in here and key not in there]:
            remedy = "Put it back. Rows are retracted, not deleted: write the reason into the column retracted."
            self.wrong.append(Finding("error", file, 0, "", key, "A row that the dataset has is gone from the workbook.", remedy))
        for key, (row, filled) in there.items():
            noted = notes.get(key)
            if noted is None or note(filled) == noted:
                continue
            if key not in here:
                problem = "The row was changed here, and is gone from the dataset since the workbook was written."
                remedy = "Write a new workbook with kb template; give the row another id if it is new."
                self.wrong.append(Finding("error", file, row, "", key, problem, remedy))
                continue
            old = here[key][1]
            if note(old) not in (noted, note(filled)):
                problem = f"The row was changed in {self._place(table, key)}, too, since the workbook was written. {self._both(old, filled)}"
                self.wrong.append(Finding("error", file, row, "", key, problem, "Write a new workbook with kb template, and change the row in that."))
                continue
            for name in sheet.names:
                if name and filled.get(name, "") != old.get(name, ""):
                    yield NewCell(table, key, name, self._referring(table, filled).get(name, ""), file, row)

    def _referring(self, table: str, filled: dict[str, str]) -> dict[str, str]:
        """The cells of a row, those that name a row of this workbook by its new id."""
        if not self.renamed:
            return filled
        found = dict(filled)
        for column in columns(table):
            if (ids := self.renamed.get(column.points_at or "")) and column.name in found:
                found[column.name] = ";".join(ids.get(each.strip(), each) for each in found[column.name].split(";"))
        return found

    def _place(self, table: str, key: str) -> str:
        return f"{self.held[table].file}, row {self.here[table][key][0]},".rstrip(",")

    def _both(self, old: Mapping[str, str], new: Mapping[str, str]) -> str:
        """Both versions of a row, where they differ."""
        names = [name for name in {**old, **new} if old.get(name, "") != new.get(name, "")]
        return "; ".join(f'{name}: "{old.get(name, "")}" there, "{new.get(name, "")}" here' for name in names) + "."


def _content(table: str, filled: Mapping[str, str]) -> str:
    """A row by all that it says but its own id."""
    return note({name: cell for name, cell in filled.items() if name not in TABLES[table].key})


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
        if key.strip("/") and (earlier := keys.setdefault(key, row)) != row:
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
