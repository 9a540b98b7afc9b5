"""Finished chunks of a run, kept beside its result until that is written: after a crash the run goes on where it was.

A folder `.NAME.unfinished` with `run.json`, what the run is about, and one JSON file a chunk, each put in place by renaming, so that a file that
is there is whole. A run about something else (other inquiries, another knowledge base, another version of this program) begins anew.
"""

import json
import os
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from kb.batch.answering import Answers
from kb.words.errors import FileError

_RUN = "run.json"


class Journal:
    """The finished chunks of one run."""

    def __init__(self, folder: Path, about: dict[str, Any], inquiries: int, chunk: int) -> None:
        """Open the journal of a run, or begin one.

        about: all that the answers depend on. chunk: inquiries a chunk; a run that is taken up again keeps its own.

        Raises:
            FileError: the folder cannot be written.
        """
        self.folder, self.inquiries = folder, inquiries
        begun = _read(folder / _RUN)
        if begun is not None and begun["about"] == about and begun["inquiries"] == inquiries:
            self.chunk = int(begun["chunk"])
        else:
            self.chunk = chunk
            try:
                shutil.rmtree(folder, ignore_errors=True)
                folder.mkdir(parents=True, exist_ok=True)
                _put(folder / _RUN, {"about": about, "inquiries": inquiries, "chunk": chunk})
            except OSError as error:
                problem = f'"{folder.parent}" cannot be written to: {error.strerror or error}.'
                raise FileError(problem, "Name a file in a folder of your own.") from error
        self.done = {i for i in range(self.chunks) if _read(self._path(i)) is not None}
        self.taken_up = len(self.done)

    @property
    def chunks(self) -> int:
        """How many chunks the run has."""
        return -(-self.inquiries // self.chunk)

    def part(self, index: int) -> slice:
        """Which inquiries a chunk holds."""
        return slice(index * self.chunk, min((index + 1) * self.chunk, self.inquiries))

    def keep(self, index: int, answers: Answers) -> None:
        """Keep the answers of a chunk."""
        _put(self._path(index), answers)
        self.done.add(index)

    def answers(self) -> Iterator[Sequence[dict[str, Any]]]:
        """The rows for each inquiry, in order."""
        for index in range(self.chunks):
            yield from _read(self._path(index)) or []

    def remove(self) -> None:
        """Throw it away, when the result is written."""
        shutil.rmtree(self.folder, ignore_errors=True)

    def _path(self, index: int) -> Path:
        return self.folder / f"{index:08}.json"


def _put(path: Path, plain: Any) -> None:
    unfinished = path.with_suffix(".new")
    with unfinished.open("w", encoding="utf-8") as opened:
        json.dump(plain, opened, ensure_ascii=False)
        opened.flush()
        os.fsync(opened.fileno())
    unfinished.replace(path)


def _read(path: Path) -> Any:
    """What a file holds; None if it is not there or not whole."""
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
