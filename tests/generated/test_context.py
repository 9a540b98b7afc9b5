"""The unit at hand tells which of many marks a worn casting number is; at 100,000 marks in the campaign and with `make bench`."""

from pathlib import Path

from benchmarks.context import told
from benchmarks.generator import generate
from kb.store.build import build
from loaders.folder import load


def test_with_the_unit_the_best_mark_is_right_at_least_twice_as_often(tmp_path: Path, campaign: bool) -> None:
    folder, target = tmp_path / "generated", tmp_path / "generated.db"
    truth = generate(folder, seed=1, change_overs=500 if campaign else 150, marks=100_000 if campaign else 30_000)
    loaded = load([folder])
    build(loaded.dataset, target, problems=loaded.problems)
    found = told(target, truth, 400 if campaign else 100)
    assert found.marks > (90_000 if campaign else 25_000)
    assert 2 * found.alone <= found.in_context
