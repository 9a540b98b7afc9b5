"""Writing the CSV files of a dataset folder, a million rows in seconds."""

import csv
from collections.abc import Iterable, Mapping, Sequence
from itertools import chain
from pathlib import Path

from kb.words.records import TABLES


def write(folder: Path, table: str, rows: Iterable[Mapping[str, object]]) -> int:
    """Write one file from rows as mappings; columns that no row has are left out, the file too if there are no rows. Returns the count."""
    kept = list(rows)
    present = set(chain.from_iterable(kept))
    columns = [name for name in TABLES[table].model_fields if name in present]
    if unknown := present.difference(columns):
        raise ValueError(f"{table}.csv has no column {', '.join(sorted(unknown))}.")
    return write_columns(folder, table, {name: [row.get(name, "") for row in kept] for name in columns})


def write_columns(folder: Path, table: str, columns: Mapping[str, Sequence[object]]) -> int:
    """Write one file from columns of equal length. Returns the count of rows."""
    count = len(next(iter(columns.values()), ()))
    path = folder / f"{table}.csv"
    if not count:
        path.unlink(missing_ok=True)
        return 0
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(zip(*columns.values(), strict=True))
    return count
