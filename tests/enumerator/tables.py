"""Rows of the CSV files as plain dicts of text, and the days that a date such as 1947/1949 spans."""

import csv
import re
from calendar import monthrange
from datetime import date
from pathlib import Path

Row = dict[str, str]
Tables = dict[str, list[Row]]


def read_folder(path: Path | str) -> Tables:
    """All CSV files of a dataset folder: file name without .csv -> rows."""
    tables: Tables = {}
    for file in sorted(Path(path).glob("*.csv")):
        with file.open(encoding="utf-8-sig", newline="") as opened:
            tables[file.stem] = [dict(row) for row in csv.DictReader(opened)]
    return tables


def cell(row: Row, column: str) -> str:
    """The text of a cell; "" where it is empty or there is no such column."""
    return (row.get(column) or "").strip()


def number(row: Row, column: str, default: float) -> float:
    """A cell as a number."""
    return float(cell(row, column) or default)


def listed(row: Row, column: str) -> list[str]:
    """A cell that holds a list separated by semicolons."""
    return [part.strip() for part in cell(row, column).split(";") if part.strip()]


def rows(tables: Tables, table: str) -> list[Row]:
    """The rows of a table in file order, without the retracted ones."""
    return [row for row in tables.get(table, []) if not cell(row, "retracted")]


def index(tables: Tables, table: str, key: str) -> dict[str, Row]:
    """The rows of a table by key."""
    return {cell(row, key): row for row in rows(tables, table)}


def days(text: str) -> tuple[int, int]:
    """First and last day of an EDTF date, as day numbers.

    >>> [date.fromordinal(day).isoformat() for day in days("1947/1948-02~")]
    ['1947-01-01', '1948-02-29']
    """
    begin, _, end = text.partition("/")
    return _days(begin)[0], _days(end or begin)[1]


def _days(text: str) -> tuple[int, int]:
    parts = text.strip().rstrip("~?%").split("-")
    if not re.fullmatch(r"[0-9]{2}([0-9]{2}|[0-9]X|XX)", parts[0]):
        raise ValueError(f'"{text}" is not a date; expected YYYY, YYYY-MM or YYYY-MM-DD')
    first, last = int(parts[0].replace("X", "0")), int(parts[0].replace("X", "9"))
    if len(parts) == 1:
        return date(first, 1, 1).toordinal(), date(last, 12, 31).toordinal()
    month = int(parts[1])
    if month in (21, 22, 23):  # spring is March to May, and so on
        begin = 3 * (month - 20)
        return date(first, begin, 1).toordinal(), date(last, begin + 2, monthrange(last, begin + 2)[1]).toordinal()
    if month == 24:
        return date(first, 12, 1).toordinal(), date(last + 1, 3, 1).toordinal() - 1
    if len(parts) == 2:
        return date(first, month, 1).toordinal(), date(last, month, monthrange(last, month)[1]).toordinal()
    return date(first, month, int(parts[2])).toordinal(), date(last, month, int(parts[2])).toordinal()
