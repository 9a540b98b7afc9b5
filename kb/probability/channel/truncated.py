"""Numbers typed without saying that characters are missing: V21 is not a number, but V21* is the beginning of several."""

from collections.abc import Sequence

from kb.probability.channel.reading import Reading

FEWEST = 2  # characters; a single one is part of nearly everything


def starred(reading: Reading) -> list[Reading]:
    """A plainly typed reading with `*` after it, before it, and at both ends; none for one that already says what is missing."""
    if not reading.plain or len(reading.tokens) < FEWEST:
        return []
    text = "".join(reading.tokens)
    return [Reading.parse(each) for each in (f"{text}*", f"*{text}", f"*{text}*")]


def part_of(reading: Reading, texts: Sequence[str]) -> tuple[Reading, list[str]] | None:
    """How a reading must be written to be part of some texts, with those texts; None if it is part of none.

    >>> written, whole = part_of(Reading.parse("V21"), ["H4410", "V2140", "V2141"])
    >>> str(written), whole
    ('V21*', ['V2140', 'V2141'])
    """
    for written in starred(reading):
        whole = [text for text in texts if written.could_be(text)]
        if whole:
            return written, whole
    return None
