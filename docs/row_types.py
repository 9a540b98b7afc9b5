"""Write kb/store/rows.py: the types of the rows that the program reads, from the records and from the tables of an empty build.

`make docs` writes it anew; a test fails when it is not what the records and the schema say.
"""

import sqlite3
import tempfile
from collections.abc import Iterable, Iterator
from pathlib import Path

from kb.store.build import build
from kb.store.schema import ADDED
from kb.words.dataset import Dataset
from kb.words.records import TABLES
from kb.words.records.columns import Column, columns

TARGET = Path(__file__).resolve().parent.parent / "kb" / "store" / "rows.py"

HEAD = '''\
"""Rows as the program reads them: a named tuple for each table, and for each select that reads a whole table with something beside it.

Written by `make docs` from the records and the schema; change those. A yes/no column is a bool here and a list a tuple, however they are
stored; the columns of PRIVATE are None in a file that was built with --public.
"""

from typing import Literal, NamedTuple
'''

# A table read together with columns of others: the name of the row, what it is, the table, the further columns.
JOINED = (
    ("MarkOfVariantRow", "A mark with one of the variants that it tells.", "marks", {"variant_id": "str"}),
    (
        "MarkWithOwnerRow", "A mark with a variant that it tells and that variant's component; None for both if it tells none.", "marks",
        {"variant_id": "str | None", "component_id": "str | None"},
    ),
    (
        "UsedBlockRow", "A block that counts, with its place in the line, its numbers and what was built of it from when to when.", "blocks",
        {"line_id": "str", "place": "int", "number_first": "int", "number_last": "int", "built_units": "float", "built_first": "str | None",
         "built_last": "str | None"},
    ),
    ("SupersessionInOrderRow", "A supersession with its place in the file.", "supersessions", {"position": "int"}),
)  # fmt: skip
WIDEST = 150
_PLAIN = {"whole": "int", "number": "float", "yes/no": "bool", "ids": "tuple[str, ...]"}
_STORED = {"TEXT": "str", "INTEGER": "int", "REAL": "float", "BLOB": "bytes"}


def source() -> str:
    """The text of kb/store/rows.py."""
    written = [HEAD]
    for table, record in TABLES.items():
        written.append(_class(f"{record.__name__}Row", f"A row of {table}.csv as it is stored.", [*_own(table), *_added(table)]))
    for table, names in _derived():
        written.append(_class(f"{_singular(table)}Row", f"A row of the derived table {table}.", names))
    for name, about, table, more in JOINED:
        written.append(_class(name, about, [*_own(table), *_added(table), *more.items()]))
    private = [(f"{record.__name__}Row", sorted(record.private)) for record in TABLES.values() if record.private and not record.private_table]
    written.append("\nTABLE_OF: dict[type, str] = {")
    written += [f'    {record.__name__}Row: "{table}",' for table, record in TABLES.items()]
    written.append("}")
    written.append("PRIVATE: dict[type, frozenset[str]] = {")
    written += [f"    {name}: frozenset({{{', '.join(_quoted(names))}}})," for name, names in private]
    written.append("}\n")
    return "\n".join(written)


def _class(name: str, about: str, fields: Iterable[tuple[str, str]]) -> str:
    lines = [f"\nclass {name}(NamedTuple):", f'    """{about}"""', ""]
    for field, kind in fields:
        line = f"    {field}: {kind}"
        if hasattr(tuple, field):
            line += "  # type: ignore[assignment]  # tuples have a method of that name, which nobody calls"
        lines += [line] if len(line) <= WIDEST else _folded(field, kind)
    return "\n".join([*lines, ""])


def _folded(field: str, kind: str) -> list[str]:
    """A field whose choices need a line each."""
    choices, end = kind.removeprefix("Literal[").split("]")
    return [f"    {field}: Literal[", *(f"        {choice}," for choice in choices.split(", ")), f"    ]{end}"]


def _own(table: str) -> list[tuple[str, str]]:
    return [(column.name, _kind(column, left_out=column.name in TABLES[table].private)) for column in columns(table)]


def _kind(column: Column, left_out: bool) -> str:
    """The type of a column; left_out: a public build has it not."""
    kind = f"Literal[{', '.join(_quoted(column.choices))}]" if column.choices else _PLAIN.get(column.kind, "str")
    return f"{kind} | None" if left_out or not (column.required or column.default is not None) else kind


def _added(table: str) -> Iterator[tuple[str, str]]:
    for name, sql in ADDED.get(table, ()):
        yield name, _STORED[sql.split()[0]]


def _derived() -> Iterator[tuple[str, list[tuple[str, str]]]]:
    """The tables that the build derives, with their columns."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "empty.db"
        build(Dataset(), path)
        connection = sqlite3.connect(path)
        try:
            named = connection.execute("select name from sqlite_master where type = 'table' order by rowid").fetchall()
            for (table,) in named:
                if table not in TABLES and "_fts" not in table and not table.startswith("sqlite_"):
                    found = connection.execute(f'pragma table_info("{table}")').fetchall()
                    yield table, [(name, _STORED[kind] + ("" if always else " | None")) for _, name, kind, always, _, _ in found if name != "key"]
        finally:
            connection.close()


def _singular(table: str) -> str:
    words = [word.capitalize() for word in table.split("_")]
    return "".join([*words[:-1], words[-1].removesuffix("s")])


def _quoted(texts: Iterable[str]) -> list[str]:
    return [f'"{text}"' for text in texts]


if __name__ == "__main__":
    TARGET.write_text(source(), encoding="utf-8")
