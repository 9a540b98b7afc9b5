"""Asking for a row field by field, with what already exists as suggestions."""

import difflib
from collections.abc import Mapping, Sequence

import click
from pydantic import ValidationError

from kb.dataset.ids import NUMBERED, NextIds
from kb.words.dataset import Dataset
from kb.words.records import TABLES
from kb.words.records.columns import Column, columns
from kb.words.records.explain import explain

_SHOWN = 12  # suggestions at once; ? shows all
_SAYS = ("name", "title", "description", "question", "text")  # columns that say what a row is


def ask(table: str, given: Mapping[str, str], dataset: Dataset) -> dict[str, str]:
    """Ask for every column that was not given, in the order of the file. Each answer is checked at once; Enter leaves an optional column empty."""
    click.echo("Enter leaves a field empty, ? shows what exists.", err=True)
    answers = dict(given)
    for column in columns(table):
        if column.name not in answers and (answer := _ask(table, column, answers, dataset)):
            answers[column.name] = answer
    return answers


def _ask(table: str, column: Column, answers: Mapping[str, str], dataset: Dataset) -> str:
    known = _known(column, answers, dataset)
    usual = _usual(table, column, dataset)
    may_be = "" if column.required else ", may be empty"
    click.secho(f"\n{column.description}", dim=True, err=True)
    if known is not None and len(known) <= _SHOWN:
        _list(known)
    while True:
        answer = click.prompt(f"{column.name} ({column.says_how}{may_be})", default=usual, show_default=bool(usual), err=True).strip()
        if answer == "?":
            _list(known or {})
            continue
        if problem := _problem(table, column, answer, answers, known):
            click.secho(problem, fg="red", err=True)
            continue
        return str(answer)


def _usual(table: str, column: Column, dataset: Dataset) -> str:
    """What Enter stands for."""
    if table in NUMBERED and column.name == TABLES[table].key[0]:
        taken = [row.key_text for row in getattr(dataset, table)]
        return NextIds(table, taken).next(set(taken))
    return ""


def _known(column: Column, answers: Mapping[str, str], dataset: Dataset) -> dict[str, str] | None:
    """For a column that refers to something: what exists, each with its name; None for other columns."""
    component = answers.get("component_id")
    if column.name == "place":
        places = next((row.places for row in dataset.components if row.component_id == component), ())
        return dict.fromkeys(places, "")
    if column.points_at is None:
        return None
    rows = getattr(dataset, column.points_at)
    if component and column.points_at in ("variants", "features"):
        rows = [row for row in rows if row.component_id == component]
    return {row.key_text: next((str(getattr(row, name)) for name in _SAYS if hasattr(row, name)), "") for row in rows}


def _list(known: Mapping[str, str]) -> None:
    for key, what in known.items():
        click.echo(f"  {key}{'  ' + what if what else ''}", err=True)


def _problem(table: str, column: Column, answer: str, answers: Mapping[str, str], known: Mapping[str, str] | None) -> str:
    """What is wrong with an answer, with the remedy; "" if nothing is."""
    if not answer:
        return "This must be filled in." if column.required else ""
    try:
        TABLES[table].model_validate({**answers, column.name: answer})
    except ValidationError as error:
        mine = [each for each in explain(table, error) if each.column == column.name]
        if mine:
            return f"{mine[0].problem} {mine[0].remedy}"
    if column.points_at and known is not None:
        for each in [part.strip() for part in answer.split(";")] if column.kind == "ids" else [answer]:
            if each not in known:
                return f'"{each}" is not in {column.points_at}.csv. {_near(each, list(known))}'
    return ""


def _near(word: str, known: Sequence[str]) -> str:
    near = difflib.get_close_matches(word, known, n=3, cutoff=0.5)  # numeric
    return f"Perhaps {' or '.join(near)}?" if near else "? shows what exists."
