"""What to look at next: how much an observation not yet made would tell about the question asked.

Formula: I(Q; O) = H(Q) + H(O) - H(Q, O) under the posterior; Cover and Thomas, Elements of Information Theory, 2nd ed., 2.4.
Arrays only; docs/model.md, section 10.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def entropy(probabilities: Floats) -> float:
    """Entropy in bits of an array of probabilities that sums to 1; zeros are left out.

    >>> entropy(np.array([0.5, 0.25, 0.25, 0.0]))
    1.5
    """
    kept = probabilities[probabilities > 0]
    return float(-(kept * np.log2(kept)).sum())


def entropies(probabilities: Floats) -> Floats:
    """(N,) entropies in bits of the rows of (N, M) probabilities; a row need not sum to 1.

    >>> entropies(np.array([[0.5, 0.25, 0.25], [1.0, 0.0, 0.0]])).tolist()
    [1.5, 0.0]
    """
    return np.asarray(-(probabilities * np.log2(np.where(probabilities > 0, probabilities, 1.0))).sum(axis=1), dtype=np.float64) + 0.0


def normalised(joint: Floats) -> Floats:
    """The same proportions with the sum 1; nothing but zeros stays so.

    >>> normalised(np.array([1.0, 3.0])).tolist()
    [0.25, 0.75]
    """
    total = float(joint.sum())
    return joint / total if total > 0 else joint


def most(probabilities: Floats, left_out: float) -> NDArray[np.intp]:
    """Which of (N,) entries to go through if the others together may hold `left_out`: as few as that takes, in order.

    >>> most(np.array([0.1, 0.0, 0.6, 0.3]), 0.1).tolist(), most(np.array([0.5, 0.0, 0.5]), 0.0).tolist()
    ([2, 3], [0, 2])
    """
    order = np.argsort(probabilities, kind="stable")
    return np.sort(order[np.cumsum(probabilities[order]) > left_out * (1 + 1e-12)])  # numeric


def observed(joint: Floats, outcome: Floats) -> Floats:
    """(questions, outcomes) joint probability of answer and observation.

    Args:
        joint: (questions, causes) posterior of the answer and what causes the observation; sums to 1.
        outcome: (outcomes, causes) P(outcome | cause), columns sum to 1.
    """
    return joint @ outcome.T


def gain(answer_and_outcome: Floats) -> float:
    """Expected drop in entropy of the answer, in bits, never below 0.

    Args:
        answer_and_outcome: (questions, outcomes) joint probabilities, sums to 1.

    >>> gain(np.array([[0.5, 0.0], [0.0, 0.5]]))
    1.0
    """
    drop = entropy(answer_and_outcome.sum(1)) + entropy(answer_and_outcome.sum(0)) - entropy(answer_and_outcome)
    return max(0.0, drop)


def weight_of_evidence(with_it: float, without_it: float) -> float:
    """By how many bits a piece of evidence raised the odds of an answer, given all other evidence.

    Args: the probability of the answer with and without the piece. Infinite odds are cut at 60 bits.

    >>> round(weight_of_evidence(0.9, 0.5), 2)
    3.17
    """

    def log_odds(p: float) -> float:
        return float(np.clip(np.log2(max(p, 1e-300)) - np.log2(max(1 - p, 1e-300)), -60, 60))  # numeric

    return log_odds(with_it) - log_odds(without_it)
