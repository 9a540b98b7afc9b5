"""The rate of replaced castings against maximum likelihood by somebody else's optimiser over a plain sum.

Oracle: `scipy.optimize.minimize_scalar` (Brent) on the marginal likelihood of docs/model.md, section 5, with every b and w walked
through. The data are drawn with a known rate. Coverage of the interval: binomial, `scipy.stats.binom`.
"""

import os
import random
from math import log

import pytest
from scipy.optimize import minimize_scalar  # type: ignore[import-untyped]
from scipy.stats import binom  # type: ignore[import-untyped]

from kb.assumptions import Assumptions
from kb.probability.production.estimate import derive
from tests.probability.production.rows import Given, dataset

SHORT = Assumptions().override(mixed_width={0: 0.8, 5: 0.2}, cell_tolerance=1.0)
UNITS, EACH = 60, 25
SERVICE = {"a": 0.5, "b": 0.25, "c": 0.25}  # a third one was only ever a replacement


def no_marks(component_id: str, reading: str) -> dict[str, float]:
    raise AssertionError


def drawn(rate: float, change_overs: int, seed: int) -> dict[str, list[Given]]:
    """Components that each changed somewhere in the same 60 units, with 25 of them seen, originality unknown."""
    rng = random.Random(seed)
    tables: dict[str, list[Given]] = {
        "makers": [{}], "sources": [{"source_id": "list"}], "series": [{"series_id": "s"}], "blocks": [{"first": 1, "last": UNITS}],
        "components": [], "variants": [], "breakpoints": [], "sightings": [],
    }  # fmt: skip
    for number in range(change_overs):
        component = f"part-{number}"
        tables["components"].append({"component_id": component})
        tables["variants"] += [
            {"variant_id": f"{component}-{v}", "component_id": component, "service_share": share * 4} for v, share in SERVICE.items()
        ]
        tables["breakpoints"].append(
            {"component_id": component, "old_variant_id": f"{component}-a", "new_variant_id": f"{component}-b", "when": "1950"}
        )
        first_new = rng.randint(0, UNITS)
        for order in rng.sample(range(UNITS), EACH):
            replaced = rng.random() < rate
            variant = rng.choices(list(SERVICE), list(SERVICE.values()))[0] if replaced else "ab"[order >= first_new]
            tables["sightings"].append({"serial": order + 1, "component_id": component, "variant_id": f"{component}-{variant}"})
    return tables


def marginal(rate: float, tables: dict[str, list[Given]]) -> float:
    """The logarithm of P(all that was seen | rate)."""
    by_component: dict[str, list[tuple[int, str]]] = {}
    for row in tables["sightings"]:
        by_component.setdefault(row["component_id"], []).append((row["serial"] - 1, row["variant_id"][-1]))
    total = 0.0
    for seen in by_component.values():
        likelihood = 0.0
        for b in range(UNITS + 1):
            for w, prior in SHORT.mixed_width.items():
                product = prior / (UNITS + 1)
                for order, variant in seen:
                    new = min(max((order - b + 1) / (w + 1), 0.0), 1.0)
                    product *= (1 - rate) * {"a": 1 - new, "b": new, "c": 0.0}[variant] + rate * SERVICE[variant]
                likelihood += product
        total += log(likelihood)
    return total


@pytest.mark.parametrize(("rate", "change_overs", "seed"), [(0.05, 4, 1), (0.15, 6, 2), (0.4, 4, 3), (0.15, 1, 4)])
def test_the_likeliest_rate_is_that_of_maximum_likelihood(rate: float, change_overs: int, seed: int) -> None:
    tables = drawn(rate, change_overs, seed)
    found = derive(dataset(**tables), SHORT, no_marks).rate
    best = minimize_scalar(lambda r: -marginal(r, tables), bounds=(1e-6, 0.9), method="bounded", options={"xatol": 1e-6})
    assert found is not None and (found.sightings, found.changeovers) == (EACH * change_overs, change_overs)
    assert found.likeliest == pytest.approx(best.x, abs=1e-3)
    assert found.low < best.x < found.high


def test_the_rate_assumed_does_not_move_the_one_estimated() -> None:
    tables = drawn(0.15, 6, 5)
    rates = [derive(dataset(**tables), SHORT.override(replaced_when_unknown=assumed), no_marks).rate for assumed in (0.05, 0.15, 0.4)]
    assert all(each is not None for each in rates)
    assert max(r.likeliest for r in rates if r) - min(r.likeliest for r in rates if r) < 1e-4


def test_the_interval_holds_the_true_rate_nine_times_in_ten() -> None:
    trials = 200 if os.environ.get("KB_CAMPAIGN") else 40
    held = 0
    for seed in range(trials):
        found = derive(dataset(**drawn(0.15, 5, 100 + seed)), SHORT, no_marks).rate
        assert found is not None
        held += found.low <= 0.15 <= found.high
    assert binom.cdf(held, trials, 0.9) > 0.005 and binom.sf(held - 1, trials, 0.9) > 0.005, f"{held} of {trials}"


def test_nothing_is_said_without_a_sighting_whose_rate_is_assumed() -> None:
    tables = drawn(0.15, 2, 6)
    believed = [{**row, "original": "believed"} for row in tables["sightings"]]
    assert derive(dataset(**{**tables, "sightings": believed}), SHORT, no_marks).rate is None
    recorded = [{**row, "replaced_rate": 0.2} for row in tables["components"]]
    assert derive(dataset(**{**tables, "components": recorded}), SHORT, no_marks).rate is None
