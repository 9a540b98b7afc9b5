"""One writer at a time in a dataset folder, and files that change in one step.

The lock lies on the folder itself, so that nothing is left behind; the system gives it back when a process ends, however it ends.
A file is written beside the old one, brought to disk, and renamed over it: whoever reads finds the old one or the new one, whole.
"""

import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from kb.words.errors import FileError

PATIENCE = 60.0  # seconds; adding a row takes one
_BESIDE = ".kb-new"


@contextmanager
def locked(folder: Path, patience: float = PATIENCE) -> Iterator[None]:
    """Be the only one who changes this folder.

    Raises:
        FileError: there is no such folder, or another program has been changing it for `patience` seconds.
    """
    try:
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    except OSError as error:
        remedy = "Name the folder that holds the CSV files; kb template writes an empty one."
        raise FileError(f'"{folder}" cannot be opened as a folder: {error.strerror}.', remedy) from error
    try:
        _wait(handle, folder, patience)
        for left in folder.glob(f".*{_BESIDE}"):  # of a writer that was killed
            left.unlink(missing_ok=True)
        yield
    finally:
        os.close(handle)


def _wait(handle: int, folder: Path, patience: float) -> None:
    until = time.monotonic() + patience
    while True:
        try:
            return fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() >= until:
                raise FileError(f'Another program is changing "{folder}".', "Wait until it is done, then try again.") from None
            time.sleep(0.01)


def replace(path: Path, data: bytes) -> None:
    """Put new bytes in the place of a file, in one step; call it under the lock of its folder.

    Raises:
        FileError: the system refuses (disk full, folder not writable); the old file is still there.
    """
    target = path.resolve()  # a link stays a link
    beside = target.with_name(f".{target.name}{_BESIDE}")
    try:
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            if target.exists():
                os.fchmod(file.fileno(), target.stat().st_mode & 0o7777)
            os.fsync(file.fileno())
        beside.replace(target)
        _to_disk(target.parent)
    except OSError as error:
        beside.unlink(missing_ok=True)
        remedy = "Nothing was changed. Check the space on the disk and the permissions of the folder."
        raise FileError(f'"{path}" cannot be written: {error.strerror or error}.', remedy) from error


def _to_disk(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
