"""The tables of the built file: those of the dataset under their own names, generated from the records, and those derived from them.

Base tables are STRICT, with the constraints of the records as CHECKs and their references as foreign keys. A key of several
columns is also kept as one text, `key`, joined with `/`, so that every row has one name.
"""

from collections.abc import Iterable, Sequence
from operator import attrgetter
from typing import Any

from kb.words.records import TABLES, Record
from kb.words.records.columns import Column, columns
from kb.words.records.record import normal_form

# The columns that a build adds to a table, with their SQL and what they hold.
ADDED = {
    "parts": (("normal", "TEXT NOT NULL"),),
    "marks": (("normal", "TEXT NOT NULL"),),
    "pictures": (("media_type", "TEXT NOT NULL"), ("data", "BLOB NOT NULL")),
}
_NORMAL_OF = {"parts": "part_number", "marks": "text"}

DERIVED = """
CREATE TABLE mark_variants (key TEXT PRIMARY KEY, mark_id TEXT NOT NULL REFERENCES marks(mark_id), variant_id TEXT NOT NULL REFERENCES variants(variant_id)) STRICT;
CREATE TABLE lines (line_id TEXT PRIMARY KEY, series_id TEXT NOT NULL REFERENCES series(series_id), line TEXT, position INTEGER NOT NULL) STRICT;
CREATE TABLE line_blocks (block_id TEXT PRIMARY KEY REFERENCES blocks(block_id), line_id TEXT NOT NULL REFERENCES lines(line_id),
    position INTEGER NOT NULL, first INTEGER NOT NULL, last INTEGER NOT NULL, order_first INTEGER NOT NULL, units REAL NOT NULL,
    built_first TEXT, built_last TEXT) STRICT;
CREATE TABLE line_block_models (key TEXT PRIMARY KEY, block_id TEXT NOT NULL REFERENCES line_blocks(block_id),
    model_id TEXT REFERENCES models(model_id), units REAL NOT NULL) STRICT;
CREATE TABLE cells (line_id TEXT PRIMARY KEY REFERENCES lines(line_id), models TEXT NOT NULL, count INTEGER NOT NULL, data BLOB NOT NULL) STRICT;
CREATE TABLE as_built (as_built_id TEXT PRIMARY KEY, line_id TEXT NOT NULL REFERENCES lines(line_id),
    component_id TEXT NOT NULL REFERENCES components(component_id), variants TEXT NOT NULL, data BLOB NOT NULL) STRICT;
CREATE TABLE changeovers (changeover_id TEXT PRIMARY KEY, line_id TEXT NOT NULL REFERENCES lines(line_id),
    series_id TEXT NOT NULL REFERENCES series(series_id), line TEXT, component_id TEXT NOT NULL REFERENCES components(component_id),
    model_id TEXT REFERENCES models(model_id), old_variant_id TEXT NOT NULL REFERENCES variants(variant_id),
    new_variant_id TEXT NOT NULL REFERENCES variants(variant_id), units_concerned INTEGER NOT NULL, first_new TEXT NOT NULL,
    first_new_order INTEGER NOT NULL, low TEXT NOT NULL, low_order INTEGER NOT NULL, high TEXT NOT NULL, high_order INTEGER NOT NULL,
    probability REAL NOT NULL, mixed TEXT NOT NULL, sightings INTEGER NOT NULL, seek_serial TEXT, seek_gain_bits REAL,
    both_to TEXT) STRICT;
CREATE TABLE changeover_claims (key TEXT PRIMARY KEY, changeover_id TEXT NOT NULL REFERENCES changeovers(changeover_id),
    breakpoint_id TEXT NOT NULL REFERENCES breakpoints(breakpoint_id), standing TEXT NOT NULL, probability REAL NOT NULL) STRICT;
CREATE TABLE changeover_odd_sightings (key TEXT PRIMARY KEY, changeover_id TEXT NOT NULL REFERENCES changeovers(changeover_id),
    sighting_id TEXT NOT NULL REFERENCES sightings(sighting_id), probability REAL NOT NULL) STRICT;
CREATE TABLE text_models (kind TEXT PRIMARY KEY, data BLOB NOT NULL) STRICT;
CREATE TABLE mark_index (kind TEXT PRIMARY KEY, data BLOB NOT NULL) STRICT;
CREATE TABLE supersession_closure (key TEXT PRIMARY KEY, from_part TEXT NOT NULL REFERENCES parts(part_number),
    to_part TEXT NOT NULL REFERENCES parts(part_number)) STRICT;
CREATE TABLE disputes (dispute_id TEXT PRIMARY KEY, kind TEXT NOT NULL, subject TEXT NOT NULL, text TEXT NOT NULL, sources TEXT NOT NULL) STRICT;
CREATE TABLE build_info (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
"""  # noqa: E501

# What is asked for other than by key.
INDEXES = """
CREATE INDEX parts_normal ON parts(normal);
CREATE INDEX marks_normal ON marks(normal);
CREATE INDEX mark_variants_mark ON mark_variants(mark_id);
CREATE INDEX mark_variants_variant ON mark_variants(variant_id);
CREATE INDEX variants_component ON variants(component_id);
CREATE INDEX blocks_series ON blocks(series_id);
CREATE INDEX breakpoints_component ON breakpoints(series_id, component_id);
CREATE INDEX sightings_component ON sightings(series_id, component_id);
CREATE INDEX fitments_part ON fitments(part_number);
CREATE INDEX fitments_role ON fitments(component_id, role);
CREATE INDEX supersessions_old ON supersessions(old_part);
CREATE INDEX supersessions_new ON supersessions(new_part);
CREATE INDEX supersession_closure_from ON supersession_closure(from_part);
CREATE INDEX supersession_closure_to ON supersession_closure(to_part);
CREATE INDEX contents_part ON contents(part_number);
CREATE INDEX pictures_shows ON pictures(shows, shows_id);
CREATE INDEX steps_procedure ON steps(procedure_id, position);
CREATE INDEX line_blocks_line ON line_blocks(line_id, position);
CREATE INDEX line_block_models_block ON line_block_models(block_id);
"""

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


def create_search(table: str) -> list[str]:
    """The SQL that makes and fills the full-text index of a table."""
    index = f"{table}_fts"
    named = ", ".join(SEARCHED[table])
    return [
        f"CREATE VIRTUAL TABLE {index} USING FTS5 ({named}, content=\"{table}\", tokenize='unicode61 remove_diacritics 2')",
        f"INSERT INTO {index} ({index}) VALUES ('rebuild')",
        f"INSERT INTO {index} ({index}) VALUES ('optimize')",
    ]


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
