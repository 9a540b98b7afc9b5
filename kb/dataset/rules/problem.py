"""What a rule finds: a row, a column, what is wrong and how to mend it. The caller, which knows the files, adds file and row number."""

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from typing import Literal

Severity = Literal["error", "doubt"]


@dataclass(frozen=True)
class RowProblem:
    """One finding of a rule. `index` counts the rows of the table from 0; None means the table as a whole.

    A doubt becomes a dispute of the built file: `kind` says of what kind, `subject` what it is about (the id of a change-over,
    a series, a component, a part), `sources` who says so; `against` the keys of other rows of the table that cannot be right beside this one.
    """

    table: str
    index: int | None
    column: str
    problem: str
    remedy: str
    severity: Severity = "error"
    kind: str = ""
    subject: str = ""
    sources: tuple[str, ...] = ()
    against: tuple[str, ...] = ()


@dataclass(frozen=True)
class Known:
    """What a loader knows beyond the rows that are right, so that one mistake is reported once.

    keys: keys of all rows, those of wrong rows included, by table. absent: tables without a file.
    unsure: tables whose keys could not be read; nothing is said about ids that point there.
    series_in_doubt: series with a wrong row among their blocks or affixes; nothing is said about serials of theirs.
    """

    keys: Mapping[str, AbstractSet[str]] = field(default_factory=dict)
    absent: frozenset[str] = frozenset()
    unsure: frozenset[str] = frozenset()
    series_in_doubt: frozenset[str] = frozenset()
