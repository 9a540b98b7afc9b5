"""A dataset under version control: two people add rows in clones of their own, git puts both together."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from kb.cli import main
from loaders.folder import load

ADD = """
import sys
from kb.cli import main
for serial in range(int(sys.argv[1]), int(sys.argv[2])):
    typed = ["add", "sighting", "--component", "feed-cam", "--variant", "cam-two-lobe", "--original", "unknown", "--series", "ov-mill-no"]
    main([*typed, "--serial", str(serial), "--folder", sys.argv[3]], prog_name="kb", standalone_mode=False)
"""


def git(folder: Path, *arguments: str) -> "subprocess.CompletedProcess[str]":
    settings = ["-c", "user.name=A Person", "-c", "user.email=person@club.invalid", "-c", "init.defaultBranch=main", "-c", "commit.gpgsign=false"]
    return subprocess.run(["git", *settings, *arguments], cwd=folder, check=True, capture_output=True, text=True, timeout=60)


@pytest.fixture
def club(root: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "club"
    main(["template", str(folder)], prog_name="kb", standalone_mode=False)
    for path in folder.glob("*.csv"):
        path.unlink()
    for path in (root / "demo_data" / "mills-and-pumps").glob("*.csv"):
        if path.name != "pictures.csv":
            (folder / path.name).write_bytes(path.read_bytes())
    git(folder, "init", "-q")
    git(folder, "add", "-A")
    git(folder, "commit", "-qm", "The club's data")
    return folder


def test_two_clones_are_merged_and_every_row_is_there(club: Path, tmp_path: Path, campaign: bool) -> None:
    count = 200 if campaign else 8
    before = {row.sighting_id for row in load([club]).dataset.sightings}
    clones = [tmp_path / "anna", tmp_path / "bert"]
    environment = {name: value for name, value in os.environ.items() if name != "KB_ID_SEED"}
    for first, clone in zip((100001, 100801), clones, strict=True):
        git(tmp_path, "clone", "-q", str(club), str(clone))
        command = [sys.executable, "-c", ADD, str(first), str(first + count), str(clone)]
        subprocess.run(command, check=True, capture_output=True, timeout=600, env=environment)
        git(clone, "commit", "-qam", "What was seen")
    git(clones[0], "pull", "-q", "--no-rebase", "--no-edit", str(clones[1]))
    loaded = load([clones[0]])
    assert not loaded.wrong, loaded.findings
    added = [row for row in loaded.dataset.sightings if row.sighting_id not in before]
    assert sorted(row.serial for row in added) == [str(serial) for first in (100001, 100801) for serial in range(first, first + count)]


def test_a_conflict_that_git_could_not_resolve_is_named_with_its_remedy(club: Path) -> None:
    path = club / "makers.csv"
    lines = path.read_text("utf-8").splitlines()
    path.write_text("\n".join([*lines[:-1], "<<<<<<< HEAD", lines[-1], "=======", lines[-1], ">>>>>>> bert", ""]), encoding="utf-8")
    found = [each for each in load([club]).findings if each.file == "makers.csv"]
    assert [(each.row, each.problem[:22]) for each in found] == [
        (len(lines), "A mark of a conflict: "), (len(lines) + 2, "A mark of a conflict: "), (len(lines) + 3, "The same row is there "),
        (len(lines) + 4, "A mark of a conflict: "),
    ]  # fmt: skip
    assert "delete the lines with <<<<<<<" in found[0].remedy
