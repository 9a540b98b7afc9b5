"""`kb add` under hard conditions: two at once, many times; killed at any moment.

The promise: nothing that was written is ever lost, and the folder is valid at every moment. The writers are processes,
because that is what people start and what gets killed.
"""

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from loaders.folder import load

KB = [sys.executable, "-m", "kb.cli"]
SIGHTING = ["--component", "feed-cam", "--variant", "cam-two-lobe", "--original", "unknown", "--series", "ov-mill-no"]
MANY = """
import sys
import time
from kb.cli import main
from kb.cli.keeping import add
from loaders import folder as ready
first, count, folder = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
print("ready", flush=True)
sys.stdin.readline()
begun = time.monotonic()
for serial in range(first, first + count):
    main([*sys.argv[4:], "--serial", str(serial), "--folder", folder], prog_name="kb", standalone_mode=False)
print("from", begun, "to", time.monotonic())
"""


@pytest.fixture
def folder(root: Path, tmp_path: Path) -> Path:
    """The demo data, without its pictures, which would only be read again and again."""
    target = tmp_path / "club"
    target.mkdir()
    for path in (root / "demo_data" / "mills-and-pumps").glob("*.csv"):
        if path.name != "pictures.csv":
            (target / path.name).write_bytes(path.read_bytes())
    return target


def test_two_who_add_at_once_lose_nothing(folder: Path, campaign: bool) -> None:
    """Both let the program number their rows, so they want the same ids."""
    before = (folder / "sightings.csv").read_bytes()
    count = 200 if campaign else 12
    typed = ["add", "sighting", *SIGHTING]
    both = [
        subprocess.Popen(
            [sys.executable, "-c", MANY, str(first), str(count), str(folder), *typed],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for first in (100001, 100801)
    ]  # fmt: skip
    for each in both:
        assert each.stdout and each.stdout.readline() == "ready\n"
    for each in both:
        assert each.stdin
        each.stdin.write("go\n")
        each.stdin.flush()
    spans = []
    for each in both:
        out, err = each.communicate(timeout=600)
        assert each.returncode == 0, err
        spans.append([float(word) for word in out.split()[-3::2]])
    (begun, done), (other_begun, other_done) = spans
    assert max(begun, other_begun) < min(done, other_done), "the two did not run at the same time"
    after = (folder / "sightings.csv").read_bytes()
    assert after.startswith(before)
    loaded = load([folder])
    assert not loaded.wrong, loaded.findings
    added = loaded.dataset.sightings[before.count(b"\n") - 1 :]
    wanted = [str(serial) for first in (100001, 100801) for serial in range(first, first + count)]
    assert sorted(row.serial for row in added) == wanted
    assert len({row.sighting_id for row in loaded.dataset.sightings}) == len(loaded.dataset.sightings)


def test_one_killed_while_adding_leaves_a_right_folder_and_every_earlier_row(folder: Path, campaign: bool) -> None:
    path = folder / "sightings.csv"
    dice = random.Random(None if campaign else 4)
    arguments = [*KB, "add", "sighting", *SIGHTING, "--folder", str(folder)]
    begin = time.monotonic()
    subprocess.run([*arguments, "--serial", "100001"], check=True, capture_output=True, timeout=60)
    usual = time.monotonic() - begin
    killed = written = 0
    for serial in range(100101, 100101 + (50 if campaign else 6)):
        before = path.read_bytes()
        adding = subprocess.Popen([*arguments, "--serial", str(serial)], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        time.sleep(dice.uniform(0.5, 1.05) * usual)
        os.kill(adding.pid, signal.SIGKILL)
        adding.communicate(timeout=60)
        killed += adding.returncode == -signal.SIGKILL
        after = path.read_bytes()
        assert after.startswith(before), "an earlier row was lost"
        assert after[len(before) :].count(b"\n") <= 1
        written += after != before
        assert not load([folder]).wrong
    assert killed, "every writer was faster than its killer"
    subprocess.run([*arguments, "--serial", "100900"], check=True, capture_output=True, timeout=60)
    left = [each.name for each in folder.iterdir() if each.name.startswith(".")]
    assert left == [], "what the killed ones left must be gone after the next one"


IMPORT = ["import", "parts", "list.csv", "--mapping", "map.toml", "--folder"]
TWO_TABLES = ("parts", "supersessions")


@pytest.fixture
def list_of_parts(tmp_path: Path) -> Path:
    """A supplier's list that changes two tables at once."""
    rows = [f"NEW-{number},bush {number},{f'NEW-{number + 1}' if number % 2 else ''}" for number in range(61)]
    (tmp_path / "list.csv").write_text("\n".join(["No,What,Now", *rows]) + "\n", encoding="utf-8")
    mapping = 'add_new = true\n[columns]\npart_number = "No"\ndescription = "What"\nnew_part = "Now"\n[always]\nsource_id = "ov-repair-list-9"\n'
    mapping += 'kind = "original"\nunit = "each"\navailable = "yes"\nsafety_critical = "no"\n'
    (tmp_path / "map.toml").write_text(mapping, encoding="utf-8")
    return tmp_path


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.glob("*.csv"))}


def killer_at(step: int, calls: Sequence[str], typed: list[str]) -> str:
    """A program that is what is typed, but kills itself before the so-manieth of certain calls."""
    return f"""
import os, signal
from kb.dataset import lock
from loaders import rejects, folder
calls = 0
def counted(call):
    def run(*arguments, **others):
        global calls
        calls += 1
        if calls == {step}:
            os.kill(os.getpid(), signal.SIGKILL)
        return call(*arguments, **others)
    return run
{", ".join(calls)} = map(counted, ({", ".join(calls)}))
from kb.cli import main
main({typed!r}, prog_name="kb")
"""


def test_killed_at_each_step_an_import_is_there_as_a_whole_or_not_at_all(folder: Path, list_of_parts: Path) -> None:
    """Before each call that brings something to the disk, into its place or away; whoever comes next finishes what counts and sweeps out the rest."""
    before = contents(folder)
    ends = set()
    for step in range(1, 40):
        for name, data in before.items():
            (folder / name).write_bytes(data)
        killer = killer_at(step, ("os.fchmod", "os.fsync", "lock.Path.replace", "lock.Path.unlink"), [*IMPORT, str(folder)])
        done = subprocess.run([sys.executable, "-c", killer], capture_output=True, timeout=60, cwd=list_of_parts)
        assert not load([folder]).wrong
        after = contents(folder)
        changed = {name.removesuffix(".csv") for name in after if after[name] != before.get(name)}
        assert changed in (set(), set(TWO_TABLES)), (step, changed)
        ends.add(bool(changed))
        if done.returncode != -signal.SIGKILL:
            assert done.returncode == 0, done.stderr
            break
    else:
        raise AssertionError("It never came to its end.")
    assert ends == {False, True} and step > 8
    subprocess.run([*KB, "add", "sighting", *SIGHTING, "--serial", "100900", "--folder", str(folder)], check=True, capture_output=True, timeout=60)
    assert [each.name for each in folder.iterdir() if each.name.startswith(".")] == []


def test_killed_at_random_an_import_is_there_as_a_whole_or_not_at_all(folder: Path, list_of_parts: Path, campaign: bool) -> None:
    dice = random.Random(None if campaign else 7)
    before = contents(folder)
    typed = [*KB, *IMPORT, str(folder)]
    begin = time.monotonic()
    subprocess.run(typed, check=True, capture_output=True, timeout=60, cwd=list_of_parts)
    usual = time.monotonic() - begin
    killed = 0
    for _ in range(50 if campaign else 3):
        for name, data in before.items():
            (folder / name).write_bytes(data)
        importing = subprocess.Popen(typed, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=list_of_parts)
        time.sleep(dice.uniform(0.6, 1.05) * usual)
        os.kill(importing.pid, signal.SIGKILL)
        importing.communicate(timeout=60)
        killed += importing.returncode == -signal.SIGKILL
        assert not load([folder]).wrong
        after = contents(folder)
        assert {name.removesuffix(".csv") for name in after if after[name] != before.get(name)} in (set(), set(TWO_TABLES))
    assert killed, "every import was faster than its killer"


def test_killed_at_each_step_of_writing(folder: Path) -> None:
    """Not at random: before each of the four calls that bring the new file to the disk and into its place; the third is the renaming."""
    path = folder / "sightings.csv"
    before = path.read_bytes()
    for step in range(1, 5):
        typed = ["add", "sighting", *SIGHTING, "--serial", "100001", "--folder", str(folder)]
        killer = killer_at(step, ("os.fchmod", "os.fsync", "lock.Path.replace"), typed)
        done = subprocess.run([sys.executable, "-c", killer], capture_output=True, timeout=60)
        assert done.returncode == -signal.SIGKILL, (step, done.stderr)
        after = path.read_bytes()
        assert after == before if step < 4 else after.startswith(before) and after.count(b"\n") == before.count(b"\n") + 1, step
        assert not load([folder]).wrong
