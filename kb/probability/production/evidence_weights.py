"""Weights: what each claim and each sighting adds to what is believed about one change-over.

The weight of a piece of evidence is in bits: by how much it raises the odds of low..high, the stretch in which the first new unit is
believed to lie, against all other orders, given everything else (Good, Probability and the Weighing of Evidence, 1950, ch. 6). Evidence against it
has a negative weight. A claim that another source repeats adds nothing by itself, because the estimate would be the same without it.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from kb.assumptions import Assumptions
from kb.probability.production.chain import Chain
from kb.probability.production.changeovers import Posterior, estimate
from kb.probability.production.claims import Claim, Floats
from kb.probability.production.copied_claims import Copies
from kb.probability.production.credible_interval import Bracket
from kb.probability.production.sightings import Sightings, built_new

LEAST = 1e-12  # numeric: smaller probabilities count as this


def claim_weights(
    made: Sequence[tuple[str, str, Claim]], widths: Mapping[str, int | None], copies: Copies, sightings: Sequence[Sightings],
    posteriors: Sequence[Posterior], k: int, found: Bracket, assumptions: Assumptions,
) -> dict[str, float]:  # fmt: skip
    """By breakpoint_id, in bits.

    Args:
        made: (breakpoint_id, source_id, claim) of everything that is claimed about change-over k.
        widths: by breakpoint_id, the length of the mixed stretch that it tells of.
        copies: which sources come from which.
        sightings: those of each change-over of the lineage.
        posteriors: of each change-over by itself, with all evidence.
        k: which of them.
        found: its bracket.
    """
    n = posteriors[k].n

    def odds(left: Sequence[tuple[str, str, Claim]]) -> float:
        claims, originals = copies.count_once(left)
        stated = sorted({width for each in originals if (width := widths[each])})
        single = estimate(n, claims, sightings[k], stated, assumptions)
        return _log_odds(Chain([*posteriors[:k], single, *posteriors[k + 1 :]]).marginal(k).between(found.low, found.high))

    everything = odds(made)
    return {breakpoint_id: everything - odds([each for each in made if each[0] != breakpoint_id]) for breakpoint_id, *_ in made}


def sighting_weights(posterior: Posterior, sightings: Sightings, found: Bracket) -> Floats:
    """In bits, shape (sightings,), in the order of `sightings`.

    Without sighting i, P(b, w) is in proportion to what it is now divided by P(i | b, w).
    """
    first, last, mass = posterior.first, posterior.last, posterior.joint
    inside = np.clip(np.minimum(last, found.high) - np.maximum(first, found.low) + 1, 0, None) / (last - first + 1)
    everything = _log_odds(float((mass.sum(axis=1) * inside).sum() / mass.sum()))
    result = np.zeros(len(sightings.order))
    reach = int(posterior.widths[-1])
    for at in np.flatnonzero((sightings.order >= first[0]) & (sightings.order < last[-1] + reach)).tolist():
        s, old, new = int(sightings.order[at]), float(sightings.at_old[at]), float(sightings.at_new[at])
        left = np.zeros(len(first))
        for column, width in enumerate(posterior.widths.tolist()):
            for end in (first, last):
                passed = built_new(s, end, width)
                left += mass[:, column] / 2 / (old * (1 - passed) + new * passed)
        result[at] = everything - _log_odds(float((left * inside).sum() / left.sum()))
    return result


def _log_odds(probability: float) -> float:
    inside = min(max(probability, LEAST), 1 - LEAST)
    return float(np.log2(inside / (1 - inside)))
