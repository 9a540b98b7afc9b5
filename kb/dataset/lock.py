"""One writer at a time in a dataset folder, and files that change in one step.

The lock is on the folder itself, so nothing is left behind; the system releases it when a process ends, however it ends.
A file is written beside the old one, flushed to disk, and renamed over it: a reader finds either the old file or the new one, complete.
Several files change together: all are first written beside the old ones, then a list of them is written, and only then are they renamed.
Without the list none of it counts; with it, the next process that changes or reads the folder finishes what a killed one left.
"""

import fcntl
import json
import logging
import os
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from kb.words.errors import FileError

PATIENCE = 60.0  # seconds; adding a row takes one
_BESIDE = ".kb-new"
UNFINISHED = ".kb-unfinished"  # the list of files that are to change together


@contextmanager
def locked(folder: Path, patience: float = PATIENCE) -> Iterator[None]:
    """Be the only process that changes this folder.

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
        if (folder / UNFINISHED).exists():
            _finish(folder)
        for left in folder.glob(f".*{_BESIDE}"):  # of a writer that was killed
            left.unlink(missing_ok=True)
        yield
    finally:
        os.close(handle)


_UNCHANGED = "Nothing was changed. Check the space on the disk and the permissions of the folder."


def _wait(handle: int, folder: Path, patience: float) -> None:
    until = time.monotonic() + patience
    while True:
        try:
            return fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() >= until:
                raise FileError(f'Another program is changing "{folder}".', "Wait until it is done, then try again.") from None
            time.sleep(0.01)  # numeric


def replace(path: Path, data: bytes) -> None:
    """Replace the bytes of a file in one step; call it while holding the lock of its folder.

    Raises:
        FileError: the system refuses (disk full, folder not writable); the old file is still there.
    """
    target = path.resolve()  # a link stays a link
    beside = _beside(target)
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
        raise FileError(f'"{path}" cannot be written: {error.strerror or error}.', _UNCHANGED) from error


def replace_together(folder: Path, files: Mapping[str, bytes]) -> None:
    """Replace the bytes of several files, of all or none; call it while holding the lock of the folder.

    Args:
        folder: of the dataset.
        files: by path in the folder, in the order in which they are renamed.

    Raises:
        FileError: the system refuses; nothing is changed, or (a file that cannot be renamed) the next command tries again.
    """
    if len(files) == 1:
        replace(folder / next(iter(files)), next(iter(files.values())))
        return
    begun: list[Path] = []
    try:
        for name, data in files.items():
            target = (folder / name).resolve()
            begun.append(_beside(target))
            with begun[-1].open("wb") as file:
                file.write(data)
                file.flush()
                if target.exists():
                    os.fchmod(file.fileno(), target.stat().st_mode & 0o7777)
                os.fsync(file.fileno())
        replace(folder / UNFINISHED, json.dumps(list(files)).encode())
    except (OSError, FileError) as error:
        for beside in begun:
            beside.unlink(missing_ok=True)
        if isinstance(error, FileError):
            raise
        raise FileError(f'"{folder}" cannot be written to: {error.strerror or error}.', _UNCHANGED) from error
    _rename(folder, list(files))


def finish(folder: Path) -> None:
    """Finish what a killed program left half done; call it before reading the folder.

    Raises:
        FileError: it cannot be finished.
    """
    if (folder / UNFINISHED).exists():
        with locked(folder):
            pass


def _finish(folder: Path) -> None:
    path = folder / UNFINISHED
    try:
        names = json.loads(path.read_text("utf-8"))
        right = isinstance(names, list) and all(isinstance(n, str) and not Path(n).is_absolute() and ".." not in Path(n).parts for n in names)
    except (OSError, ValueError):
        right = False
    if not right:
        raise FileError(f'"{path}" is not a list that kb wrote.', "Delete it, and look with kb check whether the files beside it are right.")
    _rename(folder, names)
    logging.getLogger("kb").warning("A change of %s that was interrupted is complete now: %s.", folder, ", ".join(names))


def _rename(folder: Path, names: list[str]) -> None:
    """Move the new files into place; those already in place are done."""
    try:
        for name in names:
            target = (folder / name).resolve()
            if (beside := _beside(target)).exists():
                beside.replace(target)
                _to_disk(target.parent)
        (folder / UNFINISHED).unlink()
        _to_disk(folder)
    except OSError as error:
        remedy = "Check the permissions of the folder; the next command brings the change to its end."
        raise FileError(f'"{folder}" cannot be written to: {error.strerror or error}.', remedy) from error


def _beside(target: Path) -> Path:
    return target.with_name(f".{target.name}{_BESIDE}")


def _to_disk(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
