"""The dataset folder: CSV files become records, each with its file and row, and everything wrong with them is reported at once.

Several folders are layers: their rows add up, and a later row with the same key replaces the earlier one and is reported.
Rules across rows are left to `kb.dataset.rules`; the problems found there get their file and row here.
"""

import difflib
import json
from array import array
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from pydantic import ValidationError

from kb.dataset import pictures, rules
from kb.dataset.lock import finish
from kb.words.dataset import Dataset, many_rows
from kb.words.errors import DataError, FileError, Finding
from kb.words.records import TABLES, Record
from kb.words.records.columns import columns
from kb.words.records.explain import explain
from loaders.csvtable import CsvTable, parse


@dataclass(frozen=True)
class Replaced:
    """A row of an earlier layer that a later one replaced."""

    table: str
    key: str
    earlier: tuple[str, int]
    later: tuple[str, int]


@dataclass
class Rows:
    """The rows of one table as they come in: records, where each one is, and the x_ columns beside them."""

    records: list[Record] = field(default_factory=list)
    index_of: dict[str, int] = field(default_factory=dict)  # by key
    layer_of: list[int] = field(default_factory=list)
    files: list[str] = field(default_factory=list)  # by layer, the first one; "" where the layer has no such file
    names: list[str] = field(default_factory=list)  # all files, as they were read
    file_of: list[int] = field(default_factory=list)  # of every record, which of them
    row_of: "array[int]" = field(default_factory=lambda: array("q"))
    extras: dict[str, dict[int, str]] = field(default_factory=dict)  # x_ column -> index -> text
    wrong_keys: set[str] = field(default_factory=set)
    present: bool = False
    unsure: bool = False

    def origin(self, index: int | None) -> tuple[str, int]:
        """(file, row) of a record; row 0 for the table as a whole."""
        return (self.names[self.file_of[index]], self.row_of[index]) if index is not None else ("", 0)


@dataclass(frozen=True)
class Loaded:
    """A dataset, and where its rows came from. It is complete only if no finding is an error."""

    dataset: Dataset
    folders: tuple[Path, ...]
    findings: tuple[Finding, ...]
    counts: dict[str, int]  # rows by file
    replaced: tuple[Replaced, ...]
    extras: dict[str, dict[str, dict[int, str]]]  # table -> x_ column -> index of the row -> text
    pictures: dict[str, Path]  # file by picture_id
    problems: tuple[rules.RowProblem, ...]  # those of `findings` that rules across rows found
    rows: dict[str, Rows] = field(repr=False)

    @property
    def wrong(self) -> bool:
        """Whether an error is among the findings."""
        return any(finding.severity == "error" for finding in self.findings)

    def origin(self, table: str, index: int) -> tuple[str, int]:
        """(file, row) of a row of the dataset."""
        return self.rows[table].origin(index)


def load(folders: Sequence[Path | str]) -> Loaded:
    """Read one folder, or several as layers, and check every row and all rows against each other.

    Raises:
        FileError: a folder does not exist or holds no file of a dataset, or a change that was interrupted cannot be brought to its end.
    """
    paths = tuple(Path(folder) for folder in folders)
    reading = _Reading(paths)
    with many_rows():
        for layer, folder in enumerate(paths):
            finish(folder)
            reading.add(layer, folder)
        return reading.finish()


class _Reading:
    """The work of one `load`."""

    def __init__(self, folders: tuple[Path, ...]) -> None:
        self.folders = folders
        self.rows = {table: Rows(files=[""] * len(folders)) for table in TABLES}
        self.findings: list[Finding] = []
        self.counts: dict[str, int] = {}
        self.replaced: list[Replaced] = []
        self.series_in_doubt: set[str] = set()

    def add(self, layer: int, folder: Path) -> None:
        """Read all files of one folder."""
        files = self._files(layer, folder)
        for table, paths in files.items():
            for path in paths:
                self._file(layer, table, path, self._shown(layer, path.relative_to(folder).as_posix()))

    def finish(self) -> Loaded:
        """Check the rows against each other and gather everything."""
        dataset = Dataset.of({table: rows.records for table, rows in self.rows.items()})
        known = rules.Known(
            keys={table: rows.wrong_keys for table, rows in self.rows.items() if rows.wrong_keys},
            absent=frozenset(table for table, rows in self.rows.items() if not rows.present),
            unsure=frozenset(table for table, rows in self.rows.items() if rows.unsure),
            series_in_doubt=frozenset(self.series_in_doubt),
        )
        problems = tuple(rules.check(dataset, known))
        for each in problems:
            self._rule(dataset, each)
        files = self._pictures(dataset)
        place = {file: number for number, file in enumerate(self.counts)}
        self.findings.sort(key=lambda finding: (place.get(finding.file, len(place)), finding.row))
        extras = {table: rows.extras for table, rows in self.rows.items() if rows.extras}
        return Loaded(dataset, self.folders, tuple(self.findings), self.counts, tuple(self.replaced), extras, files, problems, self.rows)

    def _rule(self, dataset: Dataset, each: rules.RowProblem) -> None:
        file, row = self.rows[each.table].origin(each.index)
        value = ""
        if each.index is not None and each.column:
            value = _shown(getattr(getattr(dataset, each.table)[each.index], each.column))
        self.findings.append(Finding(each.severity, file or f"{each.table}.csv", row, each.column, value, each.problem, each.remedy))

    def _pictures(self, dataset: Dataset) -> dict[str, Path]:
        """The file of every picture, after checking it."""
        files = {}
        for index, picture in enumerate(dataset.pictures):
            folder = self.folders[self.rows["pictures"].layer_of[index]]
            path = folder / "pictures" / picture.file.replace("\\", "/").removeprefix("pictures/")
            try:
                if not path.resolve().is_relative_to(folder.resolve()):
                    raise DataError("The file is a link that leads out of the folder.", "Copy the picture itself to pictures/.")
                if not path.is_file():
                    raise DataError("There is no such file.", "Copy it to the folder pictures/, or correct the name; capitals count.")
                pictures.clean_file(path)
            except OSError as error:
                self._picture(index, picture.file, f"The file cannot be read ({error.strerror}).", "Check its permissions.")
            except DataError as error:
                self._picture(index, picture.file, error.problem, error.remedy)
            else:
                files[picture.picture_id] = path
        return files

    def _picture(self, index: int, file: str, problem: str, remedy: str) -> None:
        shown, row = self.rows["pictures"].origin(index)
        self._error(shown, row, "file", file, problem, remedy)

    # Files

    def _shown(self, layer: int, name: str) -> str:
        """The name of a file as findings show it: with its folder if there are several."""
        if len(self.folders) == 1:
            return name
        folder = self.folders[layer]
        alike = sum(other.name == folder.name for other in self.folders) > 1
        return f"{folder.as_posix() if alike else folder.name}/{name}"

    def _files(self, layer: int, folder: Path) -> dict[str, list[Path]]:
        """The files of a folder by table, in the order of the tables; a file that does not belong to a dataset is a finding."""
        if not folder.is_dir():
            what = "is a file, not a folder" if folder.exists() else "does not exist"
            raise FileError(f'"{folder}" {what}.', "Name the folder that holds the CSV files; kb template writes an empty one.")
        named = self._named_by_package(layer, folder)
        taken = {path for paths in named.values() for path in paths}
        files: dict[str, list[Path]] = {}
        for table in TABLES:
            usual = folder / f"{table}.csv"
            files[table] = named.get(table) or ([usual] if usual.is_file() and usual not in taken else [])
        known = {path for paths in files.values() for path in paths}
        for path in sorted(folder.iterdir()):
            if path.suffix.lower() == ".csv" and path not in known and not path.name.startswith((".", "~")):
                self._unknown_file(self._shown(layer, path.name), path.stem)
        if not known and not self.findings:
            raise FileError(f'"{folder}" holds no file of a dataset.', f"Its files are named {', '.join(list(TABLES)[:4])} ... .csv.")
        return files

    def _unknown_file(self, shown: str, stem: str) -> None:
        near = difflib.get_close_matches(stem.lower(), list(TABLES), n=1, cutoff=0.6)
        remedy = f"Rename it to {near[0]}.csv, or " if near else "Rename it to one of the files of a dataset, or "
        self._error(shown, 0, "", "", "No file of a dataset has this name.", remedy + "move it out of the folder.")

    def _named_by_package(self, layer: int, folder: Path) -> dict[str, list[Path]]:
        """The files that datapackage.json names, by table."""
        package = folder / "datapackage.json"
        if not package.is_file():
            return {}
        shown = self._shown(layer, package.name)
        remedy = "Correct it, or delete it: without it the usual file names are taken. kb template writes a right one."
        try:
            resources = json.loads(package.read_text("utf-8-sig"))["resources"]
            pairs = [(str(each["name"]), each["path"]) for each in resources]
        except (OSError, ValueError, KeyError, TypeError) as error:
            self._error(shown, 0, "", "", f"Not a data package ({type(error).__name__}: {error}).", remedy)
            return {}
        named: dict[str, list[Path]] = {}
        for name, path in pairs:
            for each in path if isinstance(path, list) else [path]:
                inside = isinstance(each, str) and not PurePosixPath(each).is_absolute() and ".." not in PurePosixPath(each).parts
                if name not in TABLES:
                    self._error(shown, 0, "resources", name, "No table of a dataset has this name.", remedy)
                elif not inside:
                    self._error(shown, 0, "resources", str(each), "The path leads out of the folder.", remedy)
                elif (folder / each).is_file():
                    named.setdefault(name, []).append(folder / each)
        return named

    # Rows

    def _file(self, layer: int, table: str, path: Path, shown: str) -> None:
        rows = self.rows[table]
        rows.present = True
        rows.files[layer] = rows.files[layer] or shown
        rows.names.append(shown)
        self.counts[shown] = 0
        try:
            read = parse(path.read_bytes())
        except OSError as error:
            rows.unsure = True
            self._error(shown, 0, "", "", f"The file cannot be read ({error.strerror}).", "Close it in other programs and check its permissions.")
            return
        for fault in read.faults:
            self._error(shown, fault.row, fault.column, fault.value, fault.problem, fault.remedy)
        if not (read.readable and read.complete):
            rows.unsure = True
        if not read.readable:
            return
        names, missing = self._header(table, read, shown)
        self._records(layer, table, read, names, missing, shown)

    def _header(self, table: str, read: CsvTable, shown: str) -> tuple[list[str | None], set[str]]:
        """What each column is (None: not used), and which required ones are missing. A misspelt column is treated as what it was meant to be."""
        known = {column.name: column for column in columns(table)}
        missing = {name for name, column in known.items() if column.required and name not in read.header}
        names: list[str | None] = []
        seen: set[str] = set()
        for name in read.header:
            if name.casefold() in seen:
                self._error(shown, 1, name, name, "The column is there twice.", "Delete or rename one of the two.")
                names.append(None)
            elif name in known or (name.startswith("x_") and len(name) > 2):
                names.append(name)
            else:
                free = [each for each in known if each not in read.header]
                near = next(iter(difflib.get_close_matches(name.casefold().replace(" ", "_"), free, n=1, cutoff=0.6)), None)
                hint = f'Rename it to "{near}"' if near else f"Use one of {', '.join(free) or ', '.join(known)}"
                problem = "Unknown column." if name else "A column without a name."
                self._error(shown, 1, name, name, problem, f"{hint}, or begin its name with x_ to keep a column of your own.")
                names.append(near if near not in seen else None)
                missing.discard(near or "")
            seen.add((names[-1] or name).casefold())
        for name in known:
            if name in missing:
                self._error(shown, 1, name, "", f'The column "{name}" is missing.', f"Add it. {known[name].description}")
        if missing & set(TABLES[table].key):
            self.rows[table].unsure = True
        return names, missing

    def _records(self, layer: int, table: str, read: CsvTable, names: list[str | None], missing: set[str], shown: str) -> None:
        """Validate all rows; keep the valid ones and report the others."""
        rows, record = self.rows[table], TABLES[table]
        validate = record.__pydantic_validator__.validate_python
        kept = [(at, name) for at, name in enumerate(names) if name and not name.startswith("x_")]
        own = [(at, name) for at, name in enumerate(names) if name and name.startswith("x_")]
        for _, name in own:
            rows.extras.setdefault(name, {})
        plain = [name for _, name in kept] if len(kept) == len(names) else None
        single = record.key[0] if len(record.key) == 1 else None
        records, index_of, layer_of, row_of, file_of = rows.records, rows.index_of, rows.layer_of, rows.row_of, rows.file_of
        number = len(rows.names) - 1
        self.counts[shown] = len(read.rows)
        for row, cells in read.rows:
            if plain:
                filled = {name: cell for name, cell in zip(plain, cells, strict=True) if cell}
            else:
                filled = {name: cell for at, name in kept if (cell := cells[at])}
            try:
                new = validate(filled)
            except ValidationError as error:
                self._wrong_row(table, filled, row, missing, shown, error)
                continue
            key = getattr(new, single) if single else new.key_text
            index = index_of.setdefault(key, len(records))
            if index == len(records):
                records.append(new)
                layer_of.append(layer)
                row_of.append(row)
                file_of.append(number)
            elif layer_of[index] == layer:
                file, first = rows.origin(index)
                where = f"row {first}" if file == shown else f"{file}, row {first}"
                problem = f'The key "{key}" is already that of {where}.'
                if records[index] == new:
                    problem = f"The same row is there twice: all of it stands in {where}, too."
                self._error(shown, row, record.key[0], getattr(new, record.key[0]), problem, "Give the row another key, or delete one of the two.")
                continue
            else:
                self._replace(rows, table, index, new, layer, row)
            for at, name in own:
                if cells[at]:
                    rows.extras[name][index] = cells[at]
        for _, cells in read.left_out:
            filled = {name: cell for name, cell in zip(names, cells, strict=False) if name and cell}
            self._remember_key(table, filled)

    def _replace(self, rows: Rows, table: str, index: int, new: Record, layer: int, row: int) -> None:
        """A row of an earlier layer makes way, with its x_ columns."""
        earlier = rows.origin(index)
        rows.records[index], rows.layer_of[index], rows.row_of[index], rows.file_of[index] = new, layer, row, len(rows.names) - 1
        for texts in rows.extras.values():
            texts.pop(index, None)
        later = rows.origin(index)
        self.replaced.append(Replaced(table, new.key_text, earlier, later))
        problem = f"Replaces the row with the same key in {earlier[0]}, row {earlier[1]}."
        remedy = "Nothing to do if that is meant; else give the row another key."
        name = new.key[0]
        self.findings.append(Finding("doubt", later[0], row, name, getattr(new, name), problem, remedy))

    def _wrong_row(self, table: str, filled: dict[str, Any], row: int, missing: set[str], shown: str, error: ValidationError) -> None:
        self._remember_key(table, filled)
        for each in explain(table, error):
            if each.column not in missing:
                self._error(shown, row, each.column, each.value, each.problem, each.remedy)

    def _remember_key(self, table: str, filled: dict[str, Any]) -> None:
        """The key of a row that is not used, so that rows that refer to it, or to serials it would hold, are not reported too."""
        if table in ("blocks", "affixes"):
            self.series_in_doubt.add(filled.get("series_id", ""))
        self.rows[table].wrong_keys.add("/".join(filled.get(name, "") for name in TABLES[table].key))

    def _error(self, file: str, row: int, column: str, value: str, problem: str, remedy: str) -> None:
        self.findings.append(Finding("error", file, row, column, value, problem, remedy))


def _shown(value: object) -> str:
    """A value as it was in its cell."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Iterable) and not isinstance(value, str):
        return ";".join(str(each) for each in value)
    return "" if value is None else str(value)
