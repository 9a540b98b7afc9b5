"""What the help shows can be typed as it stands: every example of every command, run against the demo."""

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from kb.cli import COMMANDS, main

EXAMPLE = re.compile(r"^\s*(kb [a-z].*)$", re.MULTILINE)


def examples(command: str) -> list[str]:
    """The lines of a command's help that can be typed, which are those that begin with `kb`."""
    return EXAMPLE.findall((main.commands[command].help or "").replace("\b", ""))


SHOWN = [(command, line) for command in COMMANDS for line in examples(command) if line.startswith(f"kb {command} ")]


def test_the_help_shows_examples() -> None:
    assert {"identify", "casting", "sheet", "look", "compare"} <= {command for command, _ in SHOWN}


@pytest.mark.parametrize(("command", "line"), SHOWN)
def test_an_example_of_the_help_works_on_the_demo(command: str, line: str, demo_db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(main, shlex.split(line)[1:], env={"KB_DB": str(demo_db)})
    assert done.exit_code == 0, done.output
    assert done.stdout.strip() and "not in this knowledge base" not in done.stdout.lower().split("\n")[0]
