"""Proving that a knowledge base file is whole: the seal, what SQLite says of itself, and the rows that the build counted."""

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path

from kb.store.book import Book
from kb.words.errors import FileError

_AT_ONCE = 1 << 22  # bytes


@dataclass(frozen=True)
class Verified:
    """A file that is whole. sha256: of the file, to be compared with a copy elsewhere; rows: of each table of the dataset."""

    path: Path
    sha256: str
    dataset_digest: str
    program_version: str
    public: bool
    rows: dict[str, int]


def verify_database(path: Path) -> Verified:
    """Look at every byte and every reference of a file.

    Raises:
        FileError: it is not a knowledge base of this format, it is damaged, or it does not hold what its build says it holds.
    """
    book = Book(path)
    try:
        rows: dict[str, int] = json.loads(book.info["rows"])
        problems = [str(row[0]) for row in book.rows("pragma integrity_check") if row[0] != "ok"]
        problems += [f"a row of {row[0]} refers to one of {row[2]} that is not there" for row in book.rows("pragma foreign_key_check")]
        for table, expected in rows.items():
            counted = book.rows(f'select count(*) as number from "{table}"')[0].number
            if counted != expected:
                problems.append(f"{table} has {counted} rows where the build stored {expected}")
        info = book.info
    finally:
        book.close()
    if problems:
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        raise FileError(f'"{path}" is not what was built: {problems[0]}{more}.', "Build it again, or copy it again from where it came.")
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while piece := file.read(_AT_ONCE):
            digest.update(piece)
    return Verified(path, digest.hexdigest(), info["dataset_digest"], info["program_version"], info["public"] == "yes", rows)
