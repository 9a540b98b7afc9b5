"""A built knowledge base, open for reading: rows as the named tuples of `kb.store.rows`, arrays as numpy.

The only reader of the SQLite file. Everything is loaded when first asked for and kept; the file never changes while it is open.
"""

import json
import re
import sqlite3
from collections import namedtuple
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from functools import cache, cached_property
from operator import itemgetter
from pathlib import Path
from threading import Lock
from typing import Any, NamedTuple, TypeVar
from urllib.parse import quote

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.probability.channel.background import TextModel
from kb.probability.channel.marks import MarkIndex
from kb.probability.production.blocks import Block, Line
from kb.probability.production.cell_table import LineCells
from kb.probability.production.layout import Lines
from kb.store import rows as r
from kb.store.seal import check_seal
from kb.words.edtf import Span
from kb.words.errors import FileError
from kb.words.notation import simplify

R = TypeVar("R", bound=NamedTuple)
Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Marked:
    """The marks of some components. text, variant: for each row, a mark and variant, the position of its text in the index and in `variants`."""

    index: MarkIndex
    variants: tuple[str, ...]
    text: NDArray[np.intp]
    variant: NDArray[np.intp]


class Book:
    """An opened knowledge base file."""

    def __init__(self, path: Path) -> None:
        """Open a file that `kb build` wrote.

        Raises:
            FileError: there is no such file, it is not a knowledge base of this program and format, or it is damaged.
        """
        if not path.is_file():
            raise FileError(f'There is no file "{path}".', "Build one with: kb build FOLDER --db kb.db (or name another with --db or KB_DB).")
        check_seal(path)
        self.path = path
        self._asking = Lock()  # threads may share a book; of one connection two questions at a time may mix up what they are asked with
        try:
            self._connection = sqlite3.connect(f"file:{quote(str(path.absolute()))}?mode=ro&immutable=1", uri=True, check_same_thread=False)
            self.info = {row.name: row.value for row in self.select(r.BuildInfoRow, "select * from build_info")}
        except sqlite3.DatabaseError as error:
            raise FileError(f'"{path}" is not a knowledge base ({error}).', "Build one with: kb build FOLDER --db kb.db.") from error

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    def select(self, kind: type[R], sql: str, *values: object) -> list[R]:
        """The rows of one SELECT, which must have the columns of `kind` by name; others that it has are left out."""
        found, columns = self._answer(sql, values)
        try:
            return _maker(kind, columns)(found)
        except LookupError as error:
            raise FileError(
                f'"{self.path}" was built by another version of the program: it has no {error.args[0]}.',
                "Build it again with: kb build FOLDER -o kb.db.",
            ) from error

    def first(self, kind: type[R], sql: str, *values: object) -> R | None:
        """The first row of one SELECT, or None."""
        return next(iter(self.select(kind, sql, *values)), None)

    def as_stored(self, sql: str, *values: object) -> list[dict[str, object]]:
        """The cells of one SELECT by column, as they are stored: for whoever compares files whatever is in them."""
        found, columns = self._answer(sql, values)
        return [dict(zip(columns, row, strict=True)) for row in found]

    @cache  # noqa: B019 - a book lives as long as the program needs it
    def has(self, table: str) -> bool:
        """The file has this table: a public one has not all."""
        return bool(self._answer("select 1 from sqlite_master where type = 'table' and name = ?", (table,))[0])

    def rows(self, sql: str, *values: object) -> list[Any]:
        """The rows of one SELECT as named tuples that nobody checks."""
        found, columns = self._answer(sql, values)
        shape = _shape(columns)
        return [shape(*row) for row in found]

    def one(self, sql: str, *values: object) -> Any | None:
        """The first row of one SELECT, or None."""
        return next(iter(self.rows(sql, *values)), None)

    def _answer(self, sql: str, values: tuple[object, ...]) -> tuple[list[tuple[Any, ...]], tuple[str, ...]]:
        try:
            with self._asking:
                cursor = self._connection.execute(sql, values)
                found = cursor.fetchall()
            return found, tuple(column[0] for column in cursor.description)
        except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
            raise FileError(
                f'"{self.path}" is not a knowledge base, or it is damaged ({error}).', "Build it again with: kb build FOLDER --db kb.db."
            ) from error

    # What the dataset says

    @cached_property
    def makers(self) -> dict[str, r.MakerRow]:
        """By maker_id."""
        return {row.maker_id: row for row in self.select(r.MakerRow, "select * from makers order by rowid")}

    @cached_property
    def models(self) -> dict[str, r.ModelRow]:
        """By model_id."""
        return {row.model_id: row for row in self.select(r.ModelRow, "select * from models order by rowid")}

    @cached_property
    def series(self) -> dict[str, r.SeriesRow]:
        """By series_id."""
        return {row.series_id: row for row in self.select(r.SeriesRow, "select * from series order by rowid")}

    @cached_property
    def sources(self) -> dict[str, r.SourceRow]:
        """By source_id."""
        return {row.source_id: row for row in self.select(r.SourceRow, "select * from sources order by rowid")}

    @cached_property
    def affixes(self) -> dict[str, list[r.AffixRow]]:
        """By series_id."""
        return _grouped(self.select(r.AffixRow, "select * from affixes order by rowid"), lambda row: row.series_id)

    @cached_property
    def components(self) -> dict[str, r.ComponentRow]:
        """By component_id; `places` is a tuple, ("",) where there is only one place."""
        rows = self.select(r.ComponentRow, "select * from components order by rowid")
        return {row.component_id: row._replace(places=row.places or ("",)) for row in rows}

    @cached_property
    def variants(self) -> dict[str, r.VariantRow]:
        """By variant_id."""
        return {row.variant_id: row for row in self.select(r.VariantRow, "select * from variants order by rowid")}

    @cached_property
    def variants_of(self) -> dict[str, list[r.VariantRow]]:
        """By component_id, in file order: the order of the variant axes."""
        return _grouped(list(self.variants.values()), lambda row: row.component_id)

    @cached_property
    def features(self) -> dict[str, r.FeatureRow]:
        """By feature_id."""
        return {row.feature_id: row for row in self.select(r.FeatureRow, "select * from features order by rowid")}

    @cached_property
    def features_of(self) -> dict[str, list[r.FeatureRow]]:
        """By component_id."""
        return _grouped(list(self.features.values()), lambda row: row.component_id)

    @cached_property
    def feature_values(self) -> dict[str, dict[str, r.FeatureValueRow]]:
        """By feature_id, then variant_id."""
        found: dict[str, dict[str, r.FeatureValueRow]] = {}
        for row in self.select(r.FeatureValueRow, "select * from feature_values order by rowid"):
            found.setdefault(row.feature_id, {})[row.variant_id] = row
        return found

    @cached_property
    def date_codes(self) -> list[r.DateCodeRow]:
        """How makers cast dates."""
        return self.select(r.DateCodeRow, "select * from date_codes order by rowid")

    @cache  # noqa: B019 - a book lives as long as the program needs it
    def marks_of(self, component_id: str) -> list[r.MarkOfVariantRow]:
        """The marks of a component's variants, one row a mark and variant."""
        return self.select(
            r.MarkOfVariantRow,
            "select m.*, v.variant_id from mark_variants mv join marks m using (mark_id) join variants v using (variant_id)"
            " where v.component_id = ? order by m.rowid, v.rowid",
            component_id,
        )

    def rows_of_mark(self, normal: str) -> list[tuple[r.MarkWithOwnerRow, r.ComponentRow | None]]:
        """The marks of one text, each with its component; a mark that tells no variant has none."""
        rows = self.select(
            r.MarkWithOwnerRow,
            "select m.*, v.variant_id, v.component_id from marks m left join mark_variants mv using (mark_id) left join variants v using (variant_id)"
            " where m.normal = ? order by m.rowid, v.rowid",
            normal,
        )
        return [(row, self.components[row.component_id] if row.component_id else None) for row in rows]

    @cached_property
    def foundry_rows(self) -> list[r.MarkRow]:
        """The marks that tell no variant."""
        return self.select(r.MarkRow, "select * from marks where mark_id not in (select mark_id from mark_variants) order by normal")

    @cached_property
    def foundry_marks(self) -> list[str]:
        """Their distinct normal forms."""
        return list(dict.fromkeys(row.normal for row in self.foundry_rows))

    @cache  # noqa: B019
    def index_of(self, texts: tuple[str, ...]) -> MarkIndex:
        """An index of some mark texts, kept."""
        return MarkIndex.of(texts)

    @cache  # noqa: B019
    def marks_index(self, component_id: str) -> MarkIndex:
        """The mark texts of a component's variants, each once."""
        return MarkIndex.of(sorted({mark.normal for mark in self.marks_of(component_id)}))

    @cache  # noqa: B019
    def marks_by_variant(self, component_id: str) -> list[NDArray[np.intp]]:
        """For each variant, in the order of `variants_of`, where the texts of its marks stand in `marks_index`."""
        place = {text: position for position, text in enumerate(self.marks_index(component_id).texts)}
        of_variant = _grouped(self.marks_of(component_id), lambda mark: mark.variant_id)
        mine = [of_variant.get(variant.variant_id, []) for variant in self.variants_of.get(component_id, ())]
        return [np.array([place[mark.normal] for mark in marks], dtype=np.intp) for marks in mine]

    @cache  # noqa: B019
    def marked(self, component_ids: tuple[str, ...]) -> Marked:
        """The marks of several components together."""
        sql = "select normal, variant_id from mark_variants join marks using (mark_id) join variants using (variant_id) where component_id = ?"
        rows = [row for component_id in component_ids for row in self._answer(sql, (component_id,))[0]]
        texts, variants = (sorted({row[column] for row in rows}) for column in (0, 1))
        text, variant = (dict(zip(names, range(len(names)), strict=True)) for names in (texts, variants))
        columns = np.array([(text[normal], variant[variant_id]) for normal, variant_id in rows], dtype=np.intp).reshape(-1, 2).T
        return Marked(MarkIndex.of(texts), tuple(variants), *columns)

    @cache  # noqa: B019
    def changeovers_of(self, component_id: str) -> list[r.ChangeoverRow]:
        """The estimated change-overs of a component."""
        return self.select(r.ChangeoverRow, "select * from changeovers where component_id = ? order by rowid", component_id)

    # What the build derived

    def taught(self, assumptions: Assumptions) -> Assumptions:
        """Assumptions with what the build learned from confirmed readings, where they say nothing of their own."""
        learned = json.loads(self.info.get("learned", "{}"))
        usual, values = Assumptions(), {}
        if learned.get("confirmed") and not assumptions.confirmed:
            values["confirmed"] = learned["confirmed"]
        if learned.get("fitted") and assumptions.sharpness == usual.sharpness:
            values["sharpness"] = learned["sharpness"]
        return assumptions.override(**values)

    @cached_property
    def text_models(self) -> dict[str, TextModel]:
        """What texts look like that are not in this knowledge base: "serial" and "mark"."""
        return {row.kind: TextModel.from_bytes(row.data) for row in self.select(r.TextModelRow, "select * from text_models")}

    @cached_property
    def mark_index(self) -> MarkIndex:
        """All distinct mark texts that tell a variant."""
        found = self.first(r.MarkIndexRow, "select * from mark_index")
        return MarkIndex.from_bytes(found.data) if found else MarkIndex.of([])

    @cached_property
    def blocks(self) -> dict[str, r.UsedBlockRow]:
        """The used blocks by block_id: what the dataset says of them and what it comes to."""
        rows = self.select(
            r.UsedBlockRow,
            "select lb.line_id, lb.position as place, lb.first as number_first, lb.last as number_last, lb.units as built_units,"
            " lb.built_first, lb.built_last, b.* from line_blocks lb join blocks b using (block_id) order by lb.line_id, lb.position",
        )
        return {row.block_id: row for row in rows}

    @cached_property
    def lines(self) -> Lines:
        """Every line with its blocks in production order."""
        models = _grouped(self.select(r.LineBlockModelRow, "select * from line_block_models order by rowid"), lambda row: row.block_id)
        blocks: dict[str, list[Block]] = {}
        for row in self.blocks.values():
            shares = tuple((m.model_id or "", float(m.units)) for m in models.get(row.block_id, ()))
            built = Span(date.fromisoformat(row.built_first), date.fromisoformat(row.built_last)) if row.built_first and row.built_last else None
            prefix, suffix = simplify(row.prefix or ""), simplify(row.suffix or "")
            block = Block(
                row.block_id,
                row.series_id,
                row.line or "",
                row.place,
                prefix,
                row.number_first,
                row.number_last,
                suffix,
                row.width,
                shares or (("", float(row.built_units)),),
                float(row.built_units),
                built,
                row.dates_are,
                row.kind,
                row.source_id,
                row.page,
            )
            blocks.setdefault(row.line_id, []).append(block)
        lines = []
        for each in self.select(r.LineRow, "select * from lines order by position"):
            ends = {end: tuple(simplify(a.affix) for a in self.affixes.get(each.series_id, ()) if a.at == end) for end in ("prefix", "suffix")}
            mine, check = tuple(blocks.get(each.line_id, ())), self.series[each.series_id].check
            lines.append(Line(each.line_id, each.series_id, each.line or "", mine, check, ends["prefix"], ends["suffix"]))
        return Lines(lines)

    @cache  # noqa: B019
    def cells(self, line_id: str) -> LineCells:
        """The cells of a line."""
        row = self.first(r.CellRow, "select * from cells where line_id = ?", line_id)
        if row is None:
            none = np.zeros(0, np.int32)
            return LineCells((), none, none, none.astype(np.int64), none.astype(np.int64), none.astype(np.float64))
        parts, at = [], 0
        for kind in ("<i4", "<i4", "<i8", "<i8", "<f8"):
            parts.append(np.frombuffer(row.data, kind, row.count, at))
            at += row.count * np.dtype(kind).itemsize
        return LineCells(tuple(m or "" for m in json.loads(row.models)), *parts)

    @cache  # noqa: B019
    def as_built(self, line_id: str, component_id: str) -> Floats | None:
        """(cells, V+1) P(variant as built | cell) in the order of `variants_of`, the unrecorded variant last; None if the line says nothing of it."""
        row = self.first(r.AsBuiltRow, "select * from as_built where line_id = ? and component_id = ?", line_id, component_id)
        if row is None:
            return None
        names = json.loads(row.variants)
        stored = np.frombuffer(row.data, "<f8").reshape(-1, len(names) + 1)
        order = [names.index(v.variant_id) for v in self.variants_of.get(component_id, ())]
        return np.ascontiguousarray(stored[:, [*order, len(names)]])


def split_list(text: str | None) -> tuple[str, ...]:
    """A `[]` column as stored: parts separated by `;`."""
    return tuple(part.strip() for part in (text or "").split(";") if part.strip())


def _grouped(rows: Iterable[R], key: Callable[[R], str]) -> dict[str, list[R]]:
    groups: dict[str, list[R]] = {}
    for row in rows:
        groups.setdefault(key(row), []).append(row)
    return groups


@cache
def _maker(kind: type[R], columns: tuple[str, ...]) -> Callable[[list[tuple[Any, ...]]], list[R]]:
    """Makes rows of one kind from what a SELECT with these columns finds: fields by their names, yes/no as bool, lists as tuples."""
    absent = r.PRIVATE.get(kind, frozenset()) - set(columns)
    if unknown := [name for name in kind._fields if name not in columns and name not in absent]:
        raise LookupError(", ".join(unknown))
    types = kind.__annotations__
    turned = [(at, _TURNED[types[name]]) for at, name in enumerate(kind._fields) if types[name] in _TURNED]
    make = kind._make
    if columns == kind._fields and not turned:
        return lambda found: list(map(make, found))
    pick = itemgetter(*(len(columns) if name in absent else columns.index(name) for name in kind._fields))
    if len(kind._fields) == 1:
        return lambda found: [make((pick(row),)) for row in found]

    def made(row: tuple[Any, ...]) -> R:
        cells = list(pick((*row, None)))
        for at, turn in turned:
            cells[at] = turn(cells[at])
        return make(cells)

    return lambda found: list(map(made, found))


_TURNED: dict[Any, Callable[[Any], Any]] = {bool: bool, tuple[str, ...]: split_list}


@cache
def _shape(columns: tuple[str, ...]) -> Any:
    """A named tuple for these columns. Ours are identifiers; a visitor's x_ column may not be, and is renamed."""
    return namedtuple("Row", [re.sub(r"\W", "_", column) for column in columns], rename=True)
