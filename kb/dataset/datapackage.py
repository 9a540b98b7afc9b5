"""datapackage.json: the dataset folder described by an open standard, so that other programs can read and check it too.

Notation: Data Package and Table Schema, version 2, https://datapackage.org/standard/. Everything in it comes from the records, so it
says exactly what the program checks, except for what the standard cannot express: dates are EDTF, lists are texts separated by `;`, and a
misspelt column passes there (`fieldsMatch` is partial, since optional columns may be absent) but not here.
"""

import json
from collections.abc import Iterable
from typing import Any

from kb.words.records import TABLES
from kb.words.records.columns import Column, columns

PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
_TYPES = {"whole": "integer", "number": "number", "yes/no": "boolean"}


def datapackage(tables: Iterable[str] | None = None, name: str = "dataset", title: str | None = None) -> dict[str, Any]:
    """The descriptor of a folder that has the files of these tables; of all tables, if none are named.

    Args:
        tables: in any order; they are described in the order of the dataset.
        name: a short name for the folder, in lower case without spaces.
        title: what a person calls it.
    """
    wanted = set(TABLES if tables is None else tables)
    named = {"$schema": PROFILE, "name": name, **({"title": title} if title else {})}
    return {**named, "resources": [_resource(table, wanted) for table in TABLES if table in wanted]}


def dump(package: dict[str, Any]) -> str:
    """The text of the file."""
    return json.dumps(package, ensure_ascii=False, indent=2) + "\n"


def _resource(table: str, present: set[str]) -> dict[str, Any]:
    record = TABLES[table]
    described = (record.__doc__ or "").partition(".csv: ")[2] or (record.__doc__ or "")
    return {
        "name": table,
        "path": f"{table}.csv",
        "type": "table",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "description": " ".join(described.split()),
        "schema": {
            "fieldsMatch": "partial",
            "fields": [_field(column) for column in columns(table)],
            "missingValues": [""],
            "primaryKey": list(record.key),
            "foreignKeys": [_foreign_key(table, column) for column in columns(table) if _refers(column, present)],
        },
    }


def _refers(column: Column, present: set[str]) -> bool:
    return column.points_at in present and column.kind != "ids"


def _foreign_key(table: str, column: Column) -> dict[str, Any]:
    assert column.points_at is not None
    resource = "" if column.points_at == table else column.points_at  # "" is the file itself
    return {"fields": [column.name], "reference": {"resource": resource, "fields": [TABLES[column.points_at].key[0]]}}


def _field(column: Column) -> dict[str, Any]:
    constraints: dict[str, Any] = {"required": True} if column.required else {}
    given = {"enum": list(column.choices) or None, "pattern": column.pattern, "minimum": column.least, "maximum": column.most}
    constraints |= {name: value for name, value in given.items() if value is not None}
    if column.above is not None:
        constraints["exclusiveMinimum"] = column.above
    field: dict[str, Any] = {"name": column.name, "type": _TYPES.get(column.kind, "string"), "description": column.description}
    if column.kind == "yes/no":
        field |= {"trueValues": ["yes"], "falseValues": ["no"]}
    return {**field, **({"constraints": constraints} if constraints else {})}
