"""A supplier's parts list: any CSV or XLSX with a column mapping, into parts, what can be bought, and supersessions.

A number is the same number whatever its spaces and dashes. Nothing that the dataset says about a part is overwritten except whether it can be
bought, because a supplier knows that best. A description that differs is reported, because one of the two may be wrong.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, get_args

from kb.dataset.changes import Change, NewCell, NewRow
from kb.words.dataset import Dataset
from kb.words.errors import DataError
from kb.words.notation import normalise
from kb.words.records import Part
from kb.words.records.columns import columns
from loaders import columnmap
from loaders.listing import Listing
from loaders.listing import read as read_list
from loaders.rejects import Rejected

_MORE = ("new_part", "quantity", "direction")  # a replacement: columns of supersessions.csv


Kind = Literal["new", "changed", "superseded", "described otherwise", "unknown"]
KINDS: tuple[Kind, ...] = get_args(Kind)


@dataclass(frozen=True)
class News:
    """Something that the list says and the dataset did not: a number, and what was and is said about it."""

    kind: Kind
    row: int
    part_number: str
    before: str = ""
    now: str = ""


@dataclass
class PartsList:
    """A list, and what it changes in a dataset: call `plan` with the dataset, make the changes, then ask for the `report`."""

    listing: Listing
    rows: list[tuple[int, dict[str, str]]]
    add_new: bool
    planned: list[Change] = field(default_factory=list)
    _news: list[News] = field(default_factory=list)
    _cells: dict[int, dict[str, str]] = field(default_factory=dict)

    def report(self, rejected: Iterable[int] = ()) -> list[News]:
        """What is new, changed, replaced, described differently or unknown, without the rejected changes (by their number)."""
        rows = {self.planned[number].row for number in rejected} | {each.row for each in self.listing.rejected}
        return [each for kind in KINDS for each in self._news if each.kind == kind and each.row not in rows]

    def plan(self, dataset: Dataset) -> Sequence[Change]:
        """The changes. Rows are rejected if their numbers cannot be read, if they are in the list twice, or if they name an unknown replacement."""
        self._news, self.planned = [], []
        self._cells = dict(self.listing.rows)
        parts = _Numbers(dataset)
        arrows = {(normalise(row.old_part), normalise(row.new_part)) for row in dataset.supersessions if not row.retracted}
        read: dict[str, tuple[int, dict[str, str]]] = {}
        for row, values in self.rows:
            number = values.get("part_number", "")
            try:
                normal = normalise(number)
            except DataError as error:
                self._reject(row, "part_number", number, error.problem, error.remedy)
                continue
            earlier = read.setdefault(normal, (row, values))
            if earlier[0] == row:
                continue
            if earlier[1] != values:
                problem = f"The number is in row {earlier[0]} already, with other values."
                self._reject(row, "part_number", number, problem, "Keep the right one of the two.")
        listed = {normal: values["part_number"] for normal, (_, values) in read.items()} if self.add_new else {}
        for normal, (row, values) in read.items():
            self._row(row, values, parts.find(normal, values.get("made_by")), parts, arrows, listed)
        return self.planned

    def _row(
        self, row: int, values: dict[str, str], part: Part | None, parts: "_Numbers", arrows: set[tuple[str, str]], listed: dict[str, str]
    ) -> None:
        number, file = values["part_number"], self.listing.file
        new_part = values.get("new_part")
        own = {name: text for name, text in values.items() if name not in _MORE}
        if part is None and not self.add_new:
            self._news.append(News("unknown", row, number))
            return
        changes: list[Change] = []
        if part is None:
            self._news.append(News("new", row, number, now=own.get("description", "")))
            changes.append(NewRow("parts", own, file, row))
        else:
            changes += self._known(row, own, part)
        if new_part:
            try:
                target = normalise(new_part)
            except DataError as error:
                self._reject(row, "new_part", new_part, error.problem, error.remedy)
                return
            other = parts.find(target, None)
            key = other.part_number if other else listed.get(target)
            if key is None:
                remedy = "Add it with kb add part, or bring a list that holds it."
                self._reject(row, "new_part", new_part, "The replacement is no part of the dataset.", remedy)
                return
            if (normalise(number), target) not in arrows:
                self._news.append(News("superseded", row, number, now=key))
                arrow = {"old_part": part.part_number if part else number, "new_part": key, "direction": values.get("direction", "one-way")}
                arrow |= {name: values[name] for name in ("quantity", "source_id") if name in values}
                changes.append(NewRow("supersessions", arrow, file, row))
        self.planned += changes

    def _known(self, row: int, values: dict[str, str], part: Part) -> list[Change]:
        """What the list says about a part that the dataset has."""
        theirs = values.get("description")
        if theirs is not None and theirs.casefold() != part.description.casefold():
            self._news.append(News("described otherwise", row, part.part_number, part.description, theirs))
        available = values.get("available")
        if available is None or available == part.available:
            return []
        self._news.append(News("changed", row, part.part_number, part.available, available))
        return [NewCell("parts", part.part_number, "available", available, self.listing.file, row)]

    def _reject(self, row: int, column: str, value: str, problem: str, remedy: str) -> None:
        found = self.listing.find(row, column, value, problem, remedy)
        self.listing.rejected.append(Rejected(self.listing.file, row, self._cells[row], (found,)))


def read(path: Path, mapping: Path) -> PartsList:
    """Read a list with its mapping.

    Raises:
        FileError: the list or the mapping cannot be read.
        DataError: the mapping names something that is not known, or no part number.
    """
    known = columns("parts")
    how = columnmap.parse(mapping, known, _MORE)
    if "part_number" not in how.columns:
        raise DataError(f"{mapping.name} does not say which column is the part number.", 'Write part_number = "their heading" below [columns].')
    listing = read_list(path, sheet=how.sheet, as_text=how.as_text(known))
    return PartsList(listing, how.applied(listing, known), how.add_new)


class _Numbers:
    """Finds a part by its number in normal form."""

    def __init__(self, dataset: Dataset) -> None:
        self._parts: dict[str, list[Part]] = {}
        for part in dataset.parts:
            self._parts.setdefault(normalise(part.part_number), []).append(part)

    def find(self, normal: str, made_by: str | None) -> Part | None:
        """The part; if several makers share the number, the one named, otherwise the first."""
        found = self._parts.get(normal, [])
        return next((part for part in found if part.made_by == made_by), found[0] if found and made_by is None else None)
