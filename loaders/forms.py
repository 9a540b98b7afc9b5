"""Sightings from a form that members fill in: its export as CSV, XLSX or JSON Lines, a row for each answer.

The export is imported again and again as it grows: what is already in the dataset, whatever its id, is not added twice.
"""

from collections.abc import Callable, Sequence
from pathlib import Path

from pydantic import ValidationError

from kb.dataset.changes import NewRow
from kb.words.dataset import Dataset
from kb.words.records import Record, Sighting
from kb.words.records.columns import columns
from loaders import columnmap, listing

TABLE = "sightings"


def read(path: Path, mapping: Path | None = None) -> tuple[listing.Listing, list[NewRow]]:
    """The list, and a new sighting for each of its rows that could be read.

    Raises:
        FileError: the list or the mapping cannot be read.
        DataError: the mapping, or a heading of the list, is not known.
    """
    known = columns(TABLE)
    if mapping is not None:
        how = columnmap.parse(mapping, known)
        form = listing.read(path, sheet=how.sheet, as_text=how.as_text(known))
    else:
        form = listing.read(path, as_text={column.name for column in known})
        how = columnmap.of_same_names(form, known)
    return form, [NewRow(TABLE, values, form.file, row) for row, values in how.applied(form, known)]


def unknown_yet(rows: Sequence[NewRow]) -> Callable[[Dataset], list[NewRow]]:
    """The rows that are not in the dataset yet; of two identical ones, one."""

    def plan(dataset: Dataset) -> list[NewRow]:
        seen = {_apart_from_id(row) for row in dataset.sightings}
        ids = {row.sighting_id for row in dataset.sightings}
        fresh = []
        for row in rows:
            try:
                record = Sighting.model_validate({"sighting_id": "x", **{k: v for k, v in row.values.items() if not k.startswith("x_")}})
            except ValidationError:
                fresh.append(row)  # it will be refused, with the reasons
                continue
            what = _apart_from_id(record)
            if what not in seen or record.sighting_id in ids:
                seen.add(what)
                fresh.append(row)
        return fresh

    return plan


def _apart_from_id(row: Record) -> Record:
    return row.model_copy(update={"sighting_id": "", "retracted": None})
