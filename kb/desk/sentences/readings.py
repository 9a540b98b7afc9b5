"""The words of answers about worn readings: what they cannot tell, what is near, what confirmed readings taught."""

from collections.abc import Sequence

from kb.desk.sentences.numbers import characters_apart, likely

MOST_NAMED = 5

NOTHING_LEARNED = (
    "No confirmed reading is recorded, so nothing was learned: worn readings are weighed by the wear table as shipped, flattened by the "
    "usual exponent."
)
HOW_TO_RECORD = (
    "Record what somebody read before the number was known, exactly as it was read (? and [38] included), with what it proved to be once cleaned or "
    "papers turned up: kb add reading --reading '1048?3' --truth 104873 --wear worn. Record every such reading, the right ones too, or "
    "misreadings will look more frequent than they are. The exponent is learned from worn readings of marks that marks.csv has."
)
CLEAN_HAS_NO_EXPONENT = "A clean number: its characters are counted; the exponent is of worn ones only."


def cannot_be_its_truth(reading: str, truth: str) -> str:
    """A confirmed reading that no alignment explains."""
    return (
        f"{reading} cannot be read off {truth}: characters are missing or added beyond one slip that may go unnoticed. "
        "Correct the row, or write * where an unknown number of characters is missing."
    )


def truth_is_no_mark(truth: str) -> str:
    """A confirmed reading whose truth has no rivals among the marks."""
    return f"{truth} is no mark recorded that tells a variant (a serial, perhaps): its characters are counted, the exponent is fitted to marks only."


def too_few_readings(fit: int, enough: int) -> str:
    """Too few for the exponent to be trusted."""
    some = f"Only {fit} worn readings of recorded marks are" if fit > 1 else f"{'Only one' if fit else 'No'} worn reading of a recorded mark is"
    return (
        f"{some} among them. The exponent is fitted to as many as {enough}, and with so many stated probabilities came true where that was measured "
        "(docs/wear.md); until then take those of worn readings as careful guesses."
    )


def fitted_to_some(fit: int, most: int) -> str:
    """More readings than the exponent needs."""
    return f"{fit} could be used for the exponent; it was fitted to {most} of them, evenly spaced, because more would only take longer."


def suits_unrecorded(reading: str, texts: Sequence[str], first: str, last: str, recorded: int, numbers: int, where: str = "") -> str:
    """Gaps in a run of recorded numbers that a reading suits as well. where: "for the cover", or ""."""
    named = [*texts[:MOST_NAMED], *([f"{len(texts) - MOST_NAMED} more"] if len(texts) > MOST_NAMED else [])]
    them, is_it = ("They are", "one of them") if len(texts) > 1 else ("It is", "that one")
    for_what = f" {where}" if where else ""
    return (
        f"{reading} suits {_listed(named, 'and')} as well. {them} not recorded{for_what}, though the neighbours are ({recorded} of the {numbers} "
        f"numbers {first} to {last}): whether it is {is_it} cannot be told from this reading."
    )


def no_such_mark(reading: str, where: str, near: Sequence[tuple[str, int]]) -> str:
    """A mark that is recorded nowhere on its component, with those that are near it: as cast, and characters apart."""
    of_them = [f"{text} ({characters_apart(apart)})" for text, apart in near]
    offered = f" Did you mean {_listed(of_them, 'or')}? It was taken for none of them beyond what a misreading makes likely." if near else ""
    return f"{reading} is no mark recorded for {where}: read it again.{offered}"


def part_of_marks(reading: str, written: str, texts: Sequence[str]) -> str:
    """A mark typed without saying that characters are missing. written: as it would say so; texts: those that it is part of."""
    named = [*texts[:MOST_NAMED], *([f"{len(texts) - MOST_NAMED} more"] if len(texts) > MOST_NAMED else [])]
    return f"{reading} is only a part of {_listed(named, 'and')}. Where characters are missing write *: {written}."


def suits_elsewhere(name: str, texts: Sequence[str], probability: float) -> str:
    """A mark that suits another casting than what was said. name: of that, with its maker."""
    named = [*texts[:MOST_NAMED], *([f"{len(texts) - MOST_NAMED} more"] if len(texts) > MOST_NAMED else [])]
    return f"Of all castings it suits {name} ({_listed(named, 'or')}): {likely(probability)}. Is it right where it is said to come from?"


def part_of_a_serial(reading: str, written: str) -> str:
    """A serial typed without saying that characters are missing."""
    return f"{reading} is no whole serial recorded here, only a part of some. Where characters are missing write *: {written}."


def _listed(names: Sequence[str], last: str) -> str:
    return f" {last} ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
