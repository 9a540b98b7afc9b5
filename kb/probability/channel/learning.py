"""What confirmed readings teach: how characters were really misread, and how literally the channel can be taken (docs/model.md, section 12).

The confirmed characters are counts beside the shipped wear table (Dirichlet). One exponent on the entries of worn readings is fitted, so that marks,
serials and "not in this knowledge base" share one calculus. Without confirmed readings nothing changes.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np

from kb.assumptions import Assumptions
from kb.probability.channel.alignment import stands_for
from kb.probability.channel.automaton import compile_readings, encode, level_of
from kb.probability.channel.marks import MarkIndex
from kb.probability.channel.reading import Reading
from kb.probability.channel.wear import confusion
from kb.words.notation import ALPHABET

EXPONENTS = tuple(round(0.4 + 0.1 * i, 2) for i in range(9))  # numeric
FOLDS = 5
FITTED_TO = 500  # readings, evenly spaced; more would only take longer
BINS = 10
NEVER = 1e-9  # numeric: what is stated as certain may still be wrong


@dataclass(frozen=True)
class Confirmed:
    """A reading, what it proved to be, and how worn the stamping was."""

    reading: Reading
    truth: str
    wear: str


@dataclass(frozen=True)
class Learned:
    """What was learned.

    Attributes:
        assumptions: those given, with what was learned in them.
        readings: how many there were; explained: for how many the recorded truth is possible; fitted: how many the exponent was fitted to.
        diagram: for ten ranges of stated probability, how many readings' best mark was stated in it, the mean statement, the share right.
    """

    assumptions: Assumptions
    readings: int = 0
    explained: int = 0
    fitted: int = 0
    diagram: tuple[Mapping[str, float], ...] = field(default=())

    def as_dict(self) -> dict[str, Any]:
        """As `build_info` stores it."""
        return {
            "readings": self.readings,
            "explained": self.explained,
            "fitted": self.fitted,
            "sharpness": self.assumptions.sharpness,
            "confirmed": dict(sorted(self.assumptions.confirmed.items())),
            "diagram": [dict(each) for each in self.diagram],
        }


def learn(confirmed: Sequence[Confirmed], marks: MarkIndex, assumptions: Assumptions) -> Learned:
    """What the readings teach, with the known mark texts as rivals. Readings of texts that are not known marks count only for the table."""
    if not confirmed:
        return Learned(assumptions)
    counts, explained = count(confirmed, assumptions)
    taught = assumptions.override(confirmed=counts)
    known = {text: i for i, text in enumerate(marks.texts)}
    # The exponent is fitted to readings that the table has not seen, or it would trust the table too much.
    rows = [(each, i % FOLDS) for i, each in enumerate(confirmed) if each.truth in known and level_of(each.reading, each.wear) != "clean"]
    rows = [rows[int(i)] for i in np.linspace(0, len(rows) - 1, min(len(rows), FITTED_TO))]
    if not rows:
        return Learned(taught, len(confirmed), explained)
    others = [[each for i, each in enumerate(confirmed) if i % FOLDS != fold] for fold in range(FOLDS)]
    unseen = [assumptions.override(confirmed=count(rest, assumptions)[0]) for rest in others]

    @cache
    def tried(exponent: float) -> tuple[float, list[tuple[float, float]]]:
        score, stated = -(((exponent - assumptions.sharpness) / assumptions.sharpness_spread) ** 2) / 2, []
        for each, fold in rows:
            compiled = compile_readings([each.reading], [each.wear], unseen[fold].override(sharpness=exponent))
            found = marks.best(compiled)
            if len(found.weights):
                p = float(found.weights[0] / (found.weights.sum() + found.rest))
                alike = found.weights >= found.weights[0] * (1 - 1e-12)  # numeric
                right = float(known[each.truth] in found.texts[alike]) / int(alike.sum())
                score += right * float(np.log(p)) + (1 - right) * float(np.log(max(1 - p, NEVER)))
                stated.append((p, right))
        return score, stated

    near = max(EXPONENTS, key=lambda exponent: tried(exponent)[0])
    best = max((round(near + step, 2) for step in (-0.05, 0.0, 0.05)), key=lambda exponent: tried(exponent)[0])  # numeric
    return Learned(taught.override(sharpness=best), len(confirmed), explained, len(rows), diagram(tried(best)[1]))


def count(confirmed: Sequence[Confirmed], assumptions: Assumptions) -> tuple[dict[str, float], int]:
    """How often each true character was read as each, by level ("worn 8>3"), and for how many readings the recorded truth is possible."""
    plain = assumptions.override(sharpness=1.0, confirmed={})
    found: dict[str, float] = {}
    explained = 0
    for each in confirmed:
        level = level_of(each.reading, each.wear)
        table = confusion(level, plain)
        stands = stands_for(compile_readings([each.reading], [each.wear], plain).parts[0], [each.truth])[1][0]
        explained += bool(stands.any())
        for token, chances in zip(each.reading.tokens, stands, strict=False):
            if token not in ("?", "*"):
                for true in np.flatnonzero(chances):
                    entries = table[true, encode(token)]
                    for seen, share in zip(token, entries / entries.sum(), strict=True):
                        key = f"{level} {ALPHABET[true]}>{seen}"
                        found[key] = found.get(key, 0.0) + float(chances[true] * share)
    return {key: round(value, 6) for key, value in sorted(found.items()) if round(value, 6) > 0}, explained


def diagram(stated: Sequence[tuple[float, float]]) -> tuple[Mapping[str, float], ...]:
    """A reliability diagram: by ranges of stated probability, how many there were, the mean statement and the share that was right.

    A right one counts 1; of several stated alike, one of which is right, each counts a share.
    """
    rows = []
    for i in range(BINS):
        inside = [(p, right) for p, right in stated if i / BINS <= p < (i + 1) / BINS or (i == BINS - 1 and p >= 1)]
        if inside:
            p, right = (float(np.mean(column)) for column in zip(*inside, strict=True))
            rows.append({"from": i / BINS, "to": (i + 1) / BINS, "count": len(inside), "stated": round(p, 6), "right": round(right, 6)})
    return tuple(rows)

