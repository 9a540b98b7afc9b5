"""Weights of claims and sightings against their definition: the odds of the stretch with a piece of evidence and without it."""

from math import log2

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.probability.production.chain import Chain
from kb.probability.production.changeovers import Posterior, estimate
from kb.probability.production.claims import Claim
from kb.probability.production.copied_claims import Copies
from kb.probability.production.credible_interval import Bracket, bracket
from kb.probability.production.evidence_weights import claim_weights, sighting_weights
from kb.probability.production.sightings import Seen, Sightings
from kb.words.records import Source

USUAL = Assumptions()
SHORT = USUAL.override(mixed_width={0: 0.7, 5: 0.3})
OLD, NEW = (0.98 + 0.01, 0.01, 0.01), (0.01, 0.98 + 0.01, 0.01)  # believed original, two variants
MAYBE = (0.925, 0.075, 0.075)  # of unknown originality, an old one


def source(source_id: str, grade: str, *copied_from: str) -> Source:
    return Source.model_validate(
        {"source_id": source_id, "title": source_id, "kind": "other", "grade": grade, "copied_from": ";".join(copied_from)}
    )


def log_odds(posterior: Posterior, found: Bracket) -> float:
    inside = posterior.between(found.low, found.high)
    return log2(inside / (1 - inside))


@pytest.mark.parametrize(("n", "near"), [(60, 1e-9), (50_000, 0.02)])
def test_the_weight_of_a_sighting_is_what_the_odds_lose_without_it(n: int, near: float) -> None:
    at = n // 2
    claims = [Claim("about", at, at, 0.85)]
    seen = [Seen(at - 9, *OLD), Seen(at - 3, *MAYBE), Seen(at + 2, *MAYBE), Seen(at + 7, *NEW), Seen(at + 20, *OLD)]
    posterior = estimate(n, claims, seen, [], SHORT)
    found = bracket(posterior, SHORT)
    weights = sighting_weights(posterior, Sightings.of(seen), found)
    for number, weight in enumerate(weights.tolist()):
        without = estimate(n, claims, seen[:number] + seen[number + 1 :], [], SHORT)
        assert weight == pytest.approx(log_odds(posterior, found) - log_odds(without, found), abs=near)
    assert weights.max() > 0.05 and weights.min() < -1


def test_a_sighting_far_away_weighs_nothing() -> None:
    before, after = (10, *range(400, 500, 10)), (*range(500, 600, 10), 990)
    seen = [*(Seen(order, *OLD) for order in before), *(Seen(order, *NEW) for order in after)]
    posterior = estimate(1000, [], seen, [], SHORT)
    weights = sighting_weights(posterior, Sightings.of(seen), bracket(posterior, SHORT))
    assert abs(weights[0]) < 1e-6 and abs(weights[-1]) < 1e-6
    assert np.abs(weights).max() > 1


def test_the_weight_of_a_claim_is_what_the_odds_lose_without_it() -> None:
    copies = Copies([source("works", "A"), source("list", "B"), source("reprint", "C", "list")], SHORT)
    said = (("one", "works", 30), ("two", "list", 44), ("three", "reprint", 44))
    made = [(breakpoint_id, source_id, Claim("exact", order, order, 0.0)) for breakpoint_id, source_id, order in said]
    sightings = Sightings.of([Seen(29, *OLD), Seen(33, *MAYBE)])
    counted, _ = copies.count_once(made)
    posterior = estimate(60, counted, sightings, [], SHORT)
    found = Bracket(30, posterior.between(30, 30), 30, 30)
    weights = claim_weights(made, dict.fromkeys(("one", "two", "three")), copies, [sightings], [posterior], 0, found, SHORT)
    without_works = estimate(60, [Claim("exact", 44, 44, 0.95)], sightings, [], SHORT)
    without_list = estimate(60, [Claim("exact", 30, 30, 0.99)], sightings, [], SHORT)
    assert weights["one"] == pytest.approx(log_odds(posterior, found) - log_odds(without_works, found), abs=1e-9)
    assert weights["two"] == pytest.approx(0.0, abs=1e-9)  # the copy would still say it, with the grade of the root
    assert weights["three"] == pytest.approx(0.0, abs=1e-9)  # a copy of what the list says
    alone = claim_weights(made[:2], dict.fromkeys(("one", "two")), copies, [sightings], [posterior], 0, found, SHORT)
    assert alone["two"] == pytest.approx(log_odds(posterior, found) - log_odds(without_list, found), abs=1e-9) and alone["two"] < 0


def test_the_weight_counts_the_other_change_overs() -> None:
    """The second cannot come before the first, so a claim about the second is weighed with the first in mind."""
    first = estimate(60, [Claim("exact", 40, 40, 0.99)], [], [], SHORT)
    second = estimate(60, [Claim("about", 42, 42, 0.85)], [], [], SHORT)
    copies = Copies([source("list", "C")], SHORT)
    empty = Sightings.of([])
    found = bracket(Chain([first, second]).marginal(1), SHORT)
    made = [("two", "list", Claim("about", 42, 42, 0.0))]
    weights = claim_weights(made, {"two": None}, copies, [empty, empty], [first, second], 1, found, SHORT)
    flat = estimate(60, [], [], [], SHORT)
    expected = log_odds(Chain([first, second]).marginal(1), found) - log_odds(Chain([first, flat]).marginal(1), found)
    assert weights["two"] == pytest.approx(expected, abs=1e-9) and weights["two"] > 0
