"""What can go wrong, in words that say how to mend it.

    KbError                 anything this package reports on purpose
      DataError             a value is wrong: problem and remedy, from whoever knows the value
      QuestionError         the question is wrong: an unknown component, a part number nobody recorded
      FileError             a file is missing, not ours, not readable or not writable

The inner layer knows the value and raises; the outer layer adds file, row and column (a `Finding`) or the option.
"""

from dataclasses import asdict, dataclass
from typing import Any, Literal


class KbError(Exception):
    """Base of all errors that a user can act on."""

    def __init__(self, problem: str, remedy: str = "") -> None:
        super().__init__(f"{problem} {remedy}".strip())
        self.problem = problem
        self.remedy = remedy


class DataError(KbError):
    """A value is not what it should be."""


class QuestionError(KbError):
    """The question names something that the knowledge base does not have, or is put in a way that cannot be answered."""


class FileError(KbError):
    """A file or folder cannot be used."""


@dataclass(frozen=True, order=True)
class Finding:
    """One thing that is wrong or doubtful in a dataset folder.

    `row` counts as a spreadsheet shows it: the header is row 1; 0 means the file as a whole.
    """

    severity: Literal["error", "doubt"]
    file: str
    row: int
    column: str
    value: str
    problem: str
    remedy: str

    def as_dict(self) -> dict[str, Any]:
        """As `kb check --json` prints it."""
        return asdict(self)

    def __str__(self) -> str:
        place = ", ".join([self.file, *([f"row {self.row}"] if self.row else []), *([self.column] if self.column else [])])
        shown = f' "{self.value}"' if self.value else ""
        return f"{place}{shown}: {self.problem}\n    {self.remedy}"
