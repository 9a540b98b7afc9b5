"""Change-overs against the plain sum over all b and w, written here a second time from docs/model.md, section 5."""

import math
from dataclasses import astuple
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.assumptions import Assumptions
from kb.probability.production import changeovers
from kb.probability.production.chain import Chain, Without
from kb.probability.production.changeovers import Posterior, estimate, posterior_of, width_prior
from kb.probability.production.claims import Claim
from kb.probability.production.credible_interval import bracket, replaced, standing
from kb.probability.production.next_sighting import Outcomes, seek
from kb.probability.production.sightings import Seen, Sightings, built_new, mean_built_new

Plain = dict[tuple[int, int], float]  # (b, w) -> P

USUAL = Assumptions()
SHORT = USUAL.override(mixed_width={0: 0.7, 2: 0.1, 5: 0.2})


def passed(s: int, b: int, w: int) -> float:
    return 0.0 if s < b else (s - b + 1) / (w + 1) if s < b + w else 1.0


def plainly(n: int, claims: list[Claim], seen: list[Seen], widths: list[int]) -> Plain:
    prior = {**SHORT.mixed_width, **{w: max(SHORT.mixed_width.get(w, 0.0), 0.7) for w in widths}}
    scale, anywhere = max(2, n / 200), 1 / (n + 1)
    weights = {}
    for b, w in product(range(n + 1), prior):
        weight = prior[w]
        for claim in claims:
            r = claim.reliability
            near = math.exp(-abs(b - claim.low) / scale) / sum(math.exp(-abs(x - claim.low) / scale) for x in range(n + 1))
            if claim.kind == "exact":
                weight *= r * (b == claim.low) + (1 - r) * (near / 2 + anywhere / 2)
            elif claim.kind == "about":
                weight *= r * near + (1 - r) * anywhere
            else:
                weight *= r * (claim.low <= b <= claim.high) / (claim.high - claim.low + 1) + (1 - r) * anywhere
        for each in seen:
            new = passed(each.order, b, w)
            weight *= each.at_old * (1 - new) + each.at_new * new
        weights[b, w] = weight
    total = sum(weights.values())
    return {key: weight / total for key, weight in weights.items()}


@st.composite
def evidence(draw: st.DrawFn, most: int = 14) -> tuple[int, list[Claim], list[Seen], list[int]]:
    n = draw(st.integers(0, most))
    claims = []
    for _ in range(draw(st.integers(0, 3))):
        low = draw(st.integers(0, n))
        kind = draw(st.sampled_from(["exact", "about", "range"]))
        claims.append(Claim(kind, low, draw(st.integers(low, n)) if kind == "range" else low, draw(st.sampled_from([0.99, 0.95, 0.85, 0.6]))))
    chance = st.floats(0.01, 1)
    seen = [draw(st.builds(Seen, st.integers(0, n - 1), chance, chance, st.just(0.01))) for _ in range(draw(st.integers(0, 4)) if n else 0)]
    return n, claims, seen, draw(st.lists(st.integers(1, 7), max_size=2))


def as_plain(posterior: Posterior) -> Plain:
    keys = product(posterior.first.tolist(), posterior.widths.tolist())
    return dict(zip(keys, np.exp(posterior.log_mass).ravel().tolist(), strict=True))


def of_b(plain: Plain) -> list[float]:
    sums = [0.0] * (max(b for b, _ in plain) + 1)
    for (b, _), p in plain.items():
        sums[b] += p
    return sums


@given(evidence())
def test_the_posterior_is_the_plain_product(given_: tuple[int, list[Claim], list[Seen], list[int]]) -> None:
    n, claims, seen, widths = given_
    assert as_plain(estimate(n, claims, seen, widths, SHORT)) == pytest.approx(plainly(n, claims, seen, widths), abs=1e-12)


@given(evidence(), st.data())
def test_passed_is_the_plain_mean(given_: tuple[int, list[Claim], list[Seen], list[int]], data: st.DataObject) -> None:
    n, claims, seen, widths = given_
    s = data.draw(st.integers(0, max(n - 1, 0)))
    posterior, plain = estimate(n, claims, seen, widths, SHORT), plainly(n, claims, seen, widths)
    assert posterior.passed(np.array([s]))[0] == pytest.approx(sum(p * passed(s, b, w) for (b, w), p in plain.items()), abs=1e-12)


def joint(plains: list[Plain], s: int) -> tuple[list[float], list[Plain]]:
    """Stages at s and marginals, over all b1 <= b2 <= ..."""
    total, stages, marginals = 0.0, [0.0] * len(plains), [dict.fromkeys(plain, 0.0) for plain in plains]
    for course in product(*(plain.items() for plain in plains)):
        bs = [b for (b, _), _ in course]
        if bs == sorted(bs):
            weight = math.prod(p for _, p in course)
            total += weight
            so_far = weight
            for k, (key, _) in enumerate(course):
                marginals[k][key] += weight
                so_far *= passed(s, *key)
                stages[k] += so_far
    return [1.0, *(stage / total for stage in stages)], [{key: p / total for key, p in plain.items()} for plain in marginals]


@given(st.integers(1, 6), st.integers(1, 3), st.data())
def test_several_change_overs_are_the_plain_joint(n: int, count: int, data: st.DataObject) -> None:
    orders = data.draw(st.lists(st.integers(0, n - 1), max_size=3))
    chance = st.floats(0.01, 1)
    posteriors, plains, seen = [], [], []
    for _ in range(count):
        claims = [Claim("exact", c := data.draw(st.integers(0, n)), c, 0.95)] if data.draw(st.booleans()) else []
        seen.append([Seen(s, data.draw(chance), data.draw(chance), 0.01) for s in orders])
        posteriors.append(estimate(n, claims, seen[-1], [], SHORT))
        plains.append(plainly(n, claims, seen[-1], []))
    chain = Chain(posteriors)
    s = data.draw(st.sampled_from(orders)) if orders else data.draw(st.integers(0, n - 1))
    stages, marginals = joint(plains, s)
    assert chain.stage(np.array([s]))[0] == pytest.approx(stages, abs=1e-11)
    for k, marginal in enumerate(marginals):
        assert dict.fromkeys(marginal, 0.0) | as_plain(chain.marginal(k)) == pytest.approx(marginal, abs=1e-11)
    own = [at for at, order in enumerate(orders) if order == s]
    if own:  # the unit's own sightings are left out
        without = [
            {(b, w): p / math.prod(seen[k][at].at_old * (1 - passed(s, b, w)) + seen[k][at].at_new * passed(s, b, w) for at in own)
             for (b, w), p in plain.items()}
            for k, plain in enumerate(plains)
        ]  # fmt: skip
        at_old = np.array([[[seen[k][at].at_old for k in range(count)] for at in own]])
        at_new = np.array([[[seen[k][at].at_new for k in range(count)] for at in own]])
        assert chain.stage(np.array([s]), Without(at_old, at_new))[0] == pytest.approx(joint(without, s)[0], abs=1e-10)


@given(evidence())
def test_brackets_and_replaced_castings(given_: tuple[int, list[Claim], list[Seen], list[int]]) -> None:
    n, claims, seen, widths = given_
    posterior, plain = estimate(n, claims, seen, widths, SHORT), plainly(n, claims, seen, widths)
    sums, found = of_b(plain), bracket(posterior, SHORT)
    assert sums[found.first_new] >= max(sums) - 1e-12
    assert all(p < found.probability * (1 - 1e-10) for p in sums[: found.first_new])
    assert (found.low, found.high) == shortest(sums)
    sightings = Sightings.of(seen)
    expected = []
    for each in sorted(seen, key=lambda each: each.order):
        news = {(b, w): passed(each.order, b, w) for b, w in plain}
        expected.append(sum(p * each.replaced / (each.at_old * (1 - news[key]) + each.at_new * news[key]) for key, p in plain.items()))
    assert replaced(posterior, sightings).tolist() == pytest.approx(expected, abs=1e-12)


def shortest(sums: list[float]) -> tuple[int, int]:
    return next(
        (low, low + length)
        for length in range(len(sums))
        for low in range(len(sums) - length)
        if sum(sums[low : low + length + 1]) >= 0.9 - 1e-9
    )


@given(st.lists(st.tuples(st.integers(1, 6), st.integers(1, 20)), min_size=1, max_size=6))
def test_the_shortest_stretch_on_wide_bins(bins: list[tuple[int, int]]) -> None:
    sizes = np.array([size for size, _ in bins])
    last = np.cumsum(sizes) - 1
    posterior = posterior_of(int(last[-1]), last - sizes + 1, last, np.zeros(1, dtype=np.int64), np.log([[weight] for _, weight in bins]))
    found = bracket(posterior, USUAL)
    assert (found.low, found.high) == shortest(np.repeat(posterior.mass / sizes, sizes).tolist())


@given(evidence(10), st.floats(0.01, 0.6), st.floats(0, 0.5), st.floats(0, 0.5), st.sets(st.integers(0, 9)))
def test_what_to_look_for_is_the_best_of_those_not_seen_yet(
    given_: tuple[int, list[Claim], list[Seen], list[int]], rate: float, old: float, new: float, known: set[int]
) -> None:
    n, claims, seen, widths = given_
    plain = plainly(n, claims, seen, widths)
    sums = of_b(plain)

    def entropy(chances: list[float]) -> float:
        return -sum(p * math.log2(p) for p in chances if p > 0)

    gains = []
    for s in range(n):
        outcomes = []
        for b in range(n + 1):
            r = sum(p * passed(s, b, w) for (x, w), p in plain.items() if x == b) / sums[b]
            outcomes.append([(1 - rate) * r + rate * new, (1 - rate) * (1 - r) + rate * old, rate * (1 - old - new)])
        mean = [sum(p * outcome[at] for p, outcome in zip(sums, outcomes, strict=True)) for at in range(3)]
        gains.append(entropy(mean) - sum(p * entropy(outcome) for p, outcome in zip(sums, outcomes, strict=True)))
    left = [gain for s, gain in enumerate(gains) if s not in known]
    found = seek(estimate(n, claims, seen, widths, SHORT), Outcomes(rate, old, new), [(0, n - 1)], np.array(sorted(known), dtype=np.int64))
    if found is None:
        assert max(left, default=0.0) < 1e-10
    else:
        assert found.order not in known
        assert found.gain_bits == pytest.approx(max(left), abs=1e-10)
        assert gains[found.order] == pytest.approx(max(left), abs=1e-10)


def test_beside_a_serial_already_seen_the_next_one_is_looked_for() -> None:
    """In a million units, where not every order is tried: the best one's place is taken by its neighbour."""
    posterior = estimate(10**6, [Claim("range", 500_000, 500_063, 0.99)], [], [], USUAL.override(mixed_width={0: 1.0}))
    nothing = np.zeros(0, dtype=np.int64)
    usual = Outcomes(0.15, 0.5, 0.5)
    best = seek(posterior, usual, [(0, 10**6 - 1)], nothing)
    assert best is not None and 500_025 <= best.order <= 500_037
    taken = np.arange(best.order - 3, best.order + 3)
    beside = seek(posterior, usual, [(0, 10**6 - 1)], taken)
    assert beside is not None and beside.order in (best.order - 4, best.order + 3)


@pytest.mark.parametrize(("low", "expected"), [(500, "supported"), (700, "contradicted")])
def test_standings(low: int, expected: str) -> None:
    posterior = estimate(1000, [Claim("exact", 500, 500, 0.99), Claim("exact", 700, 700, 0.6)], [], [], USUAL)
    found = bracket(posterior, USUAL)
    assert standing(posterior, Claim("exact", low, low, 0.6), found, USUAL)[0] == expected
    assert standing(posterior, Claim("about", 502, 502, 0.6), found, USUAL)[0] == "supported"  # within max(2, n/200) = 5
    assert standing(estimate(9, [], [], [], USUAL), Claim("exact", 3, 3, 0.6), found, USUAL) == ("open", pytest.approx(0.1))


@given(st.integers(0, 40), st.integers(0, 40), st.integers(0, 12), st.integers(0, 15))
def test_the_mixed_stretch(s: int, first: int, more: int, w: int) -> None:
    orders = np.arange(first, first + more + 1)
    expected = [passed(s, b, w) for b in orders.tolist()]
    assert built_new(s, orders, w).tolist() == pytest.approx(expected)
    one = np.ones(1, dtype=np.int64)
    assert mean_built_new(s * one, first * one, (first + more) * one, w)[0] == pytest.approx(sum(expected) / len(expected))


@pytest.mark.parametrize(("claimed", "expected"), [
    ([], {0: 0.7, 10: 0.1, 50: 0.1, 200: 0.09, 800: 0.01}),
    ([37], {0: 0.7 / 1.7, 10: 0.1 / 1.7, 37: 0.7 / 1.7, 50: 0.1 / 1.7, 200: 0.09 / 1.7, 800: 0.01 / 1.7}),
    ([50, 50], {0: 0.7 / 1.6, 10: 0.1 / 1.6, 50: 0.7 / 1.6, 200: 0.09 / 1.6, 800: 0.01 / 1.6}),
])  # fmt: skip
def test_widths_that_a_source_states(claimed: list[int], expected: dict[int, float]) -> None:
    assert width_prior(claimed, USUAL) == pytest.approx(expected)


def simulated(n: int, count: int, b: int, seed: int) -> list[Seen]:
    """Sightings of a change at once, one in ten replaced by either of two variants."""
    random = np.random.default_rng(seed)
    seen = []
    for s in random.integers(0, n, count).tolist():
        new = s >= b if random.random() > 0.1 else random.random() < 0.5
        seen.append(Seen(s, 0.075 if new else 0.925, 0.925 if new else 0.075, 0.075))
    return seen


@pytest.mark.parametrize(("claims", "count"), [
    ([], 0),
    ([], 60),
    ([Claim("exact", 7000, 7000, 0.95)], 60),
    ([Claim("about", 6900, 6900, 0.85), Claim("range", 6000, 9000, 0.6)], 10),
])  # fmt: skip
def test_bins_agree_with_every_single_order(claims: list[Claim], count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    n, seen = 20_000, simulated(20_000, count, 7000, seed=count)
    coarse = estimate(n, claims, seen, [37], USUAL)
    monkeypatch.setattr(changeovers, "EXACT_UP_TO", n)
    fine = estimate(n, claims, seen, [37], USUAL)
    assert len(coarse.first) < len(fine.first) / 3
    orders = np.arange(0, n, 7)
    assert np.abs(coarse.up_to(orders) - fine.up_to(orders)).max() < 2e-4
    assert np.abs(coarse.passed(orders) - fine.passed(orders)).max() < 2e-4
    assert coarse.of_widths() == pytest.approx(fine.of_widths(), abs=2e-4)
    pair_coarse, pair_fine = (Chain([each, estimate(n, [Claim("about", 8000, 8000, 0.85)], [], [], USUAL)]) for each in (coarse, fine))
    assert np.abs(pair_coarse.stage(orders[::20]) - pair_fine.stage(orders[::20])).max() < 2e-3


@pytest.mark.parametrize(("n", "count"), [(5000, 600), (50_000, 8000)])
def test_what_is_ruled_out_is_left_out_and_missed_by_nobody(n: int, count: int) -> None:
    seen, usual = simulated(n, count, n // 3, seed=4), Outcomes(0.15, 0.5, 0.5)
    whole = estimate(n, [Claim("exact", n // 3, n // 3, 0.95)], seen, [], USUAL)
    possible, orders = whole.possible(), np.arange(n)
    assert 800 in whole.widths and 800 not in possible.widths and len(possible.first) < len(whole.first)
    assert possible.mass.sum() == pytest.approx(1, abs=1e-12)
    assert possible.passed(orders) == pytest.approx(whole.passed(orders), abs=1e-12)
    assert possible.up_to(orders) == pytest.approx(whole.up_to(orders), abs=1e-12)
    assert astuple(bracket(possible, USUAL)) == pytest.approx(astuple(bracket(whole, USUAL)), abs=1e-12)
    assert replaced(possible, Sightings.of(seen)) == pytest.approx(replaced(whole, Sightings.of(seen)), abs=1e-12)
    known = np.unique([each.order for each in seen])
    one, other = (seek(each, usual, [(0, n - 1)], known) for each in (possible, whole))
    assert one is not None and other is not None
    assert one.order == other.order and one.gain_bits == pytest.approx(other.gain_bits, abs=1e-10)


def test_a_thousand_million_units_cost_little() -> None:
    n = 10**9
    posterior = estimate(n, [Claim("exact", 10**8, 10**8, 0.95)], simulated(n, 100_000, 10**8, seed=1), [], USUAL)
    assert len(posterior.first) < 20_000
    assert bracket(posterior, USUAL).first_new == 10**8
    assert posterior.up_to(np.array([n]))[0] == pytest.approx(1)


def test_before_and_at_the_breakpoint() -> None:
    posterior = estimate(2000, [Claim("exact", 1000, 1000, 0.99)], [], [], USUAL.override(mixed_width={0: 1.0}))
    before, at = posterior.passed(np.array([999, 1000]))
    assert before < 0.01 < 0.98 < at


def test_change_overs_that_contradict_each_other() -> None:
    """The second was first, say all sightings; what is left is about 10 to the -3000, and still sums to 1."""
    n = 4000
    every = range(0, n)
    certain = [[Seen(s, 0.98 if s < b else 0.02, 0.02 if s < b else 0.98, 0.02) for s in every] for b in (3000, 1000)]
    chain = Chain([estimate(n, [], seen, [], USUAL) for seen in certain])
    stages = chain.stage(np.arange(0, n, 50))
    assert np.isfinite(stages).all() and (np.diff(stages, axis=1) <= 1e-9).all() and (np.diff(stages, axis=0) >= -1e-9).all()
    assert np.exp(chain.marginal(0).log_mass).sum() == pytest.approx(1)


def test_certain_sightings_that_contradict_each_other_leave_the_cut_with_fewest_exceptions() -> None:
    seen = [Seen(s, float(not new), float(new), 0.0) for s, new in enumerate([False, False, True, False, True, True])]
    assert bracket(estimate(6, [], seen, [], USUAL.override(mixed_width={0: 1.0})), USUAL).first_new == 2  # or 4: the lower of equals
