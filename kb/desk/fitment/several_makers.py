"""Verdicts for a unit that may be of several makers: each says for which maker it holds, and the first question is who made the unit."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from kb.desk.fitment.hypothesis import MakerHypothesis
from kb.desk.sentences.checks import meaning
from kb.desk.sentences.fitment import WHO_MADE_IT, if_of_maker
from kb.probability.inference.information import gain
from kb.store.book import Book
from kb.words.answers.fitment import Fit
from kb.words.answers.identification import Check

MINUTES = 1.0  # a look at the plate
_SAYS = ("it fits", "it does not fit", "nothing is recorded of it there")


def of_several_makers(book: Book, sides: Sequence[MakerHypothesis], fits: Sequence[Fit], most: int) -> list[Fit]:
    """Entries at the castings of several makers, each named with its maker.

    Args:
        sides: the makers, the most probable first.
        most: checks an entry names at most; 0 where none were worked out.
    """
    maker_of = {component: side for side in sides for component in side.context.components}
    check = [_who_made_it(book, sides, fits, maker_of)] if most else []
    found = []
    for fit in fits:
        side = maker_of[fit.component]
        others = [(book.makers[other.maker].name, other.probability) for other in sides if other is not side]
        changes: dict[str, Any] = {
            "name": f"{book.makers[side.maker].name}, {fit.name[:1].lower()}{fit.name[1:]}",
            "because": [*fit.because, if_of_maker(book.makers[side.maker].name, side.probability, others)],
        }
        if most and fit.verdict in ("check first", "not recorded"):
            changes["check_next"] = sorted([*check, *fit.check_next], key=lambda each: -each.gain_bits / each.effort)[:most]
        found.append(fit.varied(changes))
    return found


def _who_made_it(book: Book, sides: Sequence[MakerHypothesis], fits: Sequence[Fit], maker_of: dict[str, MakerHypothesis]) -> Check:
    """The question who made the unit, by what it tells of the part: at the place of each maker where it fits best."""
    joint, outcomes = np.zeros((len(_SAYS), len(sides) + 1)), []
    for column, side in enumerate(sides):
        mine = [fit for fit in fits if maker_of[fit.component] is side]
        best = max(mine, key=lambda fit: fit.probability, default=None)
        yes, no = (best.probability, best.against) if best is not None else (0.0, 0.0)
        joint[:, column] = yes, no, max(0.0, side.probability - yes - no)
        after = joint[:, column] / joint[:, column].sum()
        likely = int(after.argmax())
        outcomes.append(
            meaning(book.makers[side.maker].name, _SAYS[likely], float(after[likely]), side.probability, {"maker": side.maker})
        )
    joint[-1, -1] = max(0.0, 1 - joint.sum())
    return Check(check=WHO_MADE_IT, effort=MINUTES, gain_bits=float(gain(joint)), outcomes=outcomes)
