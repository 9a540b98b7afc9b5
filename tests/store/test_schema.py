"""What a build derives is stored under the constraints that the SQL below states, whoever writes the tables.

Oracle: SQLite itself, which is asked what it made of that SQL and of the built file.
"""

import sqlite3
from typing import Any

import pytest

from kb.store.build import build
from kb.store.schema import DERIVED, INDEXES, SEARCHED
from tests.dataset.rows import dataset

STATED = """
CREATE TABLE mark_variants (key TEXT PRIMARY KEY, mark_id TEXT NOT NULL REFERENCES marks(mark_id),
    variant_id TEXT NOT NULL REFERENCES variants(variant_id)) STRICT;
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
CREATE TABLE disputes (dispute_id TEXT PRIMARY KEY, kind TEXT NOT NULL, subject TEXT NOT NULL,
    text TEXT NOT NULL, sources TEXT NOT NULL) STRICT;
CREATE TABLE build_info (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
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


def tables_of(sql: str) -> list[str]:
    return [line.split()[2] for line in sql.splitlines() if line.startswith("CREATE TABLE")]


def indexes_of(sql: str) -> list[str]:
    return [line.split()[2] for line in sql.splitlines() if line.startswith("CREATE INDEX")]


def described(connection: sqlite3.Connection, table: str) -> dict[str, Any]:
    """Columns with type, NOT NULL, default and key; references; unique keys; STRICT and WITHOUT ROWID."""
    ask = connection.execute
    indexes = ask("SELECT name, \"unique\", origin FROM pragma_index_list(?)", (table,)).fetchall()
    return {
        "columns": ask("SELECT * FROM pragma_table_xinfo(?)", (table,)).fetchall(),
        "references": sorted(ask('SELECT "table", "from", "to", on_update, on_delete, "match" FROM pragma_foreign_key_list(?)', (table,))),
        "indexes": sorted((unique, origin, tuple(ask("SELECT name FROM pragma_index_info(?)", (name,)))) for name, unique, origin in indexes),
        "kind": ask("SELECT type, wr, strict FROM pragma_table_list(?)", (table,)).fetchall(),
    }


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> sqlite3.Connection:
    path = tmp_path_factory.mktemp("schema") / "kb.db"
    build(dataset(), path)
    return sqlite3.connect(f"file:{path}?mode=ro&immutable=1", uri=True)


@pytest.fixture(scope="module")
def stated(built: sqlite3.Connection) -> sqlite3.Connection:
    """The tables of the dataset as built, and the derived ones as stated."""
    connection = sqlite3.connect(":memory:")
    for (sql,) in built.execute("SELECT sql FROM sqlite_master WHERE type = 'table' AND name NOT LIKE '%_fts%' AND name NOT LIKE 'sqlite_%'"):
        if sql.split('"')[1] not in DERIVED:
            connection.execute(sql)
    connection.executescript(STATED)
    return connection


@pytest.mark.parametrize("table", tables_of(STATED))
def test_a_derived_table_has_every_constraint(built: sqlite3.Connection, stated: sqlite3.Connection, table: str) -> None:
    assert described(stated, table)["columns"]
    assert described(built, table) == described(stated, table)


@pytest.mark.parametrize("index", indexes_of(STATED))
def test_an_index_is_on_its_columns_in_order(built: sqlite3.Connection, stated: sqlite3.Connection, index: str) -> None:
    asked = "SELECT tbl_name, seqno, info.name FROM sqlite_master m, pragma_index_info(m.name) info WHERE m.name = ? AND m.type = 'index'"
    assert built.execute(asked, (index,)).fetchall() == stated.execute(asked, (index,)).fetchall() != []


def test_nothing_is_built_that_is_not_stated(built: sqlite3.Connection) -> None:
    assert sorted(DERIVED) == sorted(tables_of(STATED))
    assert sorted(name for name, _, _ in INDEXES) == sorted(indexes_of(STATED))


@pytest.mark.parametrize("table", SEARCHED)
def test_search_is_over_the_rows_of_the_table_itself_whatever_the_accents(built: sqlite3.Connection, table: str) -> None:
    """The index keeps no copy of the text."""
    [(sql,)] = built.execute("SELECT sql FROM sqlite_master WHERE name = ?", (f"{table}_fts",))
    assert "unicode61 remove_diacritics 2" in sql
    assert f'content="{table}"' in sql
    count = f"SELECT count(*) FROM {table}"
    assert built.execute(f"SELECT count(*) FROM {table}_fts_docsize").fetchall() == built.execute(count).fetchall()
