"""The tables of the built file: those of the dataset under their own names, generated from the records, and those derived from them.

All are STRICT. Base tables have the constraints of the records as CHECKs and their references as foreign keys. A key of several
columns is also kept as one text, `key`, joined with `/`, so that every row has one name.

sqlite-utils makes the derived tables with their keys, the indexes and the full-text search. It has no words for a CHECK or for a second
key of several columns, and looks a reference up when it is declared, so that a table could only point at earlier ones: the tables of the
dataset are written as SQL.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from kb.words.records import TABLES, Record
from kb.words.records.columns import Column, columns
from kb.words.records.record import normal_form

if TYPE_CHECKING:
    from sqlite_utils import Database

# The columns that a build adds to a table, with their SQL and what they hold.
ADDED = {
    "parts": (("normal", "TEXT NOT NULL"),),
    "marks": (("normal", "TEXT NOT NULL"),),
    "pictures": (("media_type", "TEXT NOT NULL"), ("data", "BLOB NOT NULL")),
}
_NORMAL_OF = {"parts": "part_number", "marks": "text"}

# What a build derives: its tables, and of each the columns with their kind, or the table whose key they hold. The first column is the
# primary key; `?` behind a name: it may be empty.
DERIVED: dict[str, dict[str, type | str]] = {
    "mark_variants": {"key": str, "mark_id": "marks", "variant_id": "variants"},
    "lines": {"line_id": str, "series_id": "series", "line?": str, "position": int},
    "line_blocks": {
        "block_id": "blocks", "line_id": "lines", "position": int, "first": int, "last": int, "order_first": int, "units": float,
        "built_first?": str, "built_last?": str,
    },
    "line_block_models": {"key": str, "block_id": "line_blocks", "model_id?": "models", "units": float},
    "cells": {"line_id": "lines", "models": str, "count": int, "data": bytes},
    "as_built": {"as_built_id": str, "line_id": "lines", "component_id": "components", "variants": str, "data": bytes},
    "changeovers": {
        "changeover_id": str, "line_id": "lines", "series_id": "series", "line?": str, "component_id": "components", "model_id?": "models",
        "old_variant_id": "variants", "new_variant_id": "variants", "units_concerned": int, "first_new": str, "first_new_order": int,
        "low": str, "low_order": int, "high": str, "high_order": int, "probability": float, "mixed": str, "sightings": int,
        "seek_serial?": str, "seek_gain_bits?": float, "both_to?": str,
    },
    "changeover_claims": {"key": str, "changeover_id": "changeovers", "breakpoint_id": "breakpoints", "standing": str, "probability": float},
    "changeover_odd_sightings": {"key": str, "changeover_id": "changeovers", "sighting_id": "sightings", "probability": float},
    "text_models": {"kind": str, "data": bytes},
    "mark_index": {"kind": str, "data": bytes},
    "supersession_closure": {"key": str, "from_part": "parts", "to_part": "parts"},
    "disputes": {"dispute_id": str, "kind": str, "subject": str, "text": str, "sources": str},
    "build_info": {"name": str, "value": str},
}  # fmt: skip

# What is asked for other than by key: the name of the index, its table, its columns.
INDEXES = (
    ("parts_normal", "parts", ("normal",)),
    ("marks_normal", "marks", ("normal",)),
    ("mark_variants_mark", "mark_variants", ("mark_id",)),
    ("mark_variants_variant", "mark_variants", ("variant_id",)),
    ("variants_component", "variants", ("component_id",)),
    ("blocks_series", "blocks", ("series_id",)),
    ("breakpoints_component", "breakpoints", ("series_id", "component_id")),
    ("sightings_component", "sightings", ("series_id", "component_id")),
    ("fitments_part", "fitments", ("part_number",)),
    ("fitments_role", "fitments", ("component_id", "role")),
    ("supersessions_old", "supersessions", ("old_part",)),
    ("supersessions_new", "supersessions", ("new_part",)),
    ("supersession_closure_from", "supersession_closure", ("from_part",)),
    ("supersession_closure_to", "supersession_closure", ("to_part",)),
    ("contents_part", "contents", ("part_number",)),
    ("pictures_shows", "pictures", ("shows", "shows_id")),
    ("steps_procedure", "steps", ("procedure_id", "position")),
    ("line_blocks_line", "line_blocks", ("line_id", "position")),
    ("line_block_models_block", "line_block_models", ("block_id",)),
)

SEARCHED = {
    "parts": ("part_number", "description", "note"),
    "models": ("name", "note"),
    "marks": ("text", "note"),
    "components": ("name", "assembly", "where_to_look", "note"),
    "variants": ("name", "how_to_tell", "note"),
}


def quoted(name: str) -> str:
    """A name as SQL writes it, whatever is in it."""
    return '"' + name.replace('"', '""') + '"'


def stored_tables(public: bool) -> list[str]:
    """The tables of the dataset that a build stores."""
    return [table for table, record in TABLES.items() if not (public and record.private_table)]


def stored_columns(table: str, public: bool) -> list[Column]:
    """The columns of a table that a build stores."""
    return [column for column in columns(table) if not (public and column.private)]


def create_table(table: str, public: bool, own_columns: Iterable[str] = ()) -> str:
    """The SQL that makes a base table; `own_columns` are the x_ columns that somebody added to the file."""
    record = TABLES[table]
    parts = []
    if len(record.key) > 1:
        parts.append('"key" TEXT PRIMARY KEY')
    parts += [_column(record, column) for column in stored_columns(table, public)]
    parts += [f"{quoted(name)} {kind}" for name, kind in ADDED.get(table, ())]
    parts += [f"{quoted(name)} TEXT" for name in own_columns]
    if len(record.key) > 1:
        parts.append(f"UNIQUE ({', '.join(map(quoted, record.key))})")
    return f"CREATE TABLE {quoted(table)} (\n    " + ",\n    ".join(parts) + "\n) STRICT"


def create_derived(database: Database) -> None:
    """Make the tables of what is derived; those of the dataset are there."""
    for table, described in DERIVED.items():
        kinds = {name.rstrip("?"): kind for name, kind in described.items()}
        key, *others = described
        database.table(table).create(
            {name: str if isinstance(kind, str) else kind for name, kind in kinds.items()},
            pk=key,
            not_null={name for name in others if not name.endswith("?")},
            foreign_keys=[(name, kind, _key_of(kind)) for name, kind in kinds.items() if isinstance(kind, str)],
            strict=True,
        )


def create_indexes(database: Database) -> None:
    """Make the indexes, once the rows are there."""
    for name, table, of in INDEXES:
        database.table(table).create_index(of, name)


def create_search(database: Database, table: str) -> None:
    """Make and fill the full-text index of a table, once the rows are there."""
    database.table(table).enable_fts(SEARCHED[table], tokenize="unicode61 remove_diacritics 2").optimize()


def insert(table: str, public: bool, own_columns: Sequence[str] = ()) -> str:
    """The SQL that stores one row as `values` gives it, with the added and own columns behind."""
    names = ["key"] if len(TABLES[table].key) > 1 else []
    names += [column.name for column in stored_columns(table, public)]
    names += [name for name, _ in ADDED.get(table, ())] + list(own_columns)
    return f"INSERT INTO {quoted(table)} ({', '.join(map(quoted, names))}) VALUES ({', '.join('?' * len(names))})"


def values(table: str, records: Iterable[Record], public: bool) -> Iterable[tuple[Any, ...]]:
    """The rows of a table as SQLite takes them: lists joined with `;`, the key of several columns first, the normal form last.

    The bytes of pictures and the x_ columns are not the record's, and are left to the caller.
    """
    stored = stored_columns(table, public)
    get = attrgetter(*(column.name for column in stored))
    lists = [at for at, column in enumerate(stored) if column.kind == "ids"]
    compound = len(TABLES[table].key) > 1
    normal_of = _NORMAL_OF.get(table)
    if not (lists or compound or normal_of):
        return map(get, records)
    return (_row(record, get(record), lists, compound, normal_of) for record in records)


def _row(record: Record, row: tuple[Any, ...], lists: list[int], compound: bool, normal_of: str | None) -> tuple[Any, ...]:
    if lists:
        cells = list(row)
        for at in lists:
            cells[at] = ";".join(cells[at]) or None
        row = tuple(cells)
    if compound:
        row = (record.key_text, *row)
    return (*row, normal_form(getattr(record, normal_of))) if normal_of else row


def _key_of(table: str) -> str:
    return TABLES[table].key[0] if table in TABLES else next(iter(DERIVED[table]))


def _column(record: type[Record], column: Column) -> str:
    name = quoted(column.name)
    kind = {"whole": "INTEGER", "yes/no": "INTEGER", "number": "REAL"}.get(column.kind, "TEXT")
    words = [name, kind]
    if record.key == (column.name,):
        words.append("PRIMARY KEY")
    if column.required or (column.default is not None and column.kind != "ids"):
        words.append("NOT NULL")
    checks = [
        f"{name} >= {column.least}" if column.least is not None else "",
        f"{name} <= {column.most}" if column.most is not None else "",
    ]
    checks.append(f"{name} > {column.above:g}" if column.above is not None else "")
    checks.append(f"{name} IN (0, 1)" if column.kind == "yes/no" else "")
    checks.append(f"{name} IN ({', '.join(repr(choice) for choice in column.choices)})" if column.choices else "")
    if any(checks):
        words.append(f"CHECK ({' AND '.join(check for check in checks if check)})")
    if column.points_at and column.kind != "ids":
        words.append(f"REFERENCES {quoted(column.points_at)}({quoted(TABLES[column.points_at].key[0])})")
    return " ".join(words)
