"""The built file: the same bytes twice, complete or not there at all, nothing private in a public one, and right in what is derived."""

import errno
import json
import os
import sqlite3
import stat
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.dataset import rules
from kb.output import writing as output
from kb.probability.channel.background import TextModel
from kb.probability.channel.marks import MarkIndex
from kb.store import build as building
from kb.store.build import BuildReport, build
from kb.store.schema import SEARCHED
from kb.words.dataset import Dataset
from kb.words.errors import DataError, FileError
from kb.words.records import TABLES
from kb.words.records.columns import columns
from tests.dataset.rows import dataset

PRIVATE = "Mrs Aldous, Mill Lane"
MORE: dict[str, list[dict[str, Any]]] = {
    "marks": [
        {"mark_id": "k-1", "variant_ids": "cover-early", "text": "h 41-20", "kind": "casting number", "note": "near the rim"},
        {"mark_id": "k-2", "variant_ids": "cover-late;head-early", "text": "H4121", "kind": "casting number"},
        {"mark_id": "k-3", "text": "F7", "kind": "foundry"},
    ],
    "block_models": [{"block_id": "b-3", "model_id": "m-1", "units": 60}, {"block_id": "b-3", "model_id": "m-2", "units": 40}],
    "breakpoints": [{"breakpoint_id": "p-2", "series_id": "frame", "component_id": "cover", "old_variant_id": "cover-early",
                     "new_variant_id": "cover-late", "first_new": "B00500", "source_id": "works"}],
    "sightings": [
        {"sighting_id": "s-1", "series_id": "frame", "serial": "B00700", "component_id": "cover", "mark_read": "H41?1", "original": "believed",
         "observer": PRIVATE, "evidence": PRIVATE},
        {"sighting_id": "s-2", "series_id": "frame", "serial": "B00050", "component_id": "cover", "variant_id": "cover-late", "original": "unknown"},
        {"sighting_id": "s-3", "series_id": "frame", "serial": "B99999", "component_id": "cover", "variant_id": "cover-late", "original": "unknown"},
    ],
    "supersessions": [{"supersession_id": "u-2", "old_part": "1407-A", "new_part": "900", "direction": "both-ways", "source_id": "list"}],
    "offers": [{"offer_id": "o-1", "part_number": "1407", "supplier": PRIVATE, "condition": "used", "as_of": "2024"}],
    "outcomes": [{"outcome_id": "c-1", "part_number": "1407", "result": "returned", "reason": PRIVATE}],
}  # fmt: skip


@pytest.fixture(scope="module")
def data() -> Dataset:
    whole: Dataset = dataset(**MORE)
    return whole


@pytest.fixture(scope="module")
def path(data: Dataset, tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("built") / "kb.db"
    build(data, target)
    return target


def ask(path: Path, sql: str, *values: object) -> list[tuple[Any, ...]]:
    connection = sqlite3.connect(f"file:{path}?mode=ro&immutable=1", uri=True)
    try:
        return connection.execute(sql, values).fetchall()
    finally:
        connection.close()


def test_the_same_dataset_gives_the_same_bytes(data: Dataset, path: Path, tmp_path: Path) -> None:
    build(data, tmp_path / "elsewhere.db")
    assert (tmp_path / "elsewhere.db").read_bytes() == path.read_bytes()


def test_another_row_or_assumption_gives_another_file(data: Dataset, path: Path, tmp_path: Path) -> None:
    one = build(dataset(**MORE, makers=[{"maker_id": "orlop", "name": "Orlop & Sons"}]), tmp_path / "one.db")
    two = build(data, tmp_path / "two.db", assumptions=Assumptions().override(interval_mass=0.5))
    info = dict(ask(path, "select name, value from build_info"))
    assert one.digest != info["dataset_digest"] == two.digest
    assert json.loads(dict(ask(tmp_path / "two.db", "select * from build_info"))["assumptions"])["interval_mass"] == 0.5


def test_the_report_says_what_was_built(data: Dataset, path: Path, tmp_path: Path) -> None:
    steps: list[tuple[str, int, int]] = []
    report = build(data, tmp_path / "kb.db", progress=lambda what, done, of: steps.append((what, done, of)))
    assert report.rows == {table: len(rows) for table, rows in data.tables()}
    assert (report.path, report.size, report.changeovers, report.public) == (tmp_path / "kb.db", path.stat().st_size, 1, False)
    assert [done for _, done, _ in steps] == list(range(len(steps)))
    assert steps[-1] == ("done", len(steps) - 1, len(steps) - 1)
    info = dict(ask(path, "select name, value from build_info"))
    assert set(info) == {"format", "program_version", "dataset_digest", "public", "rows", "changeovers", "replaced_rate", "assumptions", "learned"}
    assert json.loads(info["rows"]) == report.rows


def test_every_reference_in_the_file_holds(path: Path) -> None:
    assert ask(path, "pragma foreign_key_check") == []
    assert ask(path, "pragma integrity_check") == [("ok",)]


@pytest.mark.parametrize("table", TABLES)
def test_a_table_holds_what_the_records_hold(data: Dataset, path: Path, table: str) -> None:
    names = [column.name for column in columns(table)]
    quoted = ", ".join(f'"{name}"' for name in names)
    stored = ask(path, f"select {quoted} from {table} order by rowid")
    rows = [tuple(getattr(row, name) for name in names) for row in getattr(data, table)]
    assert stored == [tuple(";".join(cell) or None if isinstance(cell, tuple) else cell for cell in row) for row in rows]


@pytest.mark.parametrize("table", [table for table, record in TABLES.items() if len(record.key) > 1])
def test_a_key_of_several_columns_is_one_text_too(data: Dataset, path: Path, table: str) -> None:
    assert [key for (key,) in ask(path, f"select key from {table} order by rowid")] == [row.key_text for row in getattr(data, table)]


@pytest.mark.parametrize(("table", "values"), [
    ("makers", "('Orlop Two', NULL, NULL, NULL)"),  # no name
    ("makers", "('orlop', 'Orlop', NULL, NULL)"),  # the key is there
    ("sources", "('x', 'X', 'parts list', NULL, 'E', NULL, NULL)"),  # no such grade
    ("block_models", "('b-3/m-1 again', 'b-3', 'm-1', 5)"),  # the pair is there
    ("block_models", "('b-1/m-1', 'b-1', 'm-1', 0)"),  # none built
    ("block_models", "('b-1/m-1', 'b-1', 'm-1', 'many')"),  # no number
    ("variants", "('x', 'x', 'X', 'look', NULL, NULL, NULL)"),  # no such component
])  # fmt: skip
def test_the_file_itself_refuses_what_a_record_refuses(path: Path, tmp_path: Path, table: str, values: str) -> None:
    (tmp_path / "copy.db").write_bytes(path.read_bytes())
    connection = sqlite3.connect(tmp_path / "copy.db")
    connection.execute("pragma foreign_keys = on")
    with pytest.raises(sqlite3.IntegrityError):
        connection.execute(f"insert into {table} values {values}")
    connection.close()


def test_a_public_file_holds_nothing_private(data: Dataset, path: Path, tmp_path: Path) -> None:
    report = build(data, tmp_path / "public.db", public=True)
    assert PRIVATE.encode() in path.read_bytes()
    assert PRIVATE.encode() not in (tmp_path / "public.db").read_bytes()
    tables = {name for (name,) in ask(tmp_path / "public.db", "select name from sqlite_master where type = 'table'")}
    assert tables.isdisjoint({"offers", "outcomes"}) and {"offers", "outcomes"}.isdisjoint(report.rows)
    assert ask(tmp_path / "public.db", "select name from pragma_table_info('sightings') where name in ('observer', 'evidence')") == []
    assert ask(tmp_path / "public.db", "select count(*) from sightings") == [(3,)]
    assert dict(ask(tmp_path / "public.db", "select * from build_info"))["public"] == "yes"
    assert ask(tmp_path / "public.db", "pragma foreign_key_check") == []


def test_the_file_is_read_only_and_nothing_is_left_beside_it(data: Dataset, tmp_path: Path) -> None:
    build(data, tmp_path / "kb.db")
    assert stat.S_IMODE((tmp_path / "kb.db").stat().st_mode) == 0o444
    assert [each.name for each in tmp_path.iterdir()] == ["kb.db"]


OLD = b"SQLite format 3\0" + bytes(100) + b"CREATE TABLE build_info"  # what a build of an older version begins with


def test_an_older_file_is_replaced(data: Dataset, path: Path, tmp_path: Path) -> None:
    (tmp_path / "kb.db").write_bytes(OLD)
    (tmp_path / "kb.db").chmod(0o444)
    build(data, tmp_path / "kb.db")
    assert (tmp_path / "kb.db").read_bytes() == path.read_bytes()


def failing(error: Exception) -> Any:
    def fail(*_: object, **__: object) -> None:
        raise error

    return fail


@pytest.mark.parametrize(("error", "kind", "words"), [
    (OSError(errno.ENOSPC, "No space left on device"), FileError, "no space left"),
    (sqlite3.OperationalError("database or disk is full"), FileError, "no space left"),
    (OSError(errno.EROFS, "Read-only file system"), FileError, "cannot be written to"),
    (OSError(errno.EIO, "Input/output error"), FileError, "Input/output error"),
    (KeyboardInterrupt("by hand"), KeyboardInterrupt, "by hand"),
    (RuntimeError("a mistake of ours"), RuntimeError, "a mistake of ours"),
])  # fmt: skip
def test_a_failed_build_leaves_the_old_file(
    data: Dataset, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: Exception, kind: type[Exception], words: str
) -> None:
    (tmp_path / "kb.db").write_bytes(OLD)
    monkeypatch.setattr(building, "derive", failing(error))
    with pytest.raises(kind, match=words) as failed:
        build(data, tmp_path / "kb.db")
    assert (tmp_path / "kb.db").read_bytes() == OLD
    assert [each.name for each in tmp_path.iterdir()] == ["kb.db"]
    assert kind is not FileError or failed.value.remedy  # type: ignore[attr-defined]


def test_a_folder_that_cannot_be_written_to_is_said_so(data: Dataset, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "read-only"
    folder.mkdir(mode=0o555)
    if os.access(folder, os.W_OK):  # whoever may write everywhere is refused by us instead
        monkeypatch.setattr(output.tempfile, "mkstemp", failing(PermissionError(errno.EACCES, "Permission denied")))
    with pytest.raises(FileError, match=r'read-only" cannot be written to.* -o'):
        build(data, folder / "kb.db")
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize(("target", "words"), [("no/such/kb.db", "There is no folder"), (".", "is a folder")])
def test_a_target_that_is_none_is_said_so(data: Dataset, tmp_path: Path, target: str, words: str) -> None:
    with pytest.raises(FileError, match=words):
        build(data, tmp_path / target)


def test_a_dataset_with_errors_is_not_built(tmp_path: Path) -> None:
    wrong = dataset(models=[{"model_id": "m-1", "maker_id": "orlob"}, {"model_id": "m-2", "maker_id": "orlob"}])
    with pytest.raises(DataError, match=r'models.csv, maker_id: "orlob" is not in makers.csv. \(and 1 more\)'):
        build(wrong, tmp_path / "kb.db")
    assert list(tmp_path.iterdir()) == []


def test_own_columns_are_kept(data: Dataset, tmp_path: Path) -> None:
    build(data, tmp_path / "kb.db", extras={"parts": {'x_my "shelf"': {1: "B 4"}}})
    assert ask(tmp_path / "kb.db", 'select part_number, "x_my ""shelf""" from parts order by rowid')[:2] == [("1407", None), ("1407-A", "B 4")]


def test_pictures_travel_in_the_file(tmp_path: Path) -> None:
    (tmp_path / "a.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg"/>', "utf-8")
    row = {"picture_id": "p", "file": "a.svg", "shows": "variant", "shows_id": "cover-late", "caption": "Cover", "alt": "A cover."}
    build(dataset(pictures=[row]), tmp_path / "kb.db", pictures={"p": tmp_path / "a.svg"})
    assert ask(tmp_path / "kb.db", "select media_type, data from pictures") == [("image/svg+xml", (tmp_path / "a.svg").read_bytes())]
    with pytest.raises(DataError, match='picture "p" is not at hand'):
        build(dataset(pictures=[row]), tmp_path / "kb.db")


# What is derived


def test_lines_and_blocks_stand_in_production_order(path: Path) -> None:
    assert ask(path, "select line_id, line, position from lines order by position") == [
        ("frame", None, 0),
        ("frame/leeds", "leeds", 1),
        ("engine", None, 2),
    ]
    assert ask(path, "select block_id, position, first, last, order_first, units from line_blocks where line_id = 'frame' order by position") == [
        ("b-1", 0, 1, 500, 0, 500.0), ("b-2", 1, 501, 900, 500, 400.0),
    ]  # fmt: skip
    assert ask(path, "select model_id, units from line_block_models where block_id in ('b-3', 'e-1') order by rowid") == [
        ("m-1", 60.0), ("m-2", 40.0), (None, 900.0),
    ]  # fmt: skip


def test_cells_cover_every_unit_once(path: Path) -> None:
    for line_id, models, count, data in ask(path, "select line_id, models, count, data from cells"):
        assert len(data) == count * (4 + 4 + 8 + 8 + 8)
        parts, at = [], 0
        for kind in ("<i4", "<i4", "<i8", "<i8", "<f8"):
            parts.append(np.frombuffer(data, kind, count, at))
            at += count * np.dtype(kind).itemsize
        block, model, first, last, units = parts
        assert (first <= last).all() and model.max() < len(json.loads(models))
        blocks = ask(path, "select first, last, units from line_blocks where line_id = ? order by position", line_id)
        for index, (low, high, built) in enumerate(blocks):
            inside = block == index
            assert units[inside].sum() == pytest.approx(built)
            assert first[inside].min() == low and last[inside].max() == high
        for variants, table in ask(path, "select variants, data from as_built where line_id = ?", line_id):
            shares = np.frombuffer(table, "<f8").reshape(count, len(json.loads(variants)) + 1)
            assert shares.sum(axis=1) == pytest.approx(1, abs=1e-9)


def test_a_changeover_is_stored_with_its_claims(path: Path) -> None:
    columns_asked = "changeover_id, first_new, low, high, mixed, sightings"
    ((name, first_new, low, high, mixed, sightings),) = ask(path, f"select {columns_asked} from changeovers")
    assert (name, first_new, low, high, sightings) == (
        "frame|cover||cover-early|cover-late",
        "B00500",
        "B00412",
        "B00500",
        2,
    )  # grade A beside grade B: 84 to 16
    assert sum(each["probability"] for each in json.loads(mixed)) == pytest.approx(1)
    assert ask(path, "select breakpoint_id, standing from changeover_claims order by breakpoint_id") == [("p-1", "open"), ("p-2", "supported")]
    assert ask(path, "select sighting_id from changeover_odd_sightings") == [("s-2",)]


def test_disputes_tell_every_doubt(data: Dataset, path: Path) -> None:
    stored = ask(path, "select kind, subject, sources from disputes order by rowid")
    assert stored == [
        ("contradiction", "frame|cover||cover-early|cover-late", '["list", "works"]'),
        ("unknown serial", "frame", "[]"),
    ]
    assert len(stored) == len([each for each in rules.check(data) if each.severity == "doubt"])


def test_supersessions_are_followed_to_the_end(path: Path) -> None:
    closure = set(ask(path, "select from_part, to_part from supersession_closure"))
    assert closure == {("1407", "1407-A"), ("1407", "900"), ("1407-A", "900"), ("900", "1407-A")}


def test_marks_are_stored_in_normal_form_and_by_variant(path: Path) -> None:
    assert ask(path, "select mark_id, normal from marks order by rowid") == [("k-1", "H4120"), ("k-2", "H4121"), ("k-3", "F7")]
    pairs = [("k-1", "cover-early"), ("k-2", "cover-late"), ("k-2", "head-early")]
    assert ask(path, "select mark_id, variant_id from mark_variants order by rowid") == pairs
    ((index,),) = ask(path, "select data from mark_index")
    assert MarkIndex.from_bytes(index).texts == ("H4120", "H4121")


def test_unknown_texts_are_learned_as_the_model_says(path: Path) -> None:
    """docs/model.md, section 3: a mark text counts once; a block gives 64 serials, by units, times the number of blocks."""
    models = {kind: TextModel.from_bytes(data) for kind, data in ask(path, "select kind, data from text_models")}
    assert models["mark"].to_bytes() == TextModel.learn({"F7": 1.0, "H4120": 1.0, "H4121": 1.0}, Assumptions()).to_bytes()
    blocks = (("B", 5, 1, 500), ("B", 5, 501, 900), ("L", 0, 1, 100), ("E", 0, 1, 900))
    texts = {
        f"{prefix}{first + i * (last - first + 1) // 64:0{width}d}": (last - first + 1) / 64 / 1900 * 4
        for prefix, width, first, last in blocks
        for i in range(64)
    }
    learned = TextModel.learn(texts, Assumptions())
    assert models["serial"].counts == pytest.approx(learned.counts)
    assert dict(models["serial"].shapes) == pytest.approx(dict(learned.shapes))


@pytest.mark.parametrize(("table", "asked", "found"), [
    ("marks", "rim", "k-1"),
    ("components", "drive", "cover"),
    ("variants", "holes", "cover-early"),
    ("models", "m2", "m-2"),
    ("parts", "1407", "1407"),
])  # fmt: skip
def test_words_are_found(path: Path, table: str, asked: str, found: str) -> None:
    key = TABLES[table].key[0]
    rows = ask(path, f"select t.{key} from {table}_fts f join {table} t on t.rowid = f.rowid where {table}_fts match ? order by t.rowid", asked)
    assert rows[0] == (found,)


def test_every_searched_column_is_one_of_its_table() -> None:
    for table, names in SEARCHED.items():
        assert set(names) <= {column.name for column in columns(table)}


def test_an_empty_dataset_is_a_file_too(tmp_path: Path) -> None:
    report = build(Dataset(), tmp_path / "kb.db")
    assert isinstance(report, BuildReport) and set(report.rows.values()) == {0}
