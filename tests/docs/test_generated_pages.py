"""Pages that the program writes itself are current, and nothing they should describe is left out."""

from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from docs.generate import PAGES
from docs.sessions import sessions
from kb.cli import main as kb
from kb.words.records import TABLES
from kb.words.records.columns import columns


@pytest.mark.parametrize("page", PAGES)
def test_a_generated_page_is_current(root: Path, page: str) -> None:
    assert (root / "docs" / page).read_text(encoding="utf-8") == PAGES[page](), f"docs/{page} is stale: make docs"


@pytest.mark.parametrize("table", TABLES)
def test_every_column_says_what_it_is(table: str) -> None:
    for column in columns(table):
        assert len(column.description) >= 5, f"{table}.{column.name}"
        assert column.description.endswith("."), f"{table}.{column.name} is no sentence"


def commands(group: click.Group, path: str = "kb") -> Iterator[tuple[str, click.Command]]:
    for name, command in group.commands.items():
        yield f"{path} {name}", command
        if isinstance(command, click.Group):
            yield from commands(command, f"{path} {name}")


@pytest.mark.parametrize(("name", "command"), list(commands(kb)))
def test_every_command_and_option_says_what_it_does(name: str, command: click.Command) -> None:
    assert command.help, name
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, f"{name} {parameter.opts[0]}"
        else:
            assert parameter.human_readable_name in (command.help or ""), f"{name}: its help does not mention {parameter.human_readable_name}"


def test_every_column_stands_in_the_page(root: Path) -> None:
    page = (root / "docs" / "data.md").read_text(encoding="utf-8")
    sections = dict(zip(TABLES, page.split("\n## ")[1:], strict=True))
    for table in TABLES:
        assert sections[table].startswith(f"{table}.csv\n")
        for column in columns(table):
            assert f"| {column.name} |" in sections[table] or f"| **{column.name}** |" in sections[table]


def test_make_demo_runs_what_the_readme_shows(root: Path) -> None:
    shown = [session.command for session in sessions((root / "README.md").read_text(encoding="utf-8"))]
    recipe = (root / "Makefile").read_text(encoding="utf-8").split("\ndemo: $(DB)\n")[1].split("\n\n")[0]
    assert [line.strip() for line in recipe.splitlines()] == shown
