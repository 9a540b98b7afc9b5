"""`kb template`: an empty folder that checks clean, the descriptor of a filled one, and nothing overwritten."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kb.cli import main
from kb.words.records import TABLES
from kb.words.records.columns import columns


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, list(map(str, arguments)), catch_exceptions=False)


def test_an_empty_dataset_has_every_file_and_column_and_checks_clean(tmp_path: Path) -> None:
    folder = tmp_path / "My Club"
    result = run("template", folder)
    assert (result.exit_code, result.stdout) == (0, f"{folder}: {len(TABLES) + 2} files written.\n")
    for table in TABLES:
        assert (folder / f"{table}.csv").read_text("utf-8") == ",".join(column.name for column in columns(table)) + "\n"
    package = json.loads((folder / "datapackage.json").read_text("utf-8"))
    assert package["name"] == "my-club"
    assert [each["path"] for each in package["resources"]] == [f"{table}.csv" for table in TABLES]
    assert run("check", folder).stdout == f"0 rows in {len(TABLES)} files: no errors, no doubts.\n"


def test_the_descriptor_of_a_filled_folder_names_what_is_there(club: Path) -> None:
    before = {path.name: path.read_bytes() for path in club.iterdir()}
    assert run("template", club, "--datapackage").stdout == f"{club}: datapackage.json written.\n"
    package = json.loads((club / "datapackage.json").read_text("utf-8"))
    assert {each["path"] for each in package["resources"]} == set(before)
    assert {path.name: path.read_bytes() for path in club.iterdir() if path.name in before} == before
    assert run("check", club).exit_code == 0


@pytest.mark.parametrize(("more", "said"), [
    ([], "already has sources.csv, makers.csv, models.csv and more.\nName a new folder."),
    (["--datapackage"], "already has datapackage.json.\nDelete it to have it written anew."),
])
def test_nothing_is_overwritten(club: Path, more: list[str], said: str) -> None:
    (club / "datapackage.json").write_text("{}", "utf-8")
    before = {path.name: path.read_bytes() for path in club.iterdir()}
    result = run("template", club, *more)
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr == f'Error: "{club}" {said}\n'
    assert {path.name: path.read_bytes() for path in club.iterdir()} == before


def test_a_folder_that_cannot_be_made_is_a_message(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", "utf-8")
    result = run("template", tmp_path / "file" / "folder")
    assert result.exit_code == 1
    assert "cannot be written to: Not a directory.\nName a folder of your own." in result.stderr
    assert run("template", tmp_path / "nowhere", "--datapackage").exit_code == 1
