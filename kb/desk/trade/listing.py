"""The sentence for a listing: which units a part fits, in a language, within a length; it promises only what is sure.

What does not fit into the length is left out from the end: first what to look for, then the stretches to check, then units; and it is said
that there is more to ask about, so that nothing is read as a promise for what was left out.
"""

from collections.abc import Callable

from kb.desk.fitment.applicability import Promises
from kb.desk.trade.languages import translator

SHORTEST = 60  # characters; below that not even "ask first" can be said in every language


def sentence(part_number: str, promises: Promises, language: str = "en", most: int | None = None) -> str:
    """The sentence of at most so many characters.

    >>> promises = [("M1", "B00001", "B00411")], [("M2", "B00412", "B00430", "cover marked H4110A")]
    >>> sentence("1407", promises)
    'Fits M1 no. B00001 to B00411. Check first: M2 no. B00412 to B00430 (cover marked H4110A).'
    >>> sentence("1407", promises, most=80)
    'Fits M1 no. B00001 to B00411. Check the casting first: M2 no. B00412 to B00430.'
    >>> sentence("1407", promises, most=65)
    'Fits M1 no. B00001 to B00411. Other units: ask before ordering.'
    """
    say = translator(language)
    sure, check = promises
    if not sure and not check:
        return _first_within([say("{part}: no unit is recorded that it fits.").format(part=part_number), say("Ask before ordering.")], most)
    fits = [_stretch(say, *each) for each in sure]
    certain = say("Fits {units}.").format(units="; ".join(fits)) if fits else ""
    looking = [f"{_stretch(say, names, first, last)} ({look})" for names, first, last, look in check]
    bare = [_stretch(say, names, first, last) for names, first, last, _ in check]
    ways = [
        " ".join(filter(None, [certain, say("Check first: {units}.").format(units="; ".join(looking)) if looking else ""])),
        " ".join(filter(None, [certain, say("Check the casting first: {units}.").format(units="; ".join(bare)) if bare else ""])),
    ]
    others = say("Other units: ask before ordering.")
    ways += [f"{say('Fits {units}.').format(units='; '.join(fits[:count]))} {others}" for count in range(len(fits), 0, -1)]
    return _first_within([*ways, say("Ask before ordering.")], most)


def _stretch(say: Callable[[str], str], names: str, first: str, last: str) -> str:
    if first == last:
        return say("{models} no. {serial}").format(models=names, serial=first)
    return say("{models} no. {first} to {last}").format(models=names, first=first, last=last)


def _first_within(ways: list[str], most: int | None) -> str:
    return next((way for way in ways if most is None or len(way) <= most), ways[-1])
