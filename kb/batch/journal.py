"""A run's inquiries and finished chunks, kept beside its result until that is written, so that it can resume after a crash.

A folder `.NAME.unfinished`: `inquiries.jsonl`, the list as it was read, one inquiry to a line; `run.json`, written after it, with what the
answers depend on and where each chunk begins; and one JSON file for each chunk, put in place by renaming, so that any file there is complete.
A run about something else (other inquiries, another knowledge base, another version of this program) starts over. However long the list,
only one chunk at a time is in memory.
"""

import json
import os
import shutil
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any

from kb.batch.answering import Answers, InquiryRow
from kb.words.errors import FileError

_RUN, _LIST = "run.json", "inquiries.jsonl"


class Journal:
    """One run: its inquiries in chunks, and which of these are finished.

    Attributes:
        columns: those of the list. inquiries: how many. chunk: how many in a chunk; a resumed run keeps it.
        done: the finished chunks. taken_up: how many of them an earlier process finished.
    """

    def __init__(self, folder: Path, about: dict[str, Any], inquiries: Iterable[InquiryRow], columns: list[str], chunk: int) -> None:
        """Open the journal of a run, or start one.

        about: all that the answers depend on. inquiries: read only if the run is new. columns: of the list, once all inquiries have been read.

        Raises:
            FileError: the folder cannot be written.
        """
        self.folder = folder
        begun = _read(folder / _RUN)
        if begun is None or begun["about"] != about:
            begun = self._begin(about, inquiries, columns, chunk)
        self.columns: list[str] = begun["columns"]
        self.inquiries, self.chunk = int(begun["inquiries"]), int(begun["chunk"])
        self._begins: list[int] = begun["begins"]
        self.done = {i for i in range(self.chunks) if _read(self._path(i)) is not None}
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
        _put(self._path(index), answers)
        self.done.add(index)

    def answers(self) -> Iterator[tuple[InquiryRow, Sequence[dict[str, Any]]]]:
        """Every inquiry with its rows, in order."""
        for index in range(self.chunks):
            yield from zip(self.asked(index), _read(self._path(index)) or [], strict=True)

    def remove(self) -> None:
        """Throw it away once the result is written."""
        shutil.rmtree(self.folder, ignore_errors=True)

    def _begin(self, about: dict[str, Any], inquiries: Iterable[InquiryRow], columns: list[str], chunk: int) -> dict[str, Any]:
        begins, count = list[int](), 0
        try:
            shutil.rmtree(self.folder, ignore_errors=True)
            self.folder.mkdir(parents=True, exist_ok=True)
            with (self.folder / _LIST).open("wb") as opened:
                for inquiry in inquiries:
                    if count % chunk == 0:
                        begins.append(opened.tell())
                    count += 1
                    opened.write(json.dumps(inquiry, default=str).encode() + b"\n")  # a date from a Parquet file is carried along as text
                opened.flush()
                os.fsync(opened.fileno())
            begun = {"about": about, "inquiries": count, "chunk": chunk, "columns": columns, "begins": begins}
            _put(self.folder / _RUN, begun)
        except OSError as error:
            problem = f'"{self.folder.parent}" cannot be written to: {error.strerror or error}.'
            raise FileError(problem, "Name a file in a folder of your own.") from error
        except BaseException:
            self.remove()
            raise
        return begun

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
    """What a file holds; None if it is missing or incomplete."""
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
