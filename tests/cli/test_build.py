"""`kb build`: a file, or a list of what is wrong; layers; the public file; silence in a pipe."""

import json
import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kb.cli import main


def build(*arguments: str | Path, **environment: str) -> Result:
    return CliRunner(env=environment).invoke(main, ["build", *map(str, arguments)], catch_exceptions=False)


def test_what_was_built_is_said_and_nothing_else(club: Path, tmp_path: Path) -> None:
    result = build(club, "--db", tmp_path / "kb.db")
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert lines[0] == "25 rows in 15 files: no errors, no doubts."
    assert lines[1].startswith(f"{tmp_path / 'kb.db'} built: 1 change-over estimated, 0 disputes to review, ")
    assert (tmp_path / "kb.db").stat().st_mode & 0o777 == 0o444


def test_the_file_is_named_by_the_environment_too(club: Path, tmp_path: Path) -> None:
    assert build(club, KB_DB=str(tmp_path / "named.db")).exit_code == 0
    assert (tmp_path / "named.db").exists()


def test_the_same_folder_gives_the_same_bytes(club: Path, tmp_path: Path) -> None:
    for name in ("one.db", "two.db"):
        assert build(club, "-o", tmp_path / name).exit_code == 0
    assert (tmp_path / "one.db").read_bytes() == (tmp_path / "two.db").read_bytes()


@pytest.mark.parametrize("as_json", [False, True])
def test_with_an_error_nothing_is_written_and_the_old_file_stays(club: Path, tmp_path: Path, as_json: bool) -> None:
    target = tmp_path / "kb.db"
    assert build(club, "-o", target).exit_code == 0
    before = target.read_bytes()
    (club / "models.csv").write_text("model_id,maker_id,name\nm-1,nobody,M1\nm-2,orlop,M2\n", "utf-8")
    result = build(club, "-o", target, *(["--json"] if as_json else []))
    assert (result.exit_code, result.stderr) == (1, "")
    assert target.read_bytes() == before
    if as_json:
        [finding] = json.loads(result.stdout)["findings"]
        assert (finding["severity"], finding["file"], finding["row"], finding["value"]) == ("error", "models.csv", 2, "nobody")
    else:
        assert result.stdout.startswith('Errors\nmodels.csv, row 2, maker_id "nobody": ')
        assert result.stdout.endswith("1 error, no doubts.\n")


def test_layers_add_up_and_replaced_rows_are_told(club: Path, tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    shop.mkdir()
    (shop / "parts.csv").write_text("part_number,description,kind,unit,available,safety_critical\n1407,Seal,original,each,yes,no\n", "utf-8")
    result = build(club, shop, "-o", tmp_path / "kb.db")
    assert result.stdout.splitlines()[0] == "parts 1407: shop/parts.csv, row 2, replaces club/parts.csv, row 2."
    answer = json.loads(build(club, shop, "-o", tmp_path / "kb.db", "--json").stdout)
    assert answer["replaced"] == [{"table": "parts", "key": "1407", "earlier": ["club/parts.csv", 2], "later": ["shop/parts.csv", 2]}]
    assert (answer["rows"]["club/parts.csv"], answer["rows"]["shop/parts.csv"]) == (3, 1)
    assert answer["bytes"] == (tmp_path / "kb.db").stat().st_size


def test_a_public_file_names_no_observer(club: Path, tmp_path: Path) -> None:
    for name, more in (("private.db", []), ("public.db", ["--public"])):
        assert build(club, "-o", tmp_path / name, *more).exit_code == 0
    assert b"R. Roe" in (tmp_path / "private.db").read_bytes()
    assert b"R. Roe" not in (tmp_path / "public.db").read_bytes()
    with sqlite3.connect(tmp_path / "public.db") as file:
        assert "observer" not in [row[1] for row in file.execute("pragma table_info(sightings)")]
    file.close()


@pytest.mark.parametrize(("target", "said"), [
    ("nowhere/kb.db", "There is no folder"),
    (".", "is a folder"),
])
def test_a_target_that_cannot_be_written_is_a_message(club: Path, tmp_path: Path, target: str, said: str) -> None:
    result = build(club, "-o", tmp_path / target)
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.startswith("Error: ") and said in result.stderr and len(result.stderr.splitlines()) == 2
