"""Write the pages that come from the program itself: `python docs/generate.py`.

docs/data.md from the records, docs/commands.md from the commands, docs/evidence.md from the kinds of evidence; and kb/store/rows.py, see
docs/row_types.py. A test fails when one of them is not what this would write.
"""

import re
from collections.abc import Callable
from pathlib import Path

import click
from click.testing import CliRunner

from docs import row_types
from kb.cli import main as kb
from kb.words.evidence import AGAIN, CONTEXT, KINDS, EvidenceKind
from kb.words.records import TABLES
from kb.words.records.columns import Column, columns

HERE = Path(__file__).resolve().parent

DATA_HEAD = """\
# The dataset folder

<!-- Written by `make docs` from the records in kb/words/records. -->

A dataset is a folder of CSV files (RFC 4180, UTF-8, a header row), under version control or filled in a spreadsheet. `kb check FOLDER`
lists everything that is wrong with it; `kb build FOLDER` makes the database. Columns may come in any order; a file may be absent when nothing
refers to it; columns whose names start with `x_` are kept and not interpreted.

How a cell is written:

| kind | how |
|---|---|
| id | lower-case letters, digits and single dashes: `head-1` |
| ids | several ids, separated by `;` |
| number as stamped or printed | letters, digits, spaces, dashes, dots, slashes; always text: the zeros of `00412` are part of it |
| reading | what can be made out: `?` is one character that cannot be read, `[38]` is one of these, `*` is any number of missing characters |
| date | EDTF (ISO 8601-2): `1948`, `1948-05`, `1948-05-03`, `1947/1949`, `194X`, `1948~` for about 1948 |
| whole number, number | no thousands separators; a decimal point |
| yes/no | `yes` or `no` |

In the tables below, **bold** columns are the key of a row, and *may be empty* also means that the column may be missing. Private
columns and files are left out of a database built with `--public`.

How the layout of a casting date is written (`layout` in date_codes.csv): letters say what comes where, in the order it is cast. Spaces show where the
casting leaves room; they may be missing on the casting and when typed.

| in the layout | on the casting |
|---|---|
| `M` | the letter of the month: by `month_letters`, otherwise A for January to L for December, with the letter I |
| `N`, `NN` | the number of the month, in one or two digits; in two |
| `D`, `DD` | the day of the month, in one or two digits; in two |
| `W`, `WW` | the week by ISO 8601 (week 1 holds the year's first Thursday), in one or two digits; in two |
| `Y`, `YY`, `YYYY` | the last digit of the year; the last two; all four. With `W` it is the year of the week |
| `S` | a shift mark: one character or none; it says nothing |
| `0` to `9` | that digit, always the same |
"""

COMMANDS_HEAD = """\
# Commands

<!-- Written by `make docs` from the commands themselves. -->

`--db FILE` or the environment variable `KB_DB` names the database. Every question takes `--json`. The exit code is 0 for an
answer, 1 if the data or the question is wrong (the message on standard error says what, and how to mend it), and 2 for wrong usage.
"""

EVIDENCE_HEAD = """\
# What can be said about a unit

<!-- Written by `make docs` from the kinds of evidence in kb/words/evidence.py. -->

Whatever you read, see or measure on a unit is evidence of one of these kinds; you can give any number of each. The same text serves as an option of
the command line, a parameter of an address, a cell of a list (the heading may hold the part before the `=`), and an entry of the JSON form.
Name a component, feature or series by its id or its name; `@left` is one of several places. In a reading, `?` is one character that
cannot be read, `[38]` is one of these, and `*` is any number of missing ones. [The model](model.md) says what each kind weighs.
"""
AGAIN_HEAD = """\
A second look at a character refines a reading already given, and weighs nothing without it:"""
CONTEXT_HEAD = """\
Given only once, because it says which units are meant, or how to take everything read on them:"""


def data() -> str:
    """docs/data.md: every file with its columns."""
    pages = [DATA_HEAD]
    for table, record in TABLES.items():
        private = " The file is private." if record.private_table else ""
        key = " and ".join(f"`{name}`" for name in record.key)
        about = re.sub(r"^One row of \w+\.csv[:.] ", "", " ".join((record.__doc__ or "").split()))
        pages.append(f"## {table}.csv\n\n{about[:1].upper()}{about[1:]}{private} Key: {key}.\n")
        lines = [_line(column, column.name in record.key) for column in columns(table)]
        pages.append("\n".join(["| column | | how to fill it in | what it is |", "|---|---|---|---|", *lines, ""]))
    return "\n".join(pages)


def _line(column: Column, is_key: bool) -> str:
    name = f"**{column.name}**" if is_key else column.name
    how = f"{column.says_how} in {column.points_at}.csv" if column.points_at else column.says_how
    may_be = "" if column.required else "may be empty"
    if column.default not in (None, (), ""):
        may_be = f"empty: {_written(column.default)}"
    what = column.description + (" Private." if column.private else "")
    return f"| {name} | {may_be} | {how} | {what} |".replace("|  |", "| |")


def _written(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def commands() -> str:
    """docs/commands.md: what each command says about itself."""
    pages = [COMMANDS_HEAD, _help()]
    for name in sorted(kb.commands):
        pages.append(f"## kb {name}\n\n{_help(name)}")
        context = click.Context(kb)
        command = kb.get_command(context, name)
        if isinstance(command, click.Group):
            pages += [f"### kb {name} {each}\n\n{_help(name, each)}" for each in command.list_commands(context)]
    return "\n".join(pages)


def evidence() -> str:
    """docs/evidence.md: what can be said about a unit, one row for each kind."""
    head = "| | option | how to write it | an example | column | JSON |\n|---|---|---|---|---|---|"
    once = [f"- `--{each.name}`{_of(each.choices)}: {each.help}" for each in CONTEXT]
    kinds = "\n".join([head, *map(_kind, KINDS)])
    return "\n".join([EVIDENCE_HEAD, kinds, f"\n{AGAIN_HEAD}\n\n{head}\n{_kind(AGAIN)}\n\n{CONTEXT_HEAD}\n", *once, ""])


def _kind(kind: EvidenceKind) -> str:
    called = ", ".join(f"`{name}`" for name in kind.columns)
    return f"| **{kind.label}**: {kind.help} | `{kind.option}` | `{kind.notation}` | `{kind.example}` | {called} | `{kind.field}` |"


def _of(choices: tuple[str, ...]) -> str:
    return f" ({', '.join(choices)})" if choices else ""


def _help(*command: str) -> str:
    arguments = [*command, "--help"]
    result = CliRunner(env={"COLUMNS": "80"}).invoke(kb, arguments, prog_name="kb", color=False, catch_exceptions=False)
    shown = "\n".join(line.rstrip() for line in click.unstyle(result.output).rstrip().splitlines())
    return f"```text\n$ kb {' '.join(arguments)}\n{shown}\n```\n"


PAGES: dict[str, Callable[[], str]] = {"data.md": data, "commands.md": commands, "evidence.md": evidence}


if __name__ == "__main__":
    for page, write in PAGES.items():
        (HERE / page).write_text(write(), encoding="utf-8")
        click.echo(f"docs/{page}")
    row_types.TARGET.write_text(row_types.source(), encoding="utf-8")
    click.echo("kb/store/rows.py")
