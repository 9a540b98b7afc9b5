"""Ids that name nothing, keys given twice, and keys that only look different."""

import difflib
from collections.abc import Iterator, Mapping
from collections.abc import Set as AbstractSet
from operator import attrgetter

from kb.dataset.rules.problem import Known, RowProblem
from kb.words.dataset import Dataset
from kb.words.notation import simplify
from kb.words.records import TABLES, Record
from kb.words.records.columns import Column, columns

SHOWS = {"variant": "variants", "mark": "marks", "feature": "features", "component": "components", "series": "series", "source": "sources"}
_LOOKS_LIKE = str.maketrans("oli_", "011-")
_SUGGEST_UP_TO = 5000  # keys: looking for the nearest among more takes too long
_SUGGESTIONS = 50  # for the first problems; whoever has more has a systematic mistake


def check(dataset: Dataset, known: Known) -> Iterator[RowProblem]:
    """All problems with keys and references."""
    rows = dict(dataset.tables())
    keys: dict[str, AbstractSet[str]] = {table: _keys(records) for table, records in rows.items()}
    yield from _twice(rows, keys)
    yield from _look_alike(rows)
    keys |= {table: keys[table] | wrong for table, wrong in known.keys.items()}
    names = _Names(keys)
    pointed_at_absent: dict[str, tuple[str, int, str, str]] = {}
    for table, records in rows.items():
        for column in columns(table):
            if column.points_at is None or column.points_at in known.unsure:
                continue
            for index, value in _pointing_nowhere(records, column, keys[column.points_at]):
                if column.points_at in known.absent:
                    pointed_at_absent.setdefault(column.points_at, (table, index, column.name, value))
                else:
                    yield RowProblem(table, index, column.name, f'"{value}" is not in {column.points_at}.csv.', names.remedy(column.points_at, value))
    for index, picture in enumerate(dataset.pictures):
        table = SHOWS[picture.shows]
        if table in known.absent and picture.shows_id not in keys[table]:
            pointed_at_absent.setdefault(table, ("pictures", index, "shows_id", picture.shows_id))
        elif table not in known.unsure and picture.shows_id not in keys[table]:
            yield RowProblem("pictures", index, "shows_id", f'"{picture.shows_id}" is not in {table}.csv.', names.remedy(table, picture.shows_id))
    for missing, (table, index, name, value) in pointed_at_absent.items():
        key = rows[table][index].key_text
        problem = f'The file is missing, but {table}.csv ("{key}") refers to it: {name} "{value}".'
        yield RowProblem(missing, None, "", problem, f"Add {missing}.csv; kb template writes an empty one.")


def _keys(records: tuple[Record, ...]) -> frozenset[str]:
    if records and len(records[0].key) == 1:
        return frozenset(map(attrgetter(records[0].key[0]), records))
    return frozenset(record.key_text for record in records)


def _pointing_nowhere(records: tuple[Record, ...], column: Column, target: AbstractSet[str]) -> Iterator[tuple[int, str]]:
    """(index, id) of what names nothing; where all is well, one look at the column as a whole."""
    cells = list(map(attrgetter(column.name), records))
    if column.kind == "ids":
        return ((index, each) for index, cell in enumerate(cells) for each in cell if each not in target)
    if set(cells) - target <= {None}:
        return iter(())
    return ((index, cell) for index, cell in enumerate(cells) if cell is not None and cell not in target)


class _Names:
    """Finds the key that was probably meant."""

    def __init__(self, keys: Mapping[str, AbstractSet[str]]) -> None:
        self._keys = keys
        self._sorted: dict[str, list[str]] = {}
        self._simple: dict[str, dict[str, str]] = {}
        self._left = _SUGGESTIONS

    def remedy(self, table: str, value: str) -> str:
        """What to do about an id that names nothing."""
        near = self._nearest(table, value)
        add = f"add it to {table}.csv" if near else f"Add it to {table}.csv, or correct it here"
        return f'Write "{near}", or {add}.' if near else f"{add}."

    def _nearest(self, table: str, value: str) -> str | None:
        if self._left <= 0 or len(self._keys[table]) > _SUGGEST_UP_TO:
            return None
        self._left -= 1
        if table not in self._sorted:
            self._sorted[table] = sorted(self._keys[table])
            self._simple[table] = {simplify(key.replace("_", "-")): key for key in self._sorted[table]}
        same = self._simple[table].get(simplify(value.replace("_", "-")))
        return same or next(iter(difflib.get_close_matches(value, self._sorted[table], n=1, cutoff=0.7)), None)  # numeric


def _twice(rows: Mapping[str, tuple[Record, ...]], keys: Mapping[str, AbstractSet[str]]) -> Iterator[RowProblem]:
    """Keys given twice. A loader has dropped such rows already and reported them with both places; this is for datasets made otherwise."""
    for table, records in rows.items():
        if len(keys[table]) == len(records):
            continue
        seen: set[str] = set()
        for index, record in enumerate(records):
            key = record.key_text
            if key in seen:
                problem = f'The key "{key}" is given twice.'
                yield RowProblem(table, index, TABLES[table].key[0], problem, "Give the row another key, or delete one of the two.")
            seen.add(key)


def _look_alike(rows: Mapping[str, tuple[Record, ...]]) -> Iterator[RowProblem]:
    """Ids that differ only in o and 0, l or i and 1, dash and underscore: one of them is probably a slip."""
    for table, records in rows.items():
        key = TABLES[table].key
        if not records or len(key) > 1 or columns(table)[0].kind != "id":
            continue
        names = list(map(attrgetter(key[0]), records))
        alike = "\n".join(names).translate(_LOOKS_LIKE).split("\n")
        if len(set(alike)) == len(set(names)):
            continue
        seen: dict[str, str] = {}
        for index, (name, plain) in enumerate(zip(names, alike, strict=True)):
            other = seen.setdefault(plain, name)
            if other != name:
                problem = f'"{name}" looks like "{other}", which is another row.'
                remedy = "If both mean the same, use one spelling; if not, choose ids that cannot be confused."
                yield RowProblem(table, index, key[0], problem, remedy, "doubt", "look-alike", name)
