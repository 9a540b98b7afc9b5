"""Changes to a dataset folder: rows added, cells changed, rows retracted. Nothing is ever deleted.

A change is first tried on a copy, with the same check as `kb check`: what would be refused there because of it is refused here, and
nothing is written. Then all files change or none, starting with those that others refer to. `load` is the function that reads a folder
(`loaders.folder.load`), because this room does not deal with file formats.
"""

from collections.abc import Callable, Mapping, Sequence
from graphlib import TopologicalSorter
from pathlib import Path

from kb.dataset.changes import Change, Load, NewCell, NewRow, Refused, Written
from kb.dataset.draft import Draft
from kb.dataset.lock import locked, replace_together
from kb.dataset.trial import as_it_is, news, with_files
from kb.words.dataset import Dataset
from kb.words.errors import DataError
from kb.words.records import TABLES
from kb.words.records.columns import columns

Plan = Sequence[Change] | Callable[[Dataset], Sequence[Change]]
_ROUNDS = 50  # of leaving out rows, and then those that named them


def add(folder: Path, table: str, values: Mapping[str, str], *, load: Load) -> Written:
    """Append one row. An id that only numbers rows (that of a sighting, say) may be left out; the next one is then used.

    Raises:
        Refused: the row, or the dataset with it, is not valid.
        FileError: the folder cannot be read or written.
    """
    return apply(folder, [NewRow(table, values)], load=load)


def retract(folder: Path, key: str, because: str, *, load: Load, table: str | None = None) -> Written:
    """Write a reason into `retracted` of the row with this id. The row is kept but no longer used.

    Raises:
        DataError: no row has the id, several tables have it, its file has no column `retracted`, or it is retracted already.
        Refused: other rows need this one.
        FileError: the folder cannot be read or written.
    """
    if not because.strip():
        raise DataError("A retraction without a reason.", "Say why the row is no longer held to be true.")
    with locked(folder):
        name = _table_of(load([folder]).dataset, key, table)
        return _apply(folder, [NewCell(name, key, "retracted", because.strip())], load, partly=False)


def apply(folder: Path, changes: Plan, *, load: Load, partly: bool = False) -> Written:
    """Make many changes at once, or those that a function derives from the present dataset. Rows that already exist, cell by cell,
    count as unchanged.

    partly: leave out what is refused (and everything else from the same row of the same list) and report it in `rejected`;
    else one refusal refuses all.

    Raises:
        Refused: something is not valid, and leaving out rows does not help.
        FileError: the folder cannot be read or written.
    """
    with locked(folder):
        return _apply(folder, changes, load, partly)


def _apply(folder: Path, changes: Plan, load: Load, partly: bool) -> Written:
    before = as_it_is(folder, load)
    if not isinstance(changes, Sequence):
        changes = changes(before.dataset if before else Dataset())
    draft = Draft(folder, before, changes)
    for _ in range(_ROUNDS):
        if draft.rejected and not partly:
            raise Refused([each for found in draft.rejected.values() for each in found])
        if not draft.alive:
            return Written(unchanged=draft.unchanged, rejected=draft.rejected)
        files = draft.files()
        after = with_files(folder, {draft.file_of(table): data for table, data in files.items()}, load)
        errors = news(before, after, "error")
        if not errors:
            rows = draft.read_back(after)
            _write(draft, files)
            return Written(rows, tuple(news(before, after, "doubt")), draft.unchanged, draft.rejected)
        if not draft.reject(errors):
            break
    raise Refused(errors)


def _write(draft: Draft, files: Mapping[str, bytes]) -> None:
    """Files that others refer to come first, so that anybody who reads between two writes finds a valid dataset."""
    arrows = {table: {c.points_at for c in columns(table) if c.points_at and c.points_at != table} for table in files}
    order = [table for table in TopologicalSorter(arrows).static_order() if table in files]
    replace_together(draft.folder, {draft.file_of(table): files[table] for table in order}, draft.read)


def _table_of(dataset: Dataset, key: str, table: str | None) -> str:
    """The table of the row to retract."""
    found = [name for name, rows in dataset.tables() if table in (None, name) and any(row.key_text == key for row in rows)]
    if not found:
        where = f" in {table}.csv" if table else ""
        raise DataError(f'No row{where} has the id "{key}".', "Look its id up in the files; kb review and kb check name the ids they speak of.")
    can = [name for name in found if "retracted" in TABLES[name].model_fields]
    if not can:
        claims = ", ".join(name for name, record in TABLES.items() if "retracted" in record.model_fields)
        remedy = f"Only these can be: {claims}. Retract those that name it, or correct the row itself."
        raise DataError(f'"{key}" is in {found[0]}.csv, whose rows cannot be retracted.', remedy)
    if len(can) > 1:
        raise DataError(f'"{key}" is an id in {" and in ".join(f"{name}.csv" for name in can)}.', "Say which one is meant with --table.")
    row = next(row for row in getattr(dataset, can[0]) if row.key_text == key)
    if row.retracted:
        raise DataError(f'"{key}" is retracted already: {row.retracted}', "Nothing to do.")
    return can[0]
