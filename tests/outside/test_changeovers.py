"""Change-overs against change-point and hidden-state programs that others wrote, and against arithmetic.

Sources: hmmlearn (a change without return is a two-state left-to-right hidden Markov model); B. P. Carlin, A. E. Gelfand and A. F. M.
Smith, "Hierarchical Bayesian analysis of changepoint problems", Applied Statistics 41, 1992 (coal-mining disasters: the most
probable change is after year 41, 1891); data `coal` of the R package boot (191 disasters, 1851-1962; a copy with 188 of them goes
round, which moves the mode to 40).
"""

import math

import numpy as np
import pytest
from hmmlearn.hmm import CategoricalHMM
from hypothesis import given
from hypothesis import strategies as st

from kb.assumptions import Assumptions
from kb.probability.production.changeovers import Posterior, estimate
from kb.probability.production.claims import Floats
from kb.probability.production.credible_interval import bracket
from kb.probability.production.sightings import Seen

AT_ONCE = Assumptions().override(mixed_width={0: 1.0})  # no mixed stretch: a change from one unit to the next


def certain(order: int, new: bool) -> Seen:
    return Seen(order, float(not new), float(new), 0.0)


@pytest.mark.parametrize(("old", "new", "low", "high"), [
    ([2, 5], [9, 12], 6, 9),  # the first new unit is one of 6..9
    ([5], [6], 6, 6),
    ([], [6], 0, 6),
    ([5], [], 6, 20),  # 20: not yet changed
])  # fmt: skip
def test_without_replaced_castings_all_is_open_between_the_last_old_and_the_first_new(old: list[int], new: list[int], low: int, high: int) -> None:
    seen = [certain(order, False) for order in old] + [certain(order, True) for order in new]
    mass = estimate(20, [], seen, [], AT_ONCE).mass
    expected = [1 / (high - low + 1) if low <= b <= high else 0.0 for b in range(21)]
    assert mass == pytest.approx(expected, abs=1e-12)


@given(st.lists(st.booleans(), min_size=1, max_size=30))
def test_the_most_probable_change_is_the_cut_with_fewest_exceptions(news: list[bool]) -> None:
    """With one rate of replacement for all, every exception costs the same."""
    seen = [Seen(order, 0.075 if new else 0.925, 0.925 if new else 0.075, 0.075) for order, new in enumerate(news)]
    exceptions = [sum(news[:b]) + sum(not new for new in news[b:]) for b in range(len(news) + 1)]
    assert bracket(estimate(len(news), [], seen, [], AT_ONCE), AT_ONCE).first_new == exceptions.index(min(exceptions))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_hidden_markov_model_finds_the_same(seed: int) -> None:
    """60 units in order, a third of them sighted; 15 % replaced by any of 3 variants, of which the third is neither old nor new.

    The model: old -> new with a small chance a unit, a symbol for "not seen" with equal chance in both states. Its prior of the
    change is geometric, ours is flat, so the chances are weighted by the ratio of the two.
    """
    n, hazard, rate, variants = 60, 1 / 200, 0.15, 3
    random = np.random.default_rng(seed)
    change = int(random.integers(15, 45))
    symbols = np.full(n, 2)  # not seen
    seen = []
    for order in random.choice(n, 20, replace=False).tolist():
        replaced = random.random() < rate
        symbol = int(random.integers(0, 2)) if replaced else int(order >= change)
        symbols[order] = symbol
        right, wrong = 1 - rate + rate / variants, rate / variants
        seen.append(Seen(order, right if symbol == 0 else wrong, right if symbol == 1 else wrong, wrong))
    model = CategoricalHMM(n_components=2, init_params="", params="")
    model.n_features = 3
    model.startprob_ = np.array([1 - hazard, hazard])
    model.transmat_ = np.array([[1 - hazard, hazard], [0.0, 1.0]])
    emitted = np.array([[1 - rate + rate / variants, rate / variants], [rate / variants, 1 - rate + rate / variants]])
    model.emissionprob_ = np.column_stack([emitted, np.ones(2)])
    model.emissionprob_ /= model.emissionprob_.sum(axis=1, keepdims=True)  # scales both states alike
    expected = model.predict_proba(symbols[:, None])[:, 1]
    posterior = estimate(n, [], seen, [], AT_ONCE)
    prior = np.append(hazard * (1 - hazard) ** np.arange(n), (1 - hazard) ** n)
    weighted = posterior.mass * prior
    assert np.cumsum(weighted / weighted.sum())[:n] == pytest.approx(expected, abs=1e-12)


# Coal-mining disasters with ten or more deaths, by year from 1851 to 1962: counts of the dates in `boot::coal`.
COAL = [
    4, 5, 4, 1, 0, 4, 3, 4, 0, 6, 3, 3, 4, 0, 2, 6, 3, 3, 5, 4, 5, 3, 1, 4, 4, 1, 5, 5, 3, 4, 2, 5, 2, 2, 3, 4, 2, 1,
    3, 2, 2, 1, 1, 1, 1, 3, 0, 0, 1, 0, 1, 1, 0, 0, 3, 1, 0, 3, 2, 2, 0, 1, 1, 1, 0, 1, 0, 1, 0, 0, 0, 2, 1, 0, 0, 0,
    1, 1, 0, 2, 3, 3, 1, 1, 2, 1, 1, 1, 1, 2, 3, 3, 0, 0, 0, 1, 4, 0, 0, 0, 1, 0, 0, 0, 0, 0, 1, 0, 0, 1, 0, 1,
]  # fmt: skip


def change_of_rate(before: float, after: float) -> Posterior:
    """The change-over of 112 "units", each a year, seen as its number of disasters at one rate or the other."""
    def poisson(count: int, rate: float) -> float:
        return math.exp(-rate) * rate**count / math.factorial(count)

    return estimate(len(COAL), [], [Seen(year, poisson(count, before), poisson(count, after), 0.0) for year, count in enumerate(COAL)], [], AT_ONCE)


def test_the_coal_data_are_complete() -> None:
    assert (len(COAL), sum(COAL)) == (112, 191)
    assert [sum(COAL[:41]) / 41, sum(COAL[41:]) / 71] == pytest.approx([3.098, 0.901], abs=0.0005)  # the published rates: averages of either side


def test_the_coal_mines_became_safer_after_year_41() -> None:
    """At the published rates: 3.098 disasters a year before, 0.901 after."""
    posterior = change_of_rate(3.098, 0.901)
    assert bracket(posterior, AT_ONCE).first_new == 41  # the 42nd year is the first of the new rate: 41 years, 1851..1891, have the old
    assert np.argsort(-posterior.mass)[:4].tolist() == [41, 40, 39, 42]


def test_the_coal_posterior_over_all_rates() -> None:
    """P(k) .245 for 41, .185 for 40, .143 for 39, .099 for 42, the rates unknown beforehand: Gamma(1, 1).

    Gibbs sampling as Carlin, Gelfand and Smith do it: rates given the change, the change given the rates, the latter by the estimator.
    """
    random = np.random.default_rng(1891)
    counts: Floats = np.cumsum([0, *COAL]).astype(np.float64)
    change, total = 41, np.zeros(113)
    for step in range(4000):
        before = random.gamma(1 + counts[change]) / (1 + change)
        after = random.gamma(1 + counts[-1] - counts[change]) / (1 + len(COAL) - change)
        mass = change_of_rate(before, after).mass
        change = int(random.choice(113, p=mass / mass.sum()))
        if step >= 100:
            total += mass
    total /= total.sum()
    assert [total[k] for k in (41, 40, 39, 42)] == pytest.approx([0.245, 0.185, 0.143, 0.099], abs=0.012)
    assert int(total.argmax()) == 41


def test_nine_brackets_in_ten_hold_the_truth() -> None:
    """Definition of a 90 % interval, when the world is as assumed: a flat b, sightings at random, 15 % replaced by either of two."""
    random = np.random.default_rng(7)
    runs, held, n = 1500, 0, 200
    for _ in range(runs):
        b = int(random.integers(0, n + 1))
        seen = []
        for order in random.choice(n, 12, replace=False).tolist():
            new = order >= b if random.random() > 0.15 else random.random() < 0.5
            seen.append(Seen(order, 0.075 if new else 0.925, 0.925 if new else 0.075, 0.075))
        found = bracket(estimate(n, [], seen, [], AT_ONCE), AT_ONCE)
        held += found.low <= b <= found.high
    assert 0.88 <= held / runs <= 0.92
