"""Who works at a run: one process at a time, named to all others who would.

The lock is the system's (flock), which gives it back when a process ends, however it ends; beside it stands who holds it. On a disk of the
network another machine's lock may not be seen, so one whose holder sits elsewhere is taken for held as long as chunks keep coming in.
"""

import fcntl
import json
import os
import socket
import time
from datetime import UTC, datetime
from pathlib import Path

from kb.output.writing import locked_file
from kb.words.errors import FileError

NAME = "lock"
SILENT = 600.0  # seconds without a finished chunk, after which a holder on another machine is gone


class RunLock:
    """The lock of one journal. left_by: who held it and ended without giving it back; "" if nobody."""

    def __init__(self, folder: Path) -> None:
        """Take the lock, and say who holds it now.

        Raises:
            FileError: somebody else holds it, or the folder cannot be written.
        """
        self.path = folder / NAME
        self.left_by = ""
        self._handle = -1
        try:
            while True:
                folder.mkdir(parents=True, exist_ok=True)
                try:
                    self._handle = locked_file(self.path)
                except FileNotFoundError:  # another run has just ended and taken the folder away
                    continue
                if self._taken(folder):
                    break
        except OSError as error:
            raise FileError(f'"{folder.parent}" cannot be written to: {error.strerror or error}.', "Name a file in a folder of your own.") from error

    def alive(self) -> None:
        """Show that the work goes on."""
        os.utime(self.path)

    def release(self) -> None:
        """Give it back, if it is held; what was done is kept."""
        if self._handle >= 0:
            os.ftruncate(self._handle, 0)
            os.close(self._handle)
            self._handle = -1

    def remove(self) -> None:
        """Give it back, and take the folder away, which is empty but for the lock."""
        self.path.unlink(missing_ok=True)
        self.path.parent.rmdir()
        os.close(self._handle)
        self._handle = -1

    def _taken(self, folder: Path) -> bool:
        """Whether the lock is ours now; False if the file was taken away meanwhile.

        Raises:
            FileError: somebody else holds it.
        """
        try:
            fcntl.flock(self._handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            holder = self._holder()
            os.close(self._handle)
            raise self._at_work(folder, holder) from None
        try:
            mine = os.fstat(self._handle).st_ino == self.path.stat().st_ino
        except FileNotFoundError:
            mine = False
        if not mine:
            os.close(self._handle)
            return False
        holder = self._holder()
        if holder and holder["host"] != socket.gethostname() and time.time() - os.fstat(self._handle).st_mtime < SILENT:
            os.close(self._handle)
            raise self._at_work(folder, holder)
        self.left_by = _said(holder) if holder else ""
        now = datetime.now(UTC).astimezone().isoformat(" ", "seconds")
        os.ftruncate(self._handle, 0)
        os.pwrite(self._handle, json.dumps({"pid": os.getpid(), "host": socket.gethostname(), "since": now}).encode(), 0)
        return True

    def _holder(self) -> dict[str, str]:
        try:
            plain = json.loads(os.pread(self._handle, 1000, 0))
            return {name: str(plain[name]) for name in ("pid", "host", "since")}
        except (ValueError, KeyError, TypeError):
            return {}

    def _at_work(self, folder: Path, holder: dict[str, str]) -> FileError:
        result = folder.name.removeprefix(".").removesuffix(".unfinished")
        who = _said(holder) if holder else "Another process"
        return FileError(f'{who} is at work on "{result}".', "Wait until it is done, or name another file with -o.")


def _said(holder: dict[str, str]) -> str:
    return f"Process {holder['pid']} on {holder['host']}, since {holder['since'][:19]},"
