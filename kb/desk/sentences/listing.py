"""The sentence for a listing: which units a part fits, in a language, within a length; it promises only what is sure.

What does not fit into the length is left out from the end: first what to look for, then the stretches to check, then units; and it is said
that there is more to ask about, so that nothing is read as a promise for what was left out.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from kb.desk.sentences.languages import translator

SHORTEST = 60  # characters; below that not even "ask first" can be said in every language


@dataclass(frozen=True)
class Promise:
    """What a listing may say of one stretch of serials. models: in words. look: what to look at first; "" where the part is sure to fit."""

    models: str
    first: str
    last: str
    look: str = ""


def sentence(part_number: str, promises: Sequence[Promise], language: str = "en", most: int | None = None) -> str:
    """The sentence of at most so many characters.

    >>> promises = [Promise("M1", "B00001", "B00411"), Promise("M2", "B00412", "B00430", "cover marked H4110A")]
    >>> sentence("1407", promises)
    'Fits M1 no. B00001 to B00411. Check first: M2 no. B00412 to B00430 (cover marked H4110A).'
    >>> sentence("1407", promises, most=80)
    'Fits M1 no. B00001 to B00411. Check the casting first: M2 no. B00412 to B00430.'
    >>> sentence("1407", promises, most=65)
    'Fits M1 no. B00001 to B00411. Other units: ask before ordering.'
    """
    say = translator(language)
    sure, check = [each for each in promises if not each.look], [each for each in promises if each.look]
    if not promises:
        return _first_within([say("{part}: no unit is recorded that it fits.").format(part=part_number), say("Ask before ordering.")], most)
    fits = [_stretch(say, each) for each in sure]
    certain = say("Fits {units}.").format(units="; ".join(fits)) if fits else ""
    bare = [_stretch(say, each) for each in check]
    looking = [f"{stretch} ({each.look})" for stretch, each in zip(bare, check, strict=True)]
    ways = [
        " ".join(filter(None, [certain, say("Check first: {units}.").format(units="; ".join(looking)) if looking else ""])),
        " ".join(filter(None, [certain, say("Check the casting first: {units}.").format(units="; ".join(bare)) if bare else ""])),
    ]
    others = say("Other units: ask before ordering.")
    ways += [f"{say('Fits {units}.').format(units='; '.join(fits[:count]))} {others}" for count in range(len(fits), 0, -1)]
    return _first_within([*ways, say("Ask before ordering.")], most)


def _stretch(say: Callable[[str], str], promise: Promise) -> str:
    if promise.first == promise.last:
        return say("{models} no. {serial}").format(models=promise.models, serial=promise.first)
    return say("{models} no. {first} to {last}").format(models=promise.models, first=promise.first, last=promise.last)


def _first_within(ways: list[str], most: int | None) -> str:
    return next((way for way in ways if most is None or len(way) <= most), ways[-1])
