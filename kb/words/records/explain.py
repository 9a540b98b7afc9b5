"""A record's refusal in plain words: which column, what is wrong and how to mend it."""

import difflib
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from kb.words.records.columns import Column, columns
from kb.words.records.record import DAMAGED_NUMBER, DAMAGED_REMEDY


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong with one row."""

    column: str
    value: str
    problem: str
    remedy: str


def explain(table: str, error: ValidationError) -> list[Problem]:
    """Every problem of one row of `table`, in the order of its columns; rules about several columns come last and name none."""
    return [_explain(table, each) for each in error.errors(include_url=False)]


def nearest(word: str, known: "list[str] | tuple[str, ...]") -> str | None:
    """The known word most like a misspelt one, if any is close."""
    return next(iter(difflib.get_close_matches(word, known, n=1, cutoff=0.7)), None)  # numeric


def _explain(table: str, error: Any) -> Problem:
    name = str(error["loc"][0]) if error["loc"] else ""
    column = next((c for c in columns(table) if c.name == name), None)
    value = _shown(error.get("input")) if column else ""
    problem, remedy = _words(error, column, value, table)
    return Problem(name, "" if error["type"] == "missing" else value, problem, remedy)


def _words(error: Any, column: Column | None, value: str, table: str) -> tuple[str, str]:
    context = error.get("ctx") or {}
    if column and DAMAGED_NUMBER.fullmatch(value):
        return "No longer the number that was typed.", DAMAGED_REMEDY
    if column and column.kind != "text" and ("\n" in value or "\r" in value):
        return "There is a line break in it.", "Write it on one line."
    if column and column.kind in ("whole", "number") and (better := _decimal_point(value, column)):
        return str(context["problem"]), f"Write {better}."
    if column and column.kind == "id" and (better := _slug(value)):
        return str(context.get("problem", "Not an id.")), f'{context.get("remedy", "")} Perhaps "{better}".'.strip()
    if error["type"] == "refused":
        return str(context["problem"]), str(context["remedy"])
    if error["type"] == "missing":
        return "Empty, but it must be filled in.", f"Write: {column.description}" if column else "Fill it in."
    if error["type"] == "literal_error" and column:
        near = nearest(value.strip().lower(), column.choices)
        hint = f' Perhaps "{near}".' if near else ""
        return "Not one of the words for this column.", f"Write one of: {', '.join(column.choices)}.{hint}"
    if error["type"] == "extra_forbidden":
        known = [c.name for c in columns(table)]
        near = nearest(str(error["loc"][0]), known)
        return "Unknown column.", f'Perhaps "{near}" is meant.' if near else f"{table} has: {', '.join(known)}."
    how = f" Write {column.says_how}." if column else ""
    return f"{error['msg']}.", f"Correct the value.{how}"


def _shown(value: Any) -> str:
    if isinstance(value, tuple | list):
        return ";".join(str(each) for each in value)
    return "" if value is None else str(value)


def _decimal_point(value: str, column: Column) -> str | None:
    """ "0,25" as "0.25", "1,200" as "1200" - only where nothing else can be meant."""
    whole, comma, rest = value.partition(",")
    if not (comma and whole.isdigit() and rest.isdigit()):
        return None
    if column.kind == "whole":
        return whole + rest if len(rest) == 3 else None
    return f"{whole}.{rest}" if len(rest) != 3 else None


def _slug(value: str) -> str | None:
    """The value as an id, if only case, spaces or dots are wrong with it."""
    better = "-".join(value.lower().replace(".", " ").replace("/", " ").split())
    return better if better != value and better.isascii() and better.replace("-", "").replace("_", "").isalnum() else None
