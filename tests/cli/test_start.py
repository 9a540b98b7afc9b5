"""Starting and ending: light imports, help, exit codes, quiet pipes."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from kb.cli import COMMANDS, GROUPS, main

HEAVY = ("rapidfuzz", "sqlite_utils", "datasette", "kb.words.records", "loaders", "httpx")


def kb(*arguments: str, cwd: Path | None = None, **environment: str) -> "subprocess.CompletedProcess[str]":
    """The program as a process with its output in pipes."""
    path = {"PYTHONPATH": str(Path(__file__).resolve().parents[2])}
    return subprocess.run(
        [sys.executable, "-m", "kb.cli", *arguments], capture_output=True, text=True, cwd=cwd, env={**os.environ, **path, **environment}, timeout=60
    )


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_explains_itself_at_80_columns(name: str) -> None:
    result = CliRunner().invoke(main, [name, "--help"], prog_name="kb", terminal_width=80)
    assert result.exit_code == 0
    assert result.output.startswith(f"Usage: kb {name} ")
    assert max(map(len, result.output.splitlines())) <= 80


def test_the_help_names_every_command_with_what_it_does_on_one_line() -> None:
    shown = CliRunner().invoke(main, ["--help"], terminal_width=80).output
    lines = [line.split(maxsplit=1) for line in shown.split("\nQuestions:\n")[1].splitlines() if line.startswith("  ")]
    assert lines == [[name, says] for group in GROUPS.values() for name, says in group.items()]


def test_an_unknown_command_is_wrong_usage() -> None:
    result = CliRunner().invoke(main, ["identity"])
    assert result.exit_code == 2
    assert "No such command 'identity'" in result.stderr


@pytest.mark.parametrize("arguments", [["--help"], ["identify", "--help"], ["identify", "--serial", "1", "--db", "nowhere.db"], ["parts", "--help"]])
def test_asking_starts_light(arguments: list[str]) -> None:
    program = (
        "import sys; from kb.cli import main\ntry: main(sys.argv[1:])\nexcept SystemExit: pass\n"
        f"print([name for name in {HEAVY} if name in sys.modules], file=sys.stderr)"
    )
    result = subprocess.run([sys.executable, "-c", program, *arguments], capture_output=True, text=True, check=True)
    assert result.stderr.splitlines()[-1] == "[]"


@pytest.mark.parametrize("arguments", [
    ["identify"], ["casting", "H41"], ["fits", "1407"], ["parts"], ["units", "1407"], ["trace", "1407"], ["review"],
])  # fmt: skip
def test_without_a_database_a_message_says_how_to_make_one(arguments: list[str], tmp_path: Path) -> None:
    result = kb(*arguments, cwd=tmp_path, KB_DB="nowhere.db")
    assert (result.returncode, result.stdout) == (1, "")
    assert result.stderr.startswith('Error: There is no file "nowhere.db".\nBuild one with: kb build')
    assert "Traceback" not in result.stderr


def test_what_is_no_database_is_said_to_be_none(tmp_path: Path) -> None:
    (tmp_path / "kb.db").write_text("something else")
    result = kb("review", cwd=tmp_path, KB_DB="kb.db")
    assert (result.returncode, result.stdout) == (1, "")
    assert result.stderr.startswith('Error: "kb.db" is not a knowledge base')


def test_a_name_that_the_terminal_cannot_show_is_no_traceback(club: Path) -> None:
    (club / "models.csv").write_text("model_id,maker_id,name\nm-1,Gy\u0151r,M1\n", "utf-8")
    result = kb("check", str(club), PYTHONIOENCODING="latin-1", PYTHONUTF8="0")
    assert result.returncode == 1
    assert "Traceback" not in result.stderr
    assert 'models.csv, row 2, maker_id "Gy?r"' in result.stdout


def test_a_reader_that_goes_away_is_no_traceback() -> None:
    path = {"PYTHONPATH": str(Path(__file__).resolve().parents[2])}
    process = subprocess.Popen(
        [sys.executable, "-m", "kb.cli", "--help"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env={**os.environ, **path}
    )
    assert process.stdout is not None and process.stderr is not None
    process.stdout.close()
    said = process.stderr.read()
    process.stderr.close()
    process.wait(timeout=60)
    assert "Traceback" not in said
