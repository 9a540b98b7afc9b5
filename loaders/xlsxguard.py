"""What a workbook file must be before it is read: whole, not encrypted, and of a size that a workbook can have.

A file of a few thousand bytes can unpack to terabytes, name row 999,999,999, or hold a text of 500 MB; such a one is refused before anything
of it is kept. Limits of the format: ISO/IEC 29500 knows 1,048,576 rows, 16,384 columns and 32,767 characters a cell in practice.
"""

import re
import zipfile
import zlib
from pathlib import Path

from kb.words.errors import FileError

MOST_PACKED = 256 << 20  # bytes of the file
MOST_UNPACKED = 2 << 30  # bytes of all its parts: a million rows of twenty cells
MOST_SHARED = 256 << 20  # bytes of the texts that sheets share, which are kept in memory
MOST_PARTS = 2_000
LAST_ROW = 1_048_576
LAST_COLUMN = 16_384
_AT_A_TIME = 1 << 20  # bytes; a stretch as long without the beginning of a tag is a text that no cell can hold
_TAIL = 200  # bytes of a stretch that are looked at again with the next: a tag may stand across both
_PLACE = re.compile(rb'<(?:\w+:)?(?:row|c)\s[^<>]{0,100}?\br="([A-Za-z]*)([0-9]+)"')
_SAVE = "Save it as XLSX (Excel workbook)."
_OLE = b"\xd0\xcf\x11\xe0"  # the container of encrypted workbooks and of those before 2007
_ENCRYPTED = 1  # flag bit of a part


def check(path: Path) -> None:
    """Refuse what is no workbook, or one that cannot be right.

    Raises:
        FileError: the file cannot be read, is no XLSX file, is damaged, encrypted, or larger than one can be.
    """
    try:
        if path.stat().st_size > MOST_PACKED:
            raise _too_large(path, f"the file has more than {MOST_PACKED >> 20} MB")
        with path.open("rb") as file:
            if file.read(4) == _OLE:
                raise FileError(f'"{path}" is encrypted, or a workbook of an old format.', f"Take the password off. {_SAVE}")
        with zipfile.ZipFile(path) as packed:
            _parts(path, packed)
    except OSError as error:
        raise FileError(f'"{path}" cannot be read: {error.strerror or error}.', "Check the name, and close it in other programs.") from error
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, ValueError, KeyError, OverflowError) as error:
        raise damaged(path, error) from error


def damaged(path: Path | str, error: Exception) -> FileError:
    """The error for a file that a reader of workbooks gave up on."""
    return FileError(f'"{path}" is no workbook, or a damaged one ({type(error).__name__}).', _SAVE)


def _parts(path: Path, packed: zipfile.ZipFile) -> None:
    parts = packed.infolist()
    if len(parts) > MOST_PARTS:
        raise _too_large(path, f"it has {len(parts)} parts")
    total = 0
    for part in parts:
        if part.flag_bits & _ENCRYPTED:
            raise FileError(f'"{path}" is encrypted.', f"Take the password off. {_SAVE}")
        if part.filename.endswith((".xml", ".rels")):
            total = _part(path, packed, part, total)


def _part(path: Path, packed: zipfile.ZipFile, part: zipfile.ZipInfo, total: int) -> int:
    """Unpack one part, keeping nothing. Returns how many bytes all parts have until here; what the file says of itself is not believed."""
    mine, before = 0, b""
    with packed.open(part) as opened:
        while piece := opened.read(_AT_A_TIME):
            mine += len(piece)
            total += len(piece)
            if total > MOST_UNPACKED:
                raise _too_large(path, f"it unpacks to more than {MOST_UNPACKED >> 30} GB")
            if "sharedStrings" in part.filename and mine > MOST_SHARED:
                raise _too_large(path, f"its texts have more than {MOST_SHARED >> 20} MB")
            if len(piece) == _AT_A_TIME and b"<" not in piece:
                raise _too_large(path, f"{part.filename} holds a text of more than a million characters")
            looked = before + piece
            if b"<!DOCTYPE" in looked or b"<!ENTITY" in looked:
                raise FileError(f'"{path}" declares entities ({part.filename}), which no workbook does.', _SAVE)
            for letters, digits in _PLACE.findall(looked):
                if len(digits) > 7 or int(digits) > LAST_ROW or _column(letters) > LAST_COLUMN:
                    place = (letters + digits).decode()[:30]
                    raise _too_large(path, f"it names the place {place}, and a sheet has {LAST_ROW:,} rows and {LAST_COLUMN:,} columns")
            before = piece[-_TAIL:]
    return total


def _column(letters: bytes) -> int:
    """The number of a column by its letters."""
    number = 0
    for letter in letters[:5].upper():
        number = number * 26 + letter - 64
    return number


def _too_large(path: Path, why: str) -> FileError:
    return FileError(f'"{path}" is larger than a workbook can be: {why}.', "Save it anew from a spreadsheet, or as CSV (UTF-8).")
