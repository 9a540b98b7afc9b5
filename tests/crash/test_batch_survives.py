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
