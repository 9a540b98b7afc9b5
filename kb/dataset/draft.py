"""Changes on their way into a dataset folder: each row is checked, numbered, and put into the bytes of its file, or rejected with reasons."""

from collections.abc import Sequence
from pathlib import Path

from pydantic import ValidationError

from kb.dataset.changes import Change, Held, NewRow, Place, Refused
from kb.dataset.csvbytes import CsvBytes, new_file
from kb.dataset.ids import NUMBERED, NextIds
from kb.dataset.lock import digest
from kb.words.dataset import Dataset
from kb.words.errors import DataError, Finding
from kb.words.records import TABLES, Record
from kb.words.records.columns import columns
from kb.words.records.explain import explain


class Draft:
    """The changes still to be made (`alive`, by number), and why the others are not made (`rejected`)."""

    def __init__(self, folder: Path, before: Held | None, changes: Sequence[Change]) -> None:
        """Check every new row by itself and against the keys already taken."""
        self.folder = folder
        self.before = before
        self.dataset = before.dataset if before else Dataset()
        self.changes = list(changes)
        self.rejected: dict[int, tuple[Finding, ...]] = {}
        self.alive: list[int] = []
        self.read: dict[str, str] = {}  # digests of the files that the new bytes are made from
        self.unchanged = 0
        self._records: dict[int, Record] = {}
        self._ids: dict[str, NextIds] = {}
        self._held = {table: self._keys(table) for table in dict.fromkeys(change.table for change in changes)}
        self._at: dict[int, tuple[str, int]] = {}
        for number, change in enumerate(self.changes):
            if isinstance(change, NewRow):
                self._row(number, change)
            else:
                self.alive.append(number)
        self._leave_kin()

    def file_of(self, table: str) -> str:
        """The file that holds or will hold a table, as a path in the folder."""
        return (self.before.rows[table].files[0] if self.before else "") or f"{table}.csv"

    def files(self) -> dict[str, bytes]:
        """The new bytes of every file that changes, by table.

        Raises:
            Refused: a file is too damaged to be written to.
        """
        found = {}
        for table in dict.fromkeys(self.changes[number].table for number in self.alive):
            try:
                found[table] = self._file(table)
            except DataError as error:
                finding = Finding("error", self.file_of(table), 0, "", "", error.problem, error.remedy)
                raise Refused([finding]) from error
        return found

    def reject(self, errors: Sequence[Finding]) -> bool:
        """Assign each error to the change whose row it is in. False if one is elsewhere."""
        number_at = {place: number for number, place in self._at.items()}
        found: dict[int, list[Finding]] = {}
        for each in errors:
            number = number_at.get((each.file, each.row))
            if number is None:
                return False
            found.setdefault(number, []).append(_seen_from(each, self.changes[number]))
        self.rejected |= {number: tuple(each) for number, each in found.items()}
        self._leave_kin()
        return True

    def read_back(self, after: Held) -> tuple[Place, ...]:
        """Where every change is now, provided it is there exactly as intended.

        Raises:
            Refused: a row is missing or different: its file is damaged.
        """
        index_of = {table: {row.key_text: index for index, row in enumerate(getattr(after.dataset, table))} for table in self._held}
        places = []
        for number in self.alive:
            change = self.changes[number]
            key = self._records[number].key_text if isinstance(change, NewRow) else change.key
            index = index_of[change.table].get(key)
            if index is None or (isinstance(change, NewRow) and getattr(after.dataset, change.table)[index] != self._records[number]):
                problem = f'The row "{key}" cannot be read back as it was written.'
                remedy = "Mend the file first; kb check says what is wrong with it."
                raise Refused([Finding("error", self.file_of(change.table), 0, "", "", problem, remedy)])
            places.append(Place(change.table, key, *after.origin(change.table, index)))
        return tuple(places)

    def _keys(self, table: str) -> dict[str, int]:
        return {row.key_text: index for index, row in enumerate(getattr(self.dataset, table))}

    def _row(self, number: int, change: NewRow) -> None:
        table, held = change.table, self._held[change.table]
        name = TABLES[table].key[0]
        values = {column: text for column, text in change.values.items() if text}
        if name not in values and (table in NUMBERED or (change.file and name.endswith("_id") and len(TABLES[table].key) == 1)):
            if table not in self._ids:
                self._ids[table] = NextIds(table, list(held))
            values = {name: self._ids[table].next(held), **values}
        self.changes[number] = change = NewRow(table, values, change.file, change.row)
        file = change.file or self.file_of(table)
        try:
            record = TABLES[table].model_validate({column: text for column, text in values.items() if not column.startswith("x_")})
        except ValidationError as error:
            problems = explain(table, error)
            self.rejected[number] = tuple(Finding("error", file, change.row, p.column, p.value, p.problem, p.remedy) for p in problems)
            return
        key = record.key_text
        index = held.get(key)
        if index is None:
            held[key] = -1
            self._records[number] = record
            self.alive.append(number)
        elif index >= 0 and getattr(self.dataset, table)[index] == record:
            self.unchanged += 1
        else:
            where = f"row {self.before.origin(table, index)[1]} of {self.file_of(table)}" if self.before and index >= 0 else "another new row"
            remedy = "Give the row another key, or correct the row that is there."
            self.rejected[number] = (Finding("error", file, change.row, name, key, f'The key "{key}" is already that of {where}.', remedy),)

    def _leave_kin(self) -> None:
        """Everything that comes from one row of a list is done or left out together."""
        left = {(self.changes[number].file, self.changes[number].row) for number in self.rejected if self.changes[number].row}
        self.alive = [n for n in self.alive if n not in self.rejected and (self.changes[n].file, self.changes[n].row) not in left]

    def _file(self, table: str) -> bytes:
        file = self.file_of(table)
        mine = [number for number in self.alive if self.changes[number].table == table]
        rows: list[tuple[int, NewRow]] = [(n, change) for n in mine if isinstance(change := self.changes[n], NewRow)]
        path = self.folder / file
        if not path.exists():
            self.read[file] = digest(None)
            names = list(dict.fromkeys([*(column.name for column in columns(table)), *(name for _, change in rows for name in change.values)]))
            self._at |= {number: (file, 2 + at) for at, (number, _) in enumerate(rows)}
            return new_file(names, ([change.values.get(name, "") for name in names] for _, change in rows))
        data = path.read_bytes()
        self.read[file] = digest(data)
        held = CsvBytes(data)
        self._at |= {number: (file, held.next_row + at) for at, (number, _) in enumerate(rows)}
        cells = {}
        for number in mine:
            change = self.changes[number]
            if not isinstance(change, NewRow):
                row = self._row_of(table, change.key, held)
                self._at[number] = (file, row)
                cells[row, change.column] = change.value
        return held.edited([change.values for _, change in rows], cells)

    def _row_of(self, table: str, key: str, held: CsvBytes) -> int:
        index = self._held[table].get(key, -1)
        file, row = self.before.origin(table, index) if self.before and index >= 0 else ("", 0)
        if file and file != self.file_of(table):
            raise DataError(f'"{key}" stands in {file}, and only the first file of a table is changed here.', f"Change {file} by hand, row {row}.")
        if "/".join(held.cell(row, name) for name in TABLES[table].key) != key:
            raise DataError(f'No row has the key "{key}".', "kb check says what is wrong with the file.")
        return row


def _seen_from(each: Finding, change: Change) -> Finding:
    """A finding at the row of the list that the change comes from."""
    return Finding(each.severity, change.file, change.row, each.column, each.value, each.problem, each.remedy) if change.file else each
