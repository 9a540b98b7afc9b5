"""`kb add`: a row for a dataset folder, from options or by asking for each field."""

import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from kb.cli.keeping.editing import folder_option, given, show_written
from kb.cli.options import json_option
from kb.dataset.ids import NUMBERED
from kb.words.records import TABLES
from kb.words.records.columns import Column, columns

_RANGES = ("serial_from", "first_new")


class _Tables(click.Group):
    """A command for each file, made from its columns when it is needed. The name of the file works too."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """One name for a row of each file."""
        return [singular(table) for table in TABLES]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command for a file, by the name of one of its rows."""
        name = cmd_name.replace("_", "-")
        table = next((table for table in TABLES if name in (singular(table), table.replace("_", "-"))), None)
        return _command(table) if table else None


def singular(table: str) -> str:
    """What one row of a file is called.

    >>> [singular(table) for table in ("sources", "series", "affixes", "feature_values", "date_codes")]
    ['source', 'series', 'affix', 'feature-value', 'date-code']
    """
    name = TABLES[table].table.replace("_", "-")
    if name == "series":
        return name
    return name.removesuffix("es") if name.endswith("xes") else name.removesuffix("s")


@click.command("add", cls=_Tables)
def command() -> None:
    """Add a row to a dataset folder: a source, a breakpoint, a sighting, a part, and so on.

    The row is first checked against the whole dataset; what kb check would refuse is refused, and nothing is written. On a terminal
    you are asked for what is missing.
    """


def _command(table: str) -> click.Command:
    """The command that adds a row to one file."""
    params: list[click.Parameter] = [_option(table, column) for column in columns(table)]
    ranges = any(column.name in _RANGES for column in columns(table))
    if ranges:
        params.append(click.Option(["--printed"], metavar="WORDS", help='A range as the source prints it: "312,400 and higher".'))
    params.append(click.Option(["--ask"], is_flag=True, help="Ask for each field, even if this is not a terminal."))

    def run(folder: Path, as_json: bool, ask: bool, printed: str | None = None, **values: Any) -> None:
        _add(table, folder, as_json, ask, printed, given(values))

    for option in (json_option, folder_option):
        run = option(run)
    params += reversed(getattr(run, "__click_params__", []))
    about = re.sub(r"^One row of \w+\.csv[:.] ", "", " ".join((TABLES[table].__doc__ or "").split()))
    return click.Command(singular(table), params=params, callback=run, help=f"Add a row to {table}.csv: {about[:1].lower()}{about[1:]}")


def _option(table: str, column: Column) -> click.Option:
    """The option for a column: --series-id, and --series for short; the row's own id is --id as well."""
    names = [f"--{column.name.replace('_', '-')}"]
    others = {each.name for each in columns(table)}
    for ending, short in (("_id", ""), ("_ids", "s")):
        if column.name.endswith(ending) and (name := column.name.removesuffix(ending) + short) not in others:
            names.insert(0, f"--{name.replace('_', '-')}")
    if TABLES[table].key == (column.name,) and column.name.endswith("_id"):
        names.append("--id")  # what people type first
    how = column.says_how.upper() if column.kind in ("id", "ids", "date", "reading", "text") else column.says_how
    metavar = "ID;ID" if column.kind == "ids" else "NUMBER" if column.kind in ("stamped", "whole", "number") else how.replace(" / ", "|")
    own = table in NUMBERED and column.name == TABLES[table].key[0]
    needed = " The next one, if not given." if own else " Must be given." if column.required else ""
    return click.Option([*names, column.name], metavar=metavar, help=column.description + needed)


def _add(table: str, folder: Path, as_json: bool, ask: bool, printed: str | None, values: dict[str, str]) -> None:
    from kb.dataset import edit
    from kb.dataset.changes import NewRow
    from loaders.folder import load
    from loaders.phrases import rows

    ranges = rows(table, printed) if printed else [{}]
    if ask or (sys.stdin.isatty() and _missing(table, values)):
        from kb.cli.keeping.dialogue import ask as ask_for
        from kb.dataset.trial import as_it_is
        from kb.words.dataset import Dataset

        held = as_it_is(folder, load)
        values = ask_for(table, {**ranges[0], **values}, held.dataset if held else Dataset())
    changes = [NewRow(table, {**cells, **_numbered(table, values, at)}) for at, cells in enumerate(ranges)]
    written = edit.apply(folder, changes, load=load)
    show_written(written, as_json, "added")


def _missing(table: str, values: dict[str, str]) -> bool:
    key = TABLES[table].key[0] if table in NUMBERED else ""
    return any(column.required and column.name not in values and column.name != key for column in columns(table))


def _numbered(table: str, values: dict[str, str], at: int) -> dict[str, str]:
    """The id that was given; rows after the first get their number appended, because one wording may be several ranges."""
    key: Sequence[str] = TABLES[table].key
    if at and len(key) == 1 and key[0] in values:
        return {**values, key[0]: f"{values[key[0]]}-{at + 1}"}
    return values
