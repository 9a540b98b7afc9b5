"""One writer at a time in a dataset folder, and files that change in one step.

The lock is on the folder itself, so nothing is left behind; the system releases it when a process ends, however it ends.
A file is written beside the old one, flushed to disk, and renamed over it: a reader finds either the old file or the new one, complete.
Several files change together: all are first written beside the old ones, then a list of them is written, and only then are they renamed.
Without the list none of it counts; with it, the next process that changes or reads the folder finishes what a killed one left.
The lock binds programs, not people: before every renaming the bytes in place are compared with those that were read, and what somebody
has edited meanwhile is never replaced.
"""

import fcntl
import hashlib
import json
import logging
import os
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from kb.output.writing import put, to_disk
from kb.words.errors import FileError

PATIENCE = 60.0  # seconds; adding a row takes one
_BESIDE = ".kb-new"
_ASIDE = ".kb-not-taken"  # what an interrupted change would have written over an edit
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


def digest(data: bytes | None) -> str:
    """By what the bytes of a file are told from others; "" for a file that is not there."""
    return "" if data is None else hashlib.sha256(data).hexdigest()


def replace_together(folder: Path, files: Mapping[str, bytes], read: Mapping[str, str]) -> None:
    """Replace the bytes of several files, of all or none; call it while holding the lock of the folder.

    Args:
        folder: of the dataset.
        files: by path in the folder, in the order in which they are renamed.
        read: the digests of the bytes that the new ones were made from.

    Raises:
        FileError: the system refuses, or somebody has changed a file since it was read; nothing is changed, or (a file that cannot be
            renamed) the next command tries again.
    """
    changed = [name for name in files if _digest_of((folder / name).resolve()) != read[name]]
    if changed:
        problem = f"{', '.join(changed)} in \"{folder}\" was changed by somebody else just now."
        raise FileError(problem, "Nothing was changed by this program. Run the same command again.")
    begun: list[Path] = []
    try:
        for name, data in files.items():
            target = (folder / name).resolve()  # a link stays a link
            begun.append(_beside(target))
            put(begun[-1], data, mode=target.stat().st_mode & 0o7777 if target.exists() else None)
        if len(files) > 1:
            begun.append(_beside(folder / UNFINISHED))
            put(begun[-1], json.dumps({name: read[name] for name in files}).encode())
            begun[-1].replace(folder / UNFINISHED)
            to_disk(folder)
    except OSError as error:
        for beside in begun:
            beside.unlink(missing_ok=True)
        raise FileError(f'"{folder}" cannot be written to: {error.strerror or error}.', _UNCHANGED) from error
    _rename(folder, {name: read[name] for name in files})


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
        read = json.loads(path.read_text("utf-8"))
        right = isinstance(read, dict) and all(
            not Path(name).is_absolute() and ".." not in Path(name).parts and isinstance(old, str) for name, old in read.items()
        )
    except (OSError, ValueError):
        right = False
    if not right:
        raise FileError(f'"{path}" is not a list that kb wrote.', "Delete it, and look with kb check whether the files beside it are right.")
    _rename(folder, read)
    logging.getLogger("kb").warning("A change of %s that was interrupted is complete now: %s.", folder, ", ".join(read))


def _rename(folder: Path, read: Mapping[str, str]) -> None:
    """Move the new files into place; those already in place are done. A file that was edited meanwhile stays as it is.

    Raises:
        FileError: the system refuses; or a file was edited meanwhile, and what was to take its place stands beside it.
    """
    aside = {}
    try:
        for name, old in read.items():
            target = (folder / name).resolve()
            if (beside := _beside(target)).exists():
                if _digest_of(target) not in (old, _digest_of(beside)):
                    aside[name] = target.with_name(f"{target.name}{_ASIDE}")
                    beside.replace(aside[name])
                else:
                    beside.replace(target)
                to_disk(target.parent)
        if (folder / UNFINISHED).exists():
            (folder / UNFINISHED).unlink()
            to_disk(folder)
    except OSError as error:
        remedy = "Check the permissions of the folder; the next command brings the change to its end."
        raise FileError(f'"{folder}" cannot be written to: {error.strerror or error}.', remedy) from error
    if aside:
        problem = f"A change of \"{folder}\" was interrupted, and since then somebody has edited {', '.join(aside)}: that stays as it is."
        stands = ", ".join(each.name for each in aside.values())
        remedy = f"What the change would have made of it is kept as {stands}. Bring the list again; what is there is not added twice."
        raise FileError(problem, remedy)


def _digest_of(path: Path) -> str:
    return digest(path.read_bytes()) if path.exists() else ""


def _beside(target: Path) -> Path:
    return target.with_name(f".{target.name}{_BESIDE}")

