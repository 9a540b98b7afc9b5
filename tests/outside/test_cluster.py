"""`kb batch --scheduler` on a real Dask cluster of two worker processes, of which one is killed in mid-run.

Outside: distributed (https://distributed.dask.org), whose scheduler hands the chunks of a lost worker to the other one.
"""

import csv
import os
import signal
import threading
import time
import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from kb.cli import main

warnings.filterwarnings("ignore", module="distributed.*")


@pytest.fixture(scope="module")
def inquiries(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("cluster") / "in.csv"
    with path.open("w", encoding="utf-8", newline="") as opened:
        writer = csv.writer(opened)
        writer.writerow(["part", "serial"])
        writer.writerows([["6104" if number % 3 else "", str(100001 + 13 * number)] for number in range(500)])
    return path


@pytest.fixture
def cluster() -> Iterator[object]:
    from distributed import LocalCluster

    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50) as running:
        running.wait_for_workers(2, timeout=60)
        yield running


@pytest.mark.filterwarnings("ignore")  # of distributed, about the worker that was killed
def test_a_worker_killed_in_mid_run_costs_nothing(cluster: object, inquiries: Path, demo_db: Path, tmp_path: Path) -> None:
    alone, spread = tmp_path / "alone.csv", tmp_path / "spread.csv"
    common = [str(inquiries), "--db", str(demo_db), "--chunk", "5"]
    assert CliRunner().invoke(main, ["batch", *common, "-o", str(alone), "--workers", "1"], catch_exceptions=False).exit_code == 0
    victim = next(iter(cluster.workers.values()))  # type: ignore[attr-defined]
    pid = victim.process.process.pid if hasattr(victim.process, "process") else victim.pid
    journal = tmp_path / ".spread.csv.unfinished"
    killed_at: list[int] = []

    def kill() -> None:
        while len(done := list(journal.glob("0*.json"))) < 10:
            time.sleep(0.01)
        os.kill(pid, signal.SIGKILL)
        killed_at.append(len(done))

    killer = threading.Thread(target=kill, daemon=True)
    killer.start()
    scheduler = cluster.scheduler_address  # type: ignore[attr-defined]
    result = CliRunner().invoke(main, ["batch", *common, "-o", str(spread), "--scheduler", scheduler], catch_exceptions=False)
    killer.join(timeout=10)
    assert result.exit_code == 0, result.output
    assert killed_at and killed_at[0] < 100, "the worker was killed when all was done"
    assert spread.read_bytes() == alone.read_bytes()


def test_a_cluster_that_is_not_there_is_said(inquiries: Path, demo_db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("kb.batch.cluster.SECONDS_TO_CONNECT", 1)
    command = ["batch", str(inquiries), "-o", str(tmp_path / "out.csv"), "--db", str(demo_db), "--scheduler", "tcp://127.0.0.1:9"]
    result = CliRunner().invoke(main, command, catch_exceptions=False)
    assert result.exit_code == 1
    assert "No scheduler answers" in result.output
