"""The kinds of files that the program writes, each told by its content: what an older answer of the same kind looks like.

A name tells nothing: `stock.csv` may be last week's answer or the only list of what is on the shelves.
"""

import csv
import io
import json
import mmap
from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

_BEGINNING = 1 << 20
_END = 1 << 16
_BOM = "\ufeff"
# The names of a dataset's files, without the record models, which are slow to import; a test holds them against `kb.words.records.TABLES`.
TABLE_NAMES = frozenset((
    "sources", "makers", "models", "series", "affixes", "blocks", "block_models", "components", "variants", "options", "marks", "features",
    "feature_values", "breakpoints", "sightings", "parts", "dimensions", "contents", "fitments", "fitment_conditions", "supersessions",
    "date_codes", "procedures", "steps", "step_parts", "pictures", "readings", "offers", "outcomes",
))  # fmt: skip


@dataclass(frozen=True)
class Kind:
    """A kind of file. name: with its article, as messages say it. example: a file name. recognises: looks into an opened file."""

    name: str
    example: str
    recognises: Callable[[BinaryIO], bool]


def names_a_table(path: Path) -> bool:
    """Whether a file holds a table of a dataset: it is called so (`parts.csv`) and has its key, or datapackage.json names it; or is that itself."""
    if path.suffix.lower() == ".csv" and path.stem.lower() in TABLE_NAMES and path.is_file():
        from kb.words.records import TABLES  # slow to import, and seldom needed

        with path.open("rb") as file:
            if set(TABLES[path.stem.lower()].key) <= _headings(file.read(_BEGINNING)):
                return True
    return any(_packaged(folder, path) for folder in list(path.absolute().parents)[:3])


def _packaged(folder: Path, path: Path) -> bool:
    package = folder / "datapackage.json"
    try:
        if package.samefile(path):
            return True
        resources = json.loads(package.read_text("utf-8-sig"))["resources"]
        paths = [p for each in resources for p in (each["path"] if isinstance(each["path"], list) else [each["path"]])]
        return any(isinstance(each, str) and (folder / each).is_file() and (folder / each).samefile(path) for each in paths)
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return False


def _database(file: BinaryIO) -> bool:
    header = file.read(100)
    if not header.startswith(b"SQLite format 3\0"):
        return False
    if header[68:70] == b"KB":  # the application id that `kb.store.seal` writes
        return True
    with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as whole:  # of an older version
        return whole.find(b"build_info") >= 0


def _unit(file: BinaryIO) -> bool:
    try:
        plain = json.loads(file.read())
    except (ValueError, RecursionError):
        return False
    return isinstance(plain, dict) and ("evidence" in plain or bool({"serial", "marks", "features", "cast_dates"} & set(plain)))


def _page(file: BinaryIO) -> bool:
    beginning = file.read(_BEGINNING)
    return beginning[:15].lower() == b"<!doctype html>" and b'<meta name="generator" content="kb">' in beginning


def _pdf(file: BinaryIO) -> bool:
    content = file.read()
    return content.startswith(b"%PDF-") and b"WeasyPrint" in content


def _workbook(file: BinaryIO) -> bool:
    return b"kb notes" in _member(file, "xl/workbook.xml")


DATABASE = Kind("a knowledge base that kb build wrote", "kb.db", _database)
UNIT = Kind("an answer of kb identify", "unit.json", _unit)
PAGE = Kind("a page that kb wrote", "sheet.html", _page)
PDF = Kind("a PDF that kb wrote", "sheet.pdf", _pdf)
WORKBOOK = Kind("a workbook that kb template wrote", "book.xlsx", _workbook)


def answers(columns: Collection[str]) -> Kind:
    """A list with the answers of a command beside its rows: it has all these columns (with `kb_` before them where the list had them itself).

    >>> answers(["verdict"]).recognises(io.BytesIO(b"part,verdict\\n6104,fits\\n"))
    True
    >>> answers(["verdict"]).recognises(io.BytesIO(b"part,price\\n6104,12\\n"))
    False
    """

    def recognises(file: BinaryIO) -> bool:
        beginning = file.read(_BEGINNING)
        if beginning.startswith(b"PK\3\4"):
            sheets = _member(file, "xl/workbook.xml")
            return b'name="answers"' in sheets
        if beginning.startswith(b"PAR1"):
            file.seek(max(0, file.seek(0, io.SEEK_END) - _END))
            footer = file.read()
            return all(name.encode() in footer for name in columns)
        found = _headings(beginning)
        return all(name in found or f"kb_{name}" in found for name in columns)

    return Kind("an answer of the same command", "answers.csv", recognises)


def _headings(beginning: bytes) -> set[str]:
    """The columns of a CSV file, or of the first object of JSON Lines."""
    text = beginning.decode("utf-8", "replace").removeprefix(_BOM)
    try:
        first = json.loads(text.split("\n", 1)[0])
    except (ValueError, RecursionError):
        try:
            separator = max(",;\t", key=text.split("\n", 1)[0].count)
            return {cell.strip() for cell in next(csv.reader(io.StringIO(text, newline=""), delimiter=separator), [])}
        except csv.Error:
            return set()
    return set(first) if isinstance(first, dict) else set()


def _member(file: BinaryIO, name: str) -> bytes:
    """The beginning of one file in a ZIP file; nothing if it is not there."""
    import zipfile
    import zlib

    file.seek(0)
    try:
        with zipfile.ZipFile(file) as packed, packed.open(name) as opened:
            return opened.read(_BEGINNING)
    except (zipfile.BadZipFile, KeyError, OSError, ValueError, RuntimeError, zlib.error, EOFError):
        return b""
