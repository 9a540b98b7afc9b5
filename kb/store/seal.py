"""The seal of a knowledge base file: what shows that it is ours, of this program's format, and byte for byte what the build wrote.

Two numbers in the header that SQLite leaves to the application (https://www.sqlite.org/fileformat2.html, section 1.3): the application id
names this program and the format, the user version holds a CRC-32 of the whole file, taken while the user version is 0. A damaged byte
anywhere shows before the first question is answered; every single flipped bit and every burst of up to 32 bits for certain, anything
else but for one case in four thousand million. It guards against failing disks and broken copies, not against forgery: a release's
manifest has SHA-256 digests for that.
"""

import mmap
import zlib
from pathlib import Path

from kb.words.errors import FileError

FORMAT = 2  # of the file; raised whenever a program could misread what another one wrote
_MAGIC = b"SQLite format 3\0"
_USER_VERSION = 60  # offsets of four-byte big-endian numbers in the header
_APPLICATION_ID = 68
_HEADER = 100  # bytes
_OURS = 0x4B42_0000  # "KB", then the format
_AT_ONCE = 1 << 24  # bytes
_AGAIN = "Build it again with this version: kb build FOLDER --db kb.db"


def seal(path: Path) -> None:
    """Write format and checksum into a file that SQLite has closed."""
    from kb.output.writing import reopened  # asking must start without what only building needs

    with reopened(path) as file:
        file.seek(_APPLICATION_ID)
        file.write((_OURS | FORMAT).to_bytes(4, "big"))
        file.seek(_USER_VERSION)
        file.write(bytes(4))
        file.flush()
        checksum = _checksum(file.fileno())
        file.seek(_USER_VERSION)
        file.write(checksum.to_bytes(4, "big"))


def check_seal(path: Path) -> None:
    """See that a file may be answered from.

    Raises:
        FileError: it is no knowledge base, one of another format, or damaged; with what to do.
    """
    try:
        with path.open("rb") as file:
            header = file.read(_HEADER)
            if not header.startswith(_MAGIC) or len(header) < _HEADER:
                raise FileError(f'"{path}" is not a knowledge base.', "Build one with: kb build FOLDER --db kb.db")
            ours = _number(header, _APPLICATION_ID)
            if ours >> 16 != _OURS >> 16:
                problem = f'"{path}" is a database, but not a knowledge base of this format; an older version of this program may have built it.'
                raise FileError(problem, _AGAIN)
            if ours & 0xFFFF != FORMAT:
                raise FileError(f'"{path}" has format {ours & 0xFFFF}; this version reads format {FORMAT}.', _AGAIN)
            if _checksum(file.fileno()) != _number(header, _USER_VERSION):
                problem = f'"{path}" is damaged: its bytes are not those that were built. Nothing is answered from it.'
                raise FileError(problem, f"{_AGAIN}, or copy it again from where it came.")
    except OSError as error:
        raise FileError(f'"{path}" cannot be read: {error.strerror}.', "Look at the disk and the permissions, or name another file.") from error


def _number(header: bytes, at: int) -> int:
    return int.from_bytes(header[at : at + 4], "big")


def _checksum(handle: int) -> int:
    """CRC-32 of a file whose user version counts as 0."""
    with mmap.mmap(handle, 0, access=mmap.ACCESS_READ) as whole:
        checksum = zlib.crc32(bytes(4), zlib.crc32(whole[:_USER_VERSION]))
        with memoryview(whole) as view:
            for start in range(_USER_VERSION + 4, len(view), _AT_ONCE):
                with view[start : start + _AT_ONCE] as piece:
                    checksum = zlib.crc32(piece, checksum)
    return checksum
