"""A list that somebody else made: a supplier's price list, a form's answers. CSV, XLSX or JSON Lines, as rows of text under their own headings.

Formats: RFC 4180; ISO/IEC 29500 (XLSX), first sheet or the one named; JSON Lines, https://jsonlines.org, one object a line.
"""

import json
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from kb.dataset.changes import Change
from kb.words.errors import FileError, Finding
from loaders import csvtable, sheets
from loaders.rejects import Rejected


@dataclass
class Listing:
    """The rows of a list. What could not be read is in `rejected`, with the reasons in `findings`."""

    file: str
    header: list[str] = field(default_factory=list)
    rows: list[tuple[int, dict[str, str]]] = field(default_factory=list)
    rejected: list[Rejected] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def not_taken(self, changes: Sequence[Change], rejected: Mapping[int, tuple[Finding, ...]]) -> list[Rejected]:
        """Every rejected row, in the order of the list; `rejected` has the findings by the number of the change."""
        found: dict[int, list[Finding]] = {}
        for number, each in rejected.items():
            found.setdefault(changes[number].row, []).extend(each)
        rows = dict(self.rows)
        late = [Rejected(self.file, row, rows[row], tuple(each)) for row, each in found.items()]
        return sorted([*self.rejected, *late], key=lambda each: each.row)

    def find(self, row: int, column: str, value: str, problem: str, remedy: str) -> Finding:
        """Record an error at a cell of the list."""
        finding = Finding("error", self.file, row, column, value, problem, remedy)
        self.findings.append(finding)
        return finding


def read(path: Path, *, sheet: str | None = None, as_text: Collection[str] = ()) -> Listing:
    """Read a list by the ending of its name.

    as_text: headings under which a spreadsheet must hold text: a part number or serial typed as a number has lost its leading zeros.

    Raises:
        FileError: the file cannot be read, is of no known kind, or has no rows with headings.
    """
    kinds = {".csv": _csv, ".tsv": _csv, ".txt": _csv, ".jsonl": _json_lines, ".ndjson": _json_lines, ".json": _json_lines}
    listing = Listing(path.name)
    kind = path.suffix.lower()
    if kind == ".xlsx":
        _xlsx(path, sheet, as_text, listing)
    elif kind in kinds:
        try:
            data = path.read_bytes()
        except OSError as error:
            raise FileError(f'"{path}" cannot be read: {error.strerror}.', "Check the name, and close it in other programs.") from error
        kinds[kind](data, listing)
    else:
        raise FileError(f'"{path}" is no list this program reads.', "Save it as CSV (UTF-8), XLSX or JSON Lines.")
    return listing


def _csv(data: bytes, listing: Listing) -> None:
    table = csvtable.parse(data)
    for fault in table.faults:
        listing.find(fault.row, fault.column, fault.value, fault.problem, fault.remedy)
    if not (table.readable and table.complete):
        fault = table.faults[-1]
        raise FileError(f"{listing.file}{f', row {fault.row}' if fault.row else ''}: {fault.problem}", fault.remedy)
    _headings(table.header, listing)
    listing.rows = [(row, _named(listing.header, cells)) for row, cells in table.rows]
    for row, cells in table.left_out:
        found = tuple(each for each in listing.findings if each.row == row)
        listing.rejected.append(Rejected(listing.file, row, _named(listing.header, cells), found))


def _xlsx(path: Path, sheet: str | None, as_text: Collection[str], listing: Listing) -> None:
    with sheets.opened(path, values=True) as book:
        if sheet is not None and sheet not in book.sheetnames:
            raise FileError(f'"{path}" has no sheet "{sheet}".', f"It has: {', '.join(book.sheetnames)}.")
        rows = sheets.rows(book[sheet or book.sheetnames[0]])
        first = next(((row, cells) for row, cells in rows if any(cell.value not in (None, "") for cell in cells)), None)
        if first is None:
            raise FileError(f'"{path}" is empty.', "Its first row must hold the headings.")
        _headings(["" if cell.value is None else str(cell.value).strip() for cell in first[1]], listing)
        for row, cells in rows:
            read = [sheets.text(cell, number=name not in as_text) for name, cell in zip(listing.header, cells, strict=False)]
            named = _named(listing.header, [each.shown for each in read])
            if not any(named.values()):
                continue
            wrong = [
                listing.find(row, f"{name} (cell {cell.coordinate})", each.shown, *each.wrong)
                for name, cell, each in zip(listing.header, cells, read, strict=False)
                if each.wrong and name
            ]
            if wrong:
                listing.rejected.append(Rejected(listing.file, row, named, tuple(wrong)))
            else:
                listing.rows.append((row, named))


def _json_lines(data: bytes, listing: Listing) -> None:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileError(f"{listing.file} is not in UTF-8.", "Save it as UTF-8.") from error
    names: dict[str, None] = {}
    for row, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        try:
            cells = {str(name).strip(): _plain(value) for name, value in _object(line).items()}
        except ValueError as error:
            found = listing.find(row, "", "", f"Not a JSON object of plain values: {error}.", 'Write one object a line, as in {"serial": "104873"}.')
            listing.rejected.append(Rejected(listing.file, row, {"line": line.strip()}, (found,)))
            continue
        names |= dict.fromkeys(cells)
        listing.rows.append((row, cells))
    listing.header = list(names)
    if not listing.rows and not listing.rejected:
        raise FileError(f"{listing.file} is empty.", "It must hold one JSON object a line.")


def _object(line: str) -> dict[str, Any]:
    try:
        found = json.loads(line, parse_float=str, parse_constant=str)
    except RecursionError as error:
        raise ValueError("nested too deep") from error
    if not isinstance(found, dict):
        raise ValueError(f"it is {type(found).__name__}")
    return found


def _plain(value: Any) -> str:
    """A JSON value as a cell. Numbers stay as they are written."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list) and not any(isinstance(each, list | dict) for each in value):
        return ";".join(_plain(each) for each in value)
    if isinstance(value, list | dict):
        raise ValueError("a value inside a value")
    return "" if value is None else str(value).strip()


def _headings(header: list[str], listing: Listing) -> None:
    listing.header = header
    for name in _twice([each for each in header if each]):
        raise FileError(f'{listing.file} has two columns named "{name}".', "Rename one of them.")


def _twice(names: list[str]) -> Iterator[str]:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            yield name
        seen.add(name)


def _named(header: list[str], cells: list[str]) -> dict[str, str]:
    return {name: cell for name, cell in zip(header, cells, strict=False) if name}
