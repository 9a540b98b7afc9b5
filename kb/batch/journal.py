"""A run's inquiries and finished chunks, kept beside its result until that is written, so that it can resume after a crash.

A folder `.NAME.unfinished`: `inquiries.jsonl`, the list as it was read, one inquiry to a line; `run.json`, written after it, with what the
answers depend on and where each chunk begins; and one JSON file for each chunk, put in place by renaming, so that any file there is complete.
A run about something else (other inquiries, another knowledge base, another version of this program) starts over. However long the list,
only one chunk at a time is in memory.

One process at a time works at a result: the journal is locked, and the lock says who holds it. Every chunk names its run, so that answers to
another list are never taken for answers to this one.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any

from kb.batch.answering import Answers, InquiryRow
from kb.batch.lock import RunLock
from kb.output import writing as output
from kb.words.errors import FileError

_RUN, _LIST = "run.json", "inquiries.jsonl"


class Journal:
    """One run: its inquiries in chunks, and which of these are finished.

    Attributes:
        columns: those of the list. inquiries: how many. chunk: how many in a chunk; a resumed run keeps it.
        done: the finished chunks. taken_up: how many of them an earlier process finished.
        left_by: who held the lock and is gone without a word; "" if nobody.
    """

    def __init__(self, folder: Path, about: dict[str, Any], inquiries: Iterable[InquiryRow], columns: list[str], chunk: int) -> None:
        """Open the journal of a run, or start one.

        about: all that the answers depend on. inquiries: read only if the run is new. columns: of the list, once all inquiries have been read.

        Raises:
            FileError: the folder cannot be written, or another process works at it.
        """
        self.folder = folder
        self._lock = RunLock(folder)
        self.left_by = self._lock.left_by
        try:
            self._open(about, inquiries, columns, chunk)
        except BaseException:
            self._lock.release()
            raise

    def _open(self, about: dict[str, Any], inquiries: Iterable[InquiryRow], columns: list[str], chunk: int) -> None:
        begun = _read(self.folder / _RUN)
        if begun is None or begun["about"] != about:
            begun = self._begin(about, inquiries, columns, chunk)
        self.run = hashlib.sha256(json.dumps([begun[each] for each in ("about", "inquiries", "chunk")], sort_keys=True).encode()).hexdigest()[:16]
        self.columns: list[str] = begun["columns"]
        self.inquiries, self.chunk = int(begun["inquiries"]), int(begun["chunk"])
        self._begins: list[int] = begun["begins"]
        self.done = {i for i in range(self.chunks) if self._answers(i) is not None}
        self.taken_up = len(self.done)

    @property
    def chunks(self) -> int:
        """How many chunks the run has."""
        return len(self._begins)

    @property
    def left(self) -> list[int]:
        """The chunks that are not finished."""
        return [index for index in range(self.chunks) if index not in self.done]

    @property
    def answered(self) -> int:
        """How many inquiries are answered."""
        return min(len(self.done) * self.chunk, self.inquiries)

    def asked(self, index: int) -> list[InquiryRow]:
        """The inquiries of a chunk."""
        with (self.folder / _LIST).open("rb") as opened:
            opened.seek(self._begins[index])
            return [InquiryRow(*json.loads(line)) for line in islice(opened, self.chunk)]

    def keep(self, index: int, answers: Answers) -> None:
        """Keep the answers of a chunk."""
        output.swap(self._path(index), _plain({"run": self.run, "answers": answers}))
        self.done.add(index)
        self._lock.alive()

    def answers(self) -> Iterator[tuple[InquiryRow, Sequence[dict[str, Any]]]]:
        """Every inquiry with its rows, in order.

        Raises:
            FileError: a chunk is gone, or of another run.
        """
        for index in range(self.chunks):
            found = self._answers(index)
            if found is None:
                raise FileError(f'"{self._path(index)}" is not what this run wrote there.', "Run the same command again: it answers what is gone.")
            yield from zip(self.asked(index), found, strict=True)

    def remove(self) -> None:
        """Throw it away once the result is written."""
        self._sweep()
        self._lock.remove()

    def release(self) -> None:
        """Let another process go on with it."""
        self._lock.release()

    def _answers(self, index: int) -> Answers | None:
        """What a chunk holds, if it is whole and of this run."""
        plain = _read(self._path(index))
        return plain["answers"] if isinstance(plain, dict) and plain.get("run") == self.run else None

    def _sweep(self) -> None:
        """Empty the folder but for its lock."""
        for each in self.folder.iterdir():
            if each.name != self._lock.path.name:
                each.unlink(missing_ok=True)

    def _begin(self, about: dict[str, Any], inquiries: Iterable[InquiryRow], columns: list[str], chunk: int) -> dict[str, Any]:
        begins, count = list[int](), 0

        def lines() -> Iterator[bytes]:
            for inquiry in inquiries:
                yield json.dumps(inquiry, default=str).encode() + b"\n"  # a date of a Parquet file is carried along as text

        def starts(position: int) -> None:
            nonlocal count
            if count % chunk == 0:
                begins.append(position)
            count += 1

        try:
            self._sweep()
            output.put_lines(self.folder / _LIST, lines(), starts)
            begun = {"about": about, "inquiries": count, "chunk": chunk, "columns": columns, "begins": begins}
            output.swap(self.folder / _RUN, _plain(begun))
        except OSError as error:
            problem = f'"{self.folder.parent}" cannot be written to: {error.strerror or error}.'
            raise FileError(problem, "Name a file in a folder of your own.") from error
        except BaseException:
            self.remove()
            raise
        return begun

    def _path(self, index: int) -> Path:
        return self.folder / f"{index:08}.json"


def _plain(plain: Any) -> bytes:
    return json.dumps(plain).encode()


def _read(path: Path) -> Any:
    """What a file holds; None if it is missing or incomplete."""
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
