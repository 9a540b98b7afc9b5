"""The weight of readings one serial and one alignment after the other, as the enumerator writes docs/model.md down."""

from collections.abc import Sequence
from itertools import product
from math import fsum, prod

from kb.assumptions import Assumptions
from kb.probability.channel.digits import PrintedForm
from tests.enumerator.readings import number_weight, see, weight

A = Assumptions()
NEVER = {"clean": 0.0, "worn": 0.0, "badly-worn": 0.0}
COMPLETE = A.override(lost=NEVER, doubled=NEVER, end_lost=NEVER)  # no slips
EVEN = COMPLETE.override(uniform_share=1.0, sharpness=1.0)  # to be worked by hand: all misreadings alike as well


def text_weight(readings: Sequence[str], wears: Sequence[str | None], text: str, assumptions: Assumptions = A) -> float:
    """P(readings of one number | text)."""
    return prod(weight(see(reading, wear, assumptions, len(readings)), text, assumptions) for reading, wear in zip(readings, wears, strict=True))


def serial_weight(readings: Sequence[str], form: PrintedForm, digits: str, check: str = "", wears: Sequence[str | None] = ()) -> float:
    """P(readings | serial), the digits as printed; which check characters belong there is the caller's business."""
    seen = [see(reading, wear, A, len(readings)) for reading, wear in zip(readings, wears or [None] * len(readings), strict=True)]
    return fsum(
        p * q * prod(number_weight(each, front + form.prefix, digits, check + form.suffix + back, A) for each in seen)
        for (front, p), (back, q) in product(_affixes(form.affixes_before), _affixes(form.affixes_after))
    )


def _affixes(affixes: tuple[str, ...]) -> list[tuple[str, float]]:
    return [("", 0.9), *((affix, 0.1 / len(affixes)) for affix in affixes)] if affixes else [("", 1.0)]
