"""Rejected rows of a list: written to a file of their own, with the reason, so that they can be corrected and imported again."""

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from kb.output import writing as output
from kb.output.kinds import answers
from kb.words.errors import Finding

REASONS = ("x_file", "x_row", "x_reason")
_KIND = answers(REASONS)


@dataclass(frozen=True)
class Rejected:
    """A row as it was in the list, and why it was rejected."""

    file: str
    row: int
    cells: Mapping[str, str]
    findings: tuple[Finding, ...]

    @property
    def reason(self) -> str:
        """In one line."""
        return " ".join(f"{f'{each.column}: ' if each.column else ''}{each.problem} {each.remedy}".strip() for each in self.findings)


def name_for(listing: Path) -> Path:
    """Where the rejects of a list are written: beside it.

    >>> name_for(Path("lists/2024 stock.xlsx")).as_posix()
    'lists/2024 stock.rejects.csv'
    """
    return listing.with_name(f"{listing.stem}.rejects.csv")


def may_be_written(path: Path) -> None:
    """Refuse a file that is something else, before anything is imported.

    Raises:
        FileError: it is no rejects file.
    """
    output.refuse(path, _KIND, force=None)


def write(path: Path, rejected: Sequence[Rejected]) -> None:
    """Write the rejects file: the columns of the list, then where each row was and why it was rejected. Without rejects an older file is removed.

    Raises:
        FileError: it cannot be written, or is something else than rejects.
    """
    may_be_written(path)
    if not rejected:
        path.unlink(missing_ok=True)
        return
    names = [name for name in dict.fromkeys(name for each in rejected for name in each.cells) if name not in REASONS]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([*names, *REASONS])
    for each in rejected:
        writer.writerow([*(each.cells.get(name, "") for name in names), each.file, each.row, each.reason])
    output.write(path, b"\xef\xbb\xbf" + out.getvalue().encode("utf-8", "replace"), _KIND, force=None)  # with the mark, spreadsheets read it as UTF-8
