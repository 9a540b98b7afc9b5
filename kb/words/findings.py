"""Findings that say the same, put together: one misspelt id used 115 times is one finding with its 115 places."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from kb.words.errors import Finding

Place = tuple[str, int, str]
SHOWN = 5  # places of one finding that are shown as text
A_PAGE = 60  # findings that are shown as text; the rest is counted
MOST_PLACES = 1000  # of one finding that JSON names
MOST_FINDINGS = 1000  # that JSON names, of each severity


@dataclass(frozen=True)
class Group:
    """One thing that is wrong, and where: the first place is that of `first`."""

    first: Finding
    places: Sequence[Place]

    def as_dict(self) -> dict[str, Any]:
        """As JSON has it: the first finding, all its places (the first thousand of them) and how many there are."""
        places = [{"file": file, "row": row, "column": column} for file, row, column in self.places[:MOST_PLACES]]
        return {**self.first.as_dict(), "places": places, "count": len(self.places)}

    def __str__(self) -> str:
        if len(self.places) == 1:
            return str(self.first)
        here: list[str] = []
        before = (self.first.file, self.first.column)
        for file, row, column in self.places[1 : SHOWN + 1]:
            here.append(f"row {row}" if (file, column) == before else ", ".join(filter(None, [file, f"row {row}", column])))
            before = (file, column)
        left = len(self.places) - 1 - len(here)
        return f"{self.first}\n    Also in {'; '.join(here)}{f' and {left:,} more' if left else ''}."


def grouped(found: Iterable[Finding]) -> list[Group]:
    """Findings of the same problem with the same value in columns of one name as one, in the order of their first places.

    Those of a whole file stay apart.
    """
    groups: dict[tuple[object, ...], list[Place]] = {}
    first: dict[tuple[object, ...], Finding] = {}
    for each in found:
        alone = () if each.row else (each.file,)
        said = (each.severity, each.column, each.value, each.problem, *alone)
        first.setdefault(said, each)
        groups.setdefault(said, []).append((each.file, each.row, each.column))
    return [Group(first[said], places) for said, places in groups.items()]


def said(found: Iterable[Finding]) -> str:
    """A page of findings as text, and how many more there are."""
    groups = grouped(found)
    left = sum(len(group.places) for group in groups[A_PAGE:])
    return "\n".join([*map(str, groups[:A_PAGE]), *([f"... and {left:,} more."] if left else [])])
