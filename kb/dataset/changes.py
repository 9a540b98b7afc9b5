"""Changes to a dataset folder, and what came of them."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from kb.words.dataset import Dataset
from kb.words.errors import DataError, Finding
from kb.words.findings import said


@dataclass(frozen=True)
class NewRow:
    """A row to add: text by column, including x_ columns. `file` and `row` say where it comes from, if from a list."""

    table: str
    values: Mapping[str, str]
    file: str = ""
    row: int = 0


@dataclass(frozen=True)
class NewCell:
    """A cell to change, in the row with this key."""

    table: str
    key: str
    column: str
    value: str
    file: str = ""
    row: int = 0


Change = NewRow | NewCell


@dataclass(frozen=True)
class Place:
    """A row that was added or changed."""

    table: str
    key: str
    file: str
    row: int


@dataclass(frozen=True)
class Written:
    """What was done: the rows added or changed, the doubts that came with them, and what already existed or was left out."""

    rows: tuple[Place, ...] = ()
    doubts: tuple[Finding, ...] = ()
    unchanged: int = 0
    rejected: Mapping[int, tuple[Finding, ...]] = field(default_factory=dict)  # by the number of the change


class Refused(DataError):
    """The dataset would no longer be valid. `findings` say why; nothing was written."""

    def __init__(self, findings: Sequence[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__("Nothing was written.\n" + said(self.findings))


class TableFiles(Protocol):
    """The files that hold the rows of one table."""

    files: list[str]


class Held(Protocol):
    """A folder as a loader read it."""

    @property
    def dataset(self) -> Dataset:
        """All valid rows."""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Everything that `kb check` says."""

    @property
    def rows(self) -> Mapping[str, TableFiles]:
        """Where the rows of each table are kept."""

    def origin(self, table: str, index: int) -> tuple[str, int]:
        """File and row of a row of the dataset."""


Load = Callable[[Sequence[Path]], Held]
