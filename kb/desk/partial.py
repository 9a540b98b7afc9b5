"""Numbers typed without saying that characters are missing: V21 is no number, but V21* is the beginning of several."""

from collections.abc import Sequence

import numpy as np

from kb.assumptions import Assumptions
from kb.channel.compiled import compile_readings
from kb.channel.reading import Reading
from kb.channel.stretches import weigh_stretches
from kb.desk.cells import Stretches

EXACTLY = 0.1  # the weight that whole blocks have at least if one of their serials is just so; misread ones weigh far less
FEWEST = 2  # characters; a single one is part of nearly everything


def starred(reading: Reading) -> list[Reading]:
    """A plainly typed reading with `*` behind, before, and at both ends; none for one that says itself what is missing."""
    if not reading.plain or len(reading.tokens) < FEWEST:
        return []
    text = "".join(reading.tokens)
    return [Reading.parse(each) for each in (f"{text}*", f"*{text}", f"*{text}*")]


def part_of(reading: Reading, texts: Sequence[str]) -> tuple[Reading, list[str]] | None:
    """How a reading must be written to be part of some texts, and these; None if it is part of none.

    >>> written, whole = part_of(Reading.parse("V21"), ["H4410", "V2140", "V2141"])
    >>> str(written), whole
    ('V21*', ['V2140', 'V2141'])
    """
    for written in starred(reading):
        whole = [text for text in texts if written.could_be(text)]
        if whole:
            return written, whole
    return None


def part_of_serials(reading: Reading, cells: Sequence[Stretches], assumptions: Assumptions) -> Reading | None:
    """How a reading must be written to be part of a serial of some blocks; None if it is part of none."""
    certain = assumptions.override(upside_down=0.0)
    for written in starred(reading):
        compiled = compile_readings([written], ["clean"], certain)
        for each in cells:
            blocks = [line.blocks[position] for line, position in each.blocks]
            first, last = (np.array([getattr(block, end) for block in blocks], dtype=np.int64) for end in ("first", "last"))
            if len(blocks) and weigh_stretches(compiled, each.forms, np.arange(len(blocks)), first, last, certain).max() >= EXACTLY:
                return written
    return None
