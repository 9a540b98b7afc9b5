"""Every file that is written: beside its place, brought to disk, renamed into it; and nothing replaced that is not of its own kind.

Nothing else in the program opens a file for writing. Whoever reads finds the old file or the new one, whole; a disk that is full leaves
the old one as it was. A file that a user names may only replace an older answer of the same kind (`kb.output.kinds`): a name that was
mistyped costs nobody his list of parts.
"""

import fcntl
import glob
import os
import shutil
import stat
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from kb.output.kinds import Kind, names_a_table
from kb.words.errors import FileError

_ANOTHER = "Name another file."
_UNFINISHED = ".unfinished"


def refuse(path: Path, kind: Kind, *, inputs: Iterable[Path] = (), force: bool | None = False) -> None:
    """Refuse a target that must not be replaced; asked before the work begins, so that nobody waits for an answer that cannot be written.

    Args:
        path: the target.
        kind: what is to be written.
        inputs: the files from which it is made.
        force: replace a plain file of another kind, or an input, all the same; None where nobody can say so.

    Raises:
        FileError: the target is a folder, a link, a device, a file of a dataset, an input, or holds something of another kind.
    """
    try:
        found = path.lstat()
    except FileNotFoundError:
        return _refuse_folder(path)
    except OSError as error:
        raise FileError(f'"{path}" cannot be looked at: {error.strerror or error}.', _ANOTHER) from error
    if stat.S_ISDIR(found.st_mode):
        raise FileError(f'"{path}" is a folder.', f"Name the file to be written, as in {path.name or 'answers'}/{kind.example}.")
    if stat.S_ISLNK(found.st_mode):
        raise FileError(f'"{path}" is a link to another file.', f"Name that file itself: {path.resolve()}.")
    if not stat.S_ISREG(found.st_mode):
        raise FileError(f'"{path}" is a device or a pipe, not a file.', _ANOTHER)
    if names_a_table(path):
        raise FileError(f'"{path}" is a file of a dataset.', f"{_ANOTHER} A dataset is changed with kb add, kb import or by hand.")
    if force:
        return
    remedy = _ANOTHER if force is None else f"{_ANOTHER} --force replaces it."
    for each in inputs:
        if each.exists() and each.samefile(path):
            raise FileError(f'"{path}" is what the answer is made from, and would be replaced by it.', remedy)
    if found.st_size and not _is(path, kind):
        raise FileError(f'"{path}" is there already, and is not {kind.name}.', remedy)


@contextmanager
def beside(path: Path, kind: Kind, *, inputs: Iterable[Path] = (), force: bool | None = False) -> Iterator[BinaryIO]:
    """A file to write to, which takes the place of the target when the block ends without an error, and is gone if not.

    Raises:
        FileError: as `refuse`; or the system refuses, and the old file is still there.
    """
    refuse(path, kind, inputs=inputs, force=force)
    try:
        with place(path) as unfinished, unfinished.open("w+b") as file:
            yield file
    except OSError as error:
        raise _not_written(path, error) from error


@contextmanager
def place(path: Path, mode: int = 0) -> Iterator[Path]:
    """A path beside the target, for a library that writes by name; it is renamed when the block ends, and gone if that ends with an error.

    It is locked while its writer lives, so that the next one knows what a killed one left.
    mode: of the finished file; 0 keeps that of the old one.

    Raises:
        OSError: the system refuses, and the old file is still there.
    """
    mark = f".{path.name[:100]}."
    for left in path.parent.glob(f"{glob.escape(mark)}*{_UNFINISHED}"):
        with suppress(OSError), left.open("rb") as opened:  # locked: somebody is writing it
            fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
            left.unlink(missing_ok=True)
            left.with_name(f"{left.name}-journal").unlink(missing_ok=True)
    while True:
        handle, name = tempfile.mkstemp(_UNFINISHED, mark, path.parent)
        fcntl.flock(handle, fcntl.LOCK_EX)
        if os.path.exists(name):  # not taken for a left one before it was locked
            break
        os.close(handle)
    try:
        yield Path(name)
        os.fsync(handle)
        os.chmod(name, mode or (path.stat().st_mode & 0o7777 if path.exists() else 0o666 & ~_umask()))
        os.replace(name, path)
        to_disk(path.parent)
    finally:
        Path(name).unlink(missing_ok=True)
        os.close(handle)


def write(path: Path, data: bytes, kind: Kind, *, inputs: Iterable[Path] = (), force: bool | None = False) -> None:
    """Write a file as a whole.

    Raises:
        FileError: as `beside`.
    """
    with beside(path, kind, inputs=inputs, force=force) as file:
        file.write(data)


def put(path: Path, data: bytes, *, new: bool = False, mode: int | None = None) -> None:
    """Bring bytes to disk under a name that is the program's own business (a file beside another, a scratch copy).

    new: it must not be there. mode: its permissions, if not the usual ones.

    Raises:
        OSError: the system refuses.
    """
    with path.open("xb" if new else "wb") as file:
        file.write(data)
        file.flush()
        if mode is not None:
            os.fchmod(file.fileno(), mode)
        os.fsync(file.fileno())


def scratch(path: Path, data: bytes) -> None:
    """Write a scratch file, which no one needs on the disk tomorrow.

    Raises:
        OSError: the system refuses.
    """
    path.write_bytes(data)


def copied(path: Path, to: Path) -> None:
    """Make a scratch copy; of a link the link.

    Raises:
        OSError: the system refuses.
    """
    shutil.copyfile(path, to, follow_symlinks=False)


def append(path: Path, data: bytes) -> None:
    """Add bytes to the end of a file of the program's own, and bring them to disk.

    Raises:
        OSError: the system refuses.
    """
    with path.open("ab") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def put_lines(path: Path, lines: Iterable[bytes], starts: Callable[[int], None]) -> None:
    """Bring lines to disk as they come. starts: told the position of every line before it is written.

    Raises:
        OSError: the system refuses.
    """
    with path.open("wb") as file:
        for line in lines:
            starts(file.tell())
            file.write(line)
        file.flush()
        os.fsync(file.fileno())


def swap(path: Path, data: bytes) -> None:
    """Put bytes in the place of a file of the program's own in one step.

    Raises:
        OSError: the system refuses; the old file is still there.
    """
    unfinished = path.with_name(f".{path.name}.new")
    try:
        put(unfinished, data)
        unfinished.replace(path)
    except OSError:
        unfinished.unlink(missing_ok=True)
        raise


def locked_file(path: Path) -> int:
    """A handle on a file of the program's own that is to be locked; made if it is not there, nothing in it is changed.

    Raises:
        OSError: the system refuses.
    """
    return os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o666)


def reopened(path: Path) -> BinaryIO:
    """A file of the program's own, to change bytes in it before it is put in its place.

    Raises:
        OSError: the system refuses.
    """
    return path.open("rb+")


def to_disk(folder: Path) -> None:
    """Bring to disk which files a folder has."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _is(path: Path, kind: Kind) -> bool:
    try:
        with path.open("rb") as file:
            return kind.recognises(file)
    except OSError as error:
        raise FileError(f'"{path}" cannot be read: {error.strerror or error}.', _ANOTHER) from error


def _refuse_folder(path: Path) -> None:
    folder = path.absolute().parent
    if not folder.is_dir():
        raise FileError(f'There is no folder "{folder}".', "Make it, or name a file in another one.")


def _not_written(path: Path, error: OSError) -> FileError:
    return FileError(f'"{path}" cannot be written: {error.strerror or error}.', "Make room on the disk, or name a file in a folder of your own.")


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
