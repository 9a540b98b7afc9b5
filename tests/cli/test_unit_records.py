"""A unit kept in a file: taken up again with more evidence, and passed on to the archivist."""

import csv
import io
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from kb.cli import main
from kb.dataset import edit
from kb.dataset.changes import NewRow
from loaders.folder import load

MARKS = ["--mark", "pump-body=73-J18", "--saw", "pump-cover@left.cover-face=dished", "--cast-date", "pump-body=31 31"]


def run(demo_db: Path, *arguments: str) -> Result:
    return CliRunner().invoke(main, [arguments[0], "--db", str(demo_db), *arguments[1:]])


@pytest.fixture
def unit(demo_db: Path, tmp_path: Path) -> Path:
    target = tmp_path / "unit.json"
    done = run(demo_db, "identify", "--serial", "C1542", *MARKS, "--save", str(target))
    assert done.exit_code == 0, done.output
    return target


def test_the_saved_unit_is_the_answer_and_takes_more_evidence(demo_db: Path, unit: Path) -> None:
    saved = json.loads(unit.read_text(encoding="utf-8"))
    assert saved == json.loads(run(demo_db, "identify", "--serial", "C1542", *MARKS, "--json").output)
    more = json.loads(run(demo_db, "identify", "--unit", str(unit), "--mark", "gear-case=18-E25", "--json").output)
    assert more["evidence"]["marks"] == ["pump-body=73-J18", "gear-case=18-E25"]
    assert run(demo_db, "sheet", "--unit", str(unit), "--assembly", "pump", "--json").exit_code == 0


def test_a_finished_examination_becomes_rows(demo_db: Path, unit: Path) -> None:
    done = run(demo_db, "sighting", str(unit), "--seen-on", "2024-05-17", "--original", "believed")
    rows = list(csv.DictReader(io.StringIO(done.output)))
    assert [(r["component_id"], r["place"], r["variant_id"], r["mark_read"], r["casting_date"]) for r in rows] == [
        ("pump-body", "", "", "73J18", "31 31"),
        ("pump-cover", "left", "cover-dished", "", ""),
    ]
    assert {(r["series_id"], r["serial"], r["original"], r["seen_on"]) for r in rows} == {("pw-unit-no", "C1542", "believed", "2024-05-17")}


def test_the_rows_are_taken_by_the_dataset(demo_db: Path, unit: Path, demo_folder: Path, tmp_path: Path) -> None:
    import shutil

    folder = tmp_path / "copy"
    shutil.copytree(demo_folder, folder)
    rows = csv.DictReader(io.StringIO(run(demo_db, "sighting", str(unit)).output))
    edit.apply(folder, [NewRow("sightings", {k: v for k, v in row.items() if v}) for row in rows], load=load)
    assert not load([folder]).wrong


def test_private_fields_stay_private_unless_asked(demo_db: Path, unit: Path) -> None:
    header = run(demo_db, "sighting", str(unit)).output.splitlines()[0]
    assert "observer" not in header and "evidence" not in header
    asked = list(csv.DictReader(io.StringIO(run(demo_db, "sighting", str(unit), "--observer", "member 7").output)))
    assert {row["observer"] for row in asked} == {"member 7"} and "evidence" not in asked[0]


@pytest.mark.parametrize(("evidence", "message"), [
    ({"marks": ["pump-body=73-J18"]}, "needs the serial"),
    ({"serial": ["C1542"]}, "No casting was looked at"),
    ({"serial": ["K7712"], "marks": ["pump-body=QQ99ZZ"]}, "probably not in this knowledge base"),
])  # fmt: skip
def test_what_is_no_sighting(demo_db: Path, tmp_path: Path, evidence: dict[str, list[str]], message: str) -> None:
    (tmp_path / "unit.json").write_text(json.dumps(evidence), encoding="utf-8")
    done = run(demo_db, "sighting", str(tmp_path / "unit.json"))
    assert done.exit_code == 1 and message in done.output


def test_a_wrong_date_is_refused(demo_db: Path, unit: Path) -> None:
    done = run(demo_db, "sighting", str(unit), "--seen-on", "17.5.2024")
    assert done.exit_code == 1 and "is not a date" in done.output
