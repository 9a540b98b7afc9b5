"""Entropy and information gain against plain enumeration and a published worked value."""

import numpy as np
import pytest

from kb.probability.inference.information import entropy, gain, observed, weight_of_evidence


def test_weight_of_evidence_is_the_log_of_the_likelihood_ratio() -> None:
    """m .9, u .01: log2(90) = 6.49 bits. Source: Fellegi and Sunter 1969; worked value as printed in a vendor's article on record linkage."""
    prior = 0.2
    posterior = prior * 0.9 / (prior * 0.9 + (1 - prior) * 0.01)
    assert weight_of_evidence(posterior, prior) == pytest.approx(np.log2(90))
    assert np.log2(90) == pytest.approx(6.49, abs=0.005)


def test_gain_equals_the_expected_drop_in_entropy_by_enumeration() -> None:
    rng = np.random.default_rng(5)
    joint = rng.random((4, 3))
    joint /= joint.sum()
    outcome = rng.random((2, 3))
    outcome /= outcome.sum(0)
    table = observed(joint, outcome)
    drop = entropy(joint.sum(1)) - sum(table[:, o].sum() * entropy(table[:, o] / table[:, o].sum()) for o in range(2))
    assert gain(table) == pytest.approx(drop, rel=1e-12)


def test_an_observation_that_depends_on_nothing_tells_nothing() -> None:
    joint = np.full((3, 2), 1 / 6)
    assert gain(observed(joint, np.array([[0.3, 0.3], [0.7, 0.7]]))) == pytest.approx(0.0, abs=1e-12)
