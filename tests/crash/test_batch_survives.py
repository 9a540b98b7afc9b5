"""`kb batch` killed at random moments (twenty in a campaign) and resumed: the answers are the same bytes, with nothing twice and nothing lost."""

import csv
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

KB = [sys.executable, "-m", "kb.cli", "batch"]
PARTS = ("6104", "6118", "6122", "6140", "PE-214", "PE-231", "6330", "6416", "")


@pytest.fixture
def inquiries(tmp_path: Path) -> Path:
    dice = random.Random(7)
    path = tmp_path / "inquiries.csv"
    with path.open("w", encoding="utf-8", newline="") as opened:
        writer = csv.writer(opened)
        writer.writerow(["part", "serial"])
        for _ in range(400):
            serial = list(str(dice.randint(100001, 107000)))
            if dice.random() < 0.3:
                serial[dice.randrange(2, 6)] = "?"
            writer.writerow([dice.choice(PARTS), "".join(serial)])
    return path


def test_killed_at_random_moments_and_taken_up_again(inquiries: Path, demo_db: Path, tmp_path: Path, campaign: bool) -> None:
    whole, killed = tmp_path / "whole.csv", tmp_path / "killed.csv"
    common = [*KB, str(inquiries), "--db", str(demo_db)]
    subprocess.run([*common, "-o", str(whole), "--workers", "1", "--chunk", "100"], check=True, capture_output=True, timeout=300)
    command = [*common, "-o", str(killed), "--workers", "2", "--chunk", "7"]
    begin = time.monotonic()
    subprocess.run(command, check=True, capture_output=True, timeout=300)
    usual = time.monotonic() - begin
    killed.unlink()
    dice = random.Random(None if campaign else 11)
    kills, kept = 0, set[int]()
    while kills < (20 if campaign else 5):
        running = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        try:
            running.wait(dice.uniform(0.1, 1.0) * usual)
        except subprocess.TimeoutExpired:
            running.send_signal(signal.SIGKILL)
            kills += 1
        running.communicate(timeout=60)
        if running.returncode == 0:  # taken up so often that it was done before it could be killed: begin again
            assert killed.read_bytes() == whole.read_bytes()
            killed.unlink()
        else:
            kept.add(len(list((tmp_path / ".killed.csv.unfinished").glob("0*.json"))))
    subprocess.run(command, check=True, capture_output=True, timeout=300)
    assert killed.read_bytes() == whole.read_bytes()
    assert kept - {0}, "every run was killed before it had finished anything"
    assert not (tmp_path / ".killed.csv.unfinished").exists()


@pytest.mark.parametrize("workers", ["1", "2"])
def test_two_at_once_into_one_result_are_never_mixed(workers: str, demo_db: Path, tmp_path: Path) -> None:
    """The second is told who is at work. Both lists have as many rows, so that chunks of one would pass for chunks of the other."""
    lists = {name: tmp_path / f"{name}.csv" for name in ("one", "two")}
    for name, path in lists.items():
        path.write_text("".join(["part,serial,list\n", *(f"6104,{100001 + 7 * row},{name}\n" for row in range(60))]))
    command = [*KB, "-o", str(tmp_path / "out.csv"), "--db", str(demo_db), "--workers", workers, "--chunk", "5"]
    both = {name: subprocess.Popen([*command, str(path)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) for name, path in lists.items()}
    said = {name: each.communicate(timeout=120)[1] for name, each in both.items()}
    assert sorted(each.returncode for each in both.values()) == [0, 1], said
    done, refused = sorted(both, key=lambda name: both[name].returncode)
    assert f'Process {both[done].pid} on ' in said[refused] and 'is at work on "out.csv"' in said[refused]
    with (tmp_path / "out.csv").open(encoding="utf-8", newline="") as opened:
        rows = list(csv.DictReader(opened))
    assert [row["list"] for row in rows] == [done] * 60
    assert all(row["verdict"] for row in rows)
