"""Building: a checked dataset becomes one SQLite file, complete or not at all, and the same bytes every time.

The file is written beside its place under another name and moved there when it is whole; from then on it is read-only. Nothing
in it tells when or where it was built. Private columns and files are left out of a public build as if they did not exist.
"""

import errno
import hashlib
import json
import sqlite3
import stat
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from importlib import metadata
from itertools import chain, groupby, islice
from operator import itemgetter
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from kb.assumptions import Assumptions
from kb.dataset import pictures as pictures_of
from kb.dataset import rules
from kb.output import writing as output
from kb.output.kinds import DATABASE
from kb.probability.production.estimate import Production, derive
from kb.store import derived, schema, texts
from kb.store.disputes import dispute_rows
from kb.store.seal import FORMAT, seal
from kb.words.dataset import Dataset, many_rows
from kb.words.errors import DataError, FileError
from kb.words.records import Record

Progress = Callable[[str, int, int], None]  # (what is being done, steps done, steps in all)
Extras = Mapping[str, Mapping[str, Mapping[int, str]]]  # table -> x_ column -> index of the row -> text
_BATCH = 5000


@dataclass(frozen=True)
class BuildReport:
    """What was built. `rows`: how many of each table of the dataset; `digest`: of the dataset as stored."""

    path: Path
    rows: dict[str, int]
    digest: str
    changeovers: int
    disputes: int
    size: int
    public: bool


def build(
    dataset: Dataset,
    target: Path | str,
    *,
    public: bool = False,
    assumptions: Assumptions | None = None,
    extras: Extras | None = None,
    pictures: Mapping[str, Path] | None = None,
    problems: Sequence[rules.RowProblem] | None = None,
    progress: Progress | None = None,
    force: bool = False,
) -> BuildReport:
    """Write a dataset and all that follows from it into one file.

    Args:
        dataset: all rows.
        target: the file; an older one is replaced when the new one is whole, and stays if the build fails.
        public: leave out private columns and files.
        assumptions: all constants; written into the file.
        extras: the x_ columns of the dataset folder; nobody said that they are public, so a public build leaves them out.
        pictures: the file of every picture, by picture_id.
        problems: what `kb.dataset.rules.check` found, if that has been asked already.
        progress: told about every step.
        force: replace a plain file that is no knowledge base.

    Raises:
        DataError: the dataset has errors; `loaders.folder.load` says in which file and row.
        FileError: the file cannot be written: no such folder, no permission, no space; or something else stands there.
    """
    path = Path(target)
    found = list(rules.check(dataset)) if problems is None else list(problems)
    wrong = [each for each in found if each.severity == "error"]
    if wrong:
        more = f" (and {len(wrong) - 1} more)" if len(wrong) > 1 else ""
        raise DataError(f"{wrong[0].table}.csv, {wrong[0].column}: {wrong[0].problem}{more}", wrong[0].remedy)
    if path.exists() or path.is_symlink():
        output.refuse(path, DATABASE, force=force)
    work = _Build(dataset, public, assumptions or Assumptions(), {} if public else extras or {}, pictures or {}, found, progress or (lambda *_: None))
    try:
        with output.place(path, stat.S_IRUSR | stat.S_IRGRP | stat.S_IROTH) as unfinished, many_rows():
            report = work.write(unfinished)
    except (OSError, sqlite3.OperationalError) as error:
        raise _not_written(path, error) from error
    return replace(report, path=path, size=path.stat().st_size)


def _not_written(path: Path, error: Exception) -> FileError:
    """Why a file could not be written, in words."""
    number, words = getattr(error, "errno", None), str(error)
    folder = path.absolute().parent
    if not folder.is_dir():
        return FileError(f'There is no folder "{folder}".', "Make it, or name another file with -o.")
    if number in (errno.ENOSPC, errno.EDQUOT) or "is full" in words:
        return FileError(f'There is no space left for "{path}".', "Make room on the disk, or name a file on another one with -o.")
    if number in (errno.EACCES, errno.EPERM, errno.EROFS) or "readonly" in words or "unable to open" in words:
        return FileError(f'The folder "{folder}" cannot be written to.', "Name a file in a folder of your own with -o.")
    return FileError(f'"{path}" could not be written: {words}.', "Try again, or name another file with -o.")


class _Build:
    """The work of one build."""

    def __init__(
        self, dataset: Dataset, public: bool, assumptions: Assumptions, extras: Extras, pictures: Mapping[str, Path],
        problems: list[rules.RowProblem], progress: Progress,
    ) -> None:  # fmt: skip
        self.learned, self.given = texts.learn_readings(dataset, assumptions), assumptions
        self.dataset, self.public, self.assumptions = dataset, public, self.learned.assumptions
        self.extras, self.pictures, self.problems, self.progress = extras, pictures, problems, progress
        self.tables = schema.stored_tables(public)
        self.steps = len(self.tables) + 3
        self.step = 0
        self.digest = hashlib.sha256()

    def write(self, path: Path) -> BuildReport:
        """Write everything into an empty file."""
        connection = sqlite3.connect(path, isolation_level=None)
        try:
            for pragma in ("page_size = 4096", "journal_mode = OFF", "synchronous = OFF", "locking_mode = EXCLUSIVE", "temp_store = MEMORY"):
                connection.execute(f"PRAGMA {pragma}")
            connection.execute("BEGIN")
            rows = {table: self._table(connection, table) for table in self.tables}
            changeovers, disputes = self._derived(connection, rows)
            connection.execute("COMMIT")
        finally:
            connection.close()
        seal(path)
        return BuildReport(path, rows, self.digest.hexdigest(), changeovers, disputes, 0, self.public)

    def _next(self, what: str) -> None:
        self.progress(what, self.step, self.steps)
        self.step += 1

    def _table(self, connection: sqlite3.Connection, table: str) -> int:
        """Store one table of the dataset."""
        self._next(f"{table}.csv")
        records: tuple[Record, ...] = getattr(self.dataset, table)
        own = list(self.extras.get(table, ()))
        connection.execute(schema.create_table(table, self.public, own))
        rows = schema.values(table, records, self.public)
        if table == "pictures":
            rows = (row + self._picture(row[0]) for row in rows)
        if own:
            cells = [self.extras[table][name] for name in own]
            rows = (row + tuple(cell.get(index) for cell in cells) for index, row in enumerate(rows))
        sql = schema.insert(table, self.public, own)
        self.digest.update(sql.encode())
        waiting = iter(rows)
        at_once = 1 if table == "pictures" else _BATCH
        # Not sqlite-utils' insert_all: of rows like these it takes 2.3 times as long, a fifth of the whole build.
        while batch := tuple(islice(waiting, at_once)):
            self.digest.update(repr(batch).encode())
            connection.executemany(sql, batch)
        return len(records)

    def _picture(self, picture_id: str) -> tuple[str, bytes]:
        if picture_id not in self.pictures:
            raise DataError(f'The file of the picture "{picture_id}" is not at hand.', "Build from the dataset folder that holds it.")
        image = pictures_of.clean_file(self.pictures[picture_id])
        return image.media_type, image.data

    def _derived(self, connection: sqlite3.Connection, rows: Mapping[str, int]) -> tuple[int, int]:
        """Estimate and store everything that follows from the dataset. Returns the numbers of change-overs and disputes."""
        self._next("estimating change-overs")
        of_marks = texts.learn_marks(self.dataset, self.assumptions)
        production = derive(self.dataset, self.assumptions, texts.MarkLikelihoods(self.dataset, of_marks, self.assumptions))
        self._next("storing what follows")
        database = Database(connection, recursive_triggers=False, execute_plugins=False)  # a plugin at hand must not change what is built
        schema.create_derived(database)
        for table, rows_of_table in groupby(derived.production_rows(production), itemgetter(0)):
            _insert(database, table, (row for _, row in rows_of_table))
        _insert(database, "mark_variants", derived.mark_variant_rows(self.dataset))
        _insert(database, "supersession_closure", derived.closure_rows(self.dataset))
        disputes = list(dispute_rows(self.dataset, self.problems, production, public=self.public))
        _insert(database, "disputes", disputes)
        serials = texts.learn_serials(production.lines, self.assumptions)
        _insert(database, "text_models", [("serial", serials.to_bytes()), ("mark", of_marks.to_bytes())])
        _insert(database, "mark_index", [("mark", texts.telling_marks(self.dataset).to_bytes())])
        _insert(database, "build_info", self._info(rows, production))
        self._next("indexes")
        schema.create_indexes(database)
        for table in schema.SEARCHED:
            schema.create_search(database, table)
        database.analyze()
        self.progress("done", self.steps, self.steps)
        return len(production.changeovers), len(disputes)

    def _info(self, rows: Mapping[str, int], production: Production) -> list[tuple[str, str]]:
        """What the file says about itself; never when or where."""
        return [
            ("format", str(FORMAT)),
            ("program_version", _version()),
            ("dataset_digest", self.digest.hexdigest()),
            ("public", "yes" if self.public else "no"),
            ("rows", json.dumps(dict(rows))),
            ("changeovers", str(len(production.changeovers))),
            *derived.rate_rows(production),
            ("assumptions", json.dumps(self.assumptions.as_dict(), sort_keys=True)),
            ("learned", json.dumps(self.learned.as_dict() | {"sharpness_usual": self.given.sharpness}, sort_keys=True)),
        ]


def _insert(database: Database, table: str, rows: Iterable[tuple[Any, ...]]) -> None:
    """Store derived rows."""
    names = [name.rstrip("?") for name in schema.DERIVED[table]]
    database.table(table).insert_all(chain([names], rows), batch_size=_BATCH)


def _version() -> str:
    try:
        return metadata.version("casting-kb")
    except metadata.PackageNotFoundError:  # run from its folder without being installed
        return "not installed"
