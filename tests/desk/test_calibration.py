"""A stated 90 % is right nine times in ten: units drawn from the model itself, over datasets drawn from it too.

Each group of statements (unit, as built, fitted, fits, does not fit, in the knowledge base) must be right as often as it says, within
sampling error: the sum of what came true lies within 3.5 standard deviations of the sum of the stated probabilities. Statements about one
unit hang together, so deviations are taken over units, not over statements.
"""

from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest

from benchmarks.drawn import DrawnUnit, draw_units
from benchmarks.generator import generate
from kb import Evidence, KnowledgeBase
from kb.assumptions import Assumptions
from kb.store.build import build
from loaders.folder import load

DATASETS, UNITS = 10, 50
AS_DRAWN = Assumptions().override(sharpness=1.0)  # no caution: the readings are drawn from the very table
Statements = dict[str, list[list[tuple[float, bool]]]]  # group -> per unit -> (stated, came true)


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory, campaign: bool) -> Statements:
    """What was stated about every unit, and whether it came true."""
    groups: Statements = defaultdict(list)
    for seed in range(DATASETS * (10 if campaign else 1)):
        folder = tmp_path_factory.mktemp(f"seed{seed}")
        truth = generate(folder / "data", seed=seed, makers=3, change_overs=12, marks=120, sightings=240, parts=60, fitments=80, supersessions=0)
        loaded = load([folder / "data"])
        build(loaded.dataset, Path(folder / "kb.db"), problems=loaded.problems, assumptions=AS_DRAWN)
        with KnowledgeBase.open(folder / "kb.db", AS_DRAWN) as book:
            rules = _rules(loaded.dataset.fitments)
            for unit in draw_units(truth, seed, UNITS, AS_DRAWN):
                for group, statements in _statements(book, unit, rules).items():
                    groups[group].append(statements)
    return groups


def _rules(fitments: tuple[object, ...]) -> dict[str, list[object]]:
    """Part -> its fitment rows, of parts whose rows ask for a variant only, so that what is fitted decides alone."""
    by_part: dict[str, list[object]] = defaultdict(list)
    for row in fitments:
        by_part[row.part_number].append(row)  # type: ignore[attr-defined]
    plain = {
        part: rows
        for part, rows in by_part.items()
        if all(r.variant_id and not (r.series_id or r.serial_from or r.serial_to or r.model_id or r.place) and r.fits for r in rows)  # type: ignore[attr-defined]
    }
    return dict(list(plain.items())[:6])


def _statements(book: KnowledgeBase, unit: DrawnUnit, rules: dict[str, list[object]]) -> Statements:
    evidence = Evidence.read(unit.evidence)
    found = book.identify(evidence)
    known = unit.order >= 0
    said: dict[str, list[tuple[float, bool]]] = {"in the knowledge base": [(1 - found.not_in_knowledge_base, known)]}
    said["unit"] = [(u.probability, (u.block, u.model) == (unit.block, unit.model)) for u in found.units]
    said["serial"] = [(s.probability, s.serial == unit.serial and s.model == unit.model) for s in found.serials]
    if known and found.units and found.units[0].maker == unit.maker and unit.evidence.get("maker"):
        said["as built"] = [(f.as_built_probability, f.as_built == unit.as_built[f.component]) for f in found.fitted]
        said["fitted"] = [(f.probability, f.variant == unit.fitted[f.component, f.place]) for f in found.fitted]
    if unit.evidence.get("maker") and found.units:
        fits = [(entry, rows) for part, rows in rules.items() for entry in book.fits(part, found) if entry.component]
        said["fits"] = [
            (e.probability, unit.fitted.get((e.component, e.place), None) in {r.variant_id for r in rows if r.component_id == e.component})
            for e, rows in fits
        ]
        verdicts = [(e, rows) for e, rows in fits if e.verdict == "fits"]
        said["verdict fits"] = [
            (e.probability, unit.fitted.get((e.component, e.place), None) in {r.variant_id for r in rows})  # type: ignore[attr-defined]
            for e, rows in verdicts
        ]
    return said


@pytest.mark.parametrize("group", ["in the knowledge base", "unit", "serial", "as built", "fitted", "fits", "verdict fits"])
def test_stated_probabilities_come_true_as_often_as_they_say(said: Statements, group: str) -> None:
    surplus = np.array([sum(true - stated for stated, true in unit) for unit in said[group]])
    deviation = float(np.sqrt((surplus**2).sum()))
    assert len(surplus) > 100
    assert abs(surplus.sum()) < 3.5 * deviation, (
        f"{group}: {surplus.sum():+.1f} of {sum(len(u) for u in said[group])}, expected within {deviation:.1f}"
    )


@pytest.mark.parametrize("group", ["unit", "as built", "fitted", "fits"])
def test_high_and_low_probabilities_come_true_as_often_as_they_say(said: Statements, group: str) -> None:
    for low, high in ((0.0, 0.2), (0.2, 0.8), (0.8, 0.99), (0.99, 1.01)):
        surplus = np.array([sum(true - stated for stated, true in unit if low <= stated < high) for unit in said[group]])
        expected = np.array([sum(stated * (1 - stated) for stated, _ in unit if low <= stated < high) for unit in said[group]])
        deviation = float(np.sqrt(max((surplus**2).sum(), expected.sum(), 1.0)))
        assert abs(surplus.sum()) < 3.5 * deviation, (group, low, high, surplus.sum(), deviation)
