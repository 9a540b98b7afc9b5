"""What a work sheet says of its steps."""

from collections.abc import Sequence

from kb.desk.sentences.names import place_name
from kb.store.book import Book


def step_applies(judged: Sequence[tuple[str, str, float]]) -> str:
    """Whether a step is one for a unit; judged: state, place, probability.

    >>> step_applies([("do", "left", 0.98), ("not", "right", 0.01)])
    'Left: the step is for this unit (0.98). Right: the step is not for this unit (0.01).'
    """
    words = {"do": "the step is for this unit", "not": "the step is not for this unit", "undecided": "whether the step is for this unit is open"}
    if not judged:
        return "The step is for another maker's unit."
    told = [f"{place}: {words[state]} ({yes:.2f})." if place else f"{words[state]} ({yes:.2f})." for state, place, yes in judged]
    return " ".join(f"{text[:1].upper()}{text[1:]}" for text in told)


def no_step(book: Book, component_id: str, place: str) -> str:
    """A casting that no recorded step is for."""
    return (
        f"No step is recorded for the casting that is probably fitted as {place_name(book, component_id, place)}: it is none of those that the "
        "steps are for. Stop there, and ask before going on."
    )


MEASURE_AGAIN = "Measure again with everything tightened: the figure above is arithmetic, not the machine."
NO_SHIMS = "No shims of a known thickness are recorded for this step; name them with --at-hand."
WRONG_WAY = "No pack helps: more shims would move it further away, so take some out."
NO_PACK = "No pack helps: no combination of what is at hand brings it there."


def measured(what: str, value: float, off: float, limits: str, unit: str, shims: str) -> str:
    """A measure against its limits. off: by how much it is beyond them, 0 within. shims: what is to be said of shims.

    >>> measured("end play", 0.3, 0.05, "0.1 to 0.25 mm", "mm", "")
    'Outside the limits: 0.3 mm end play is 0.05 mm too much; the limits are 0.1 to 0.25 mm.'
    >>> measured("end play", 0.2, 0, "0.1 to 0.25 mm", "mm", "")
    'Within the limits: 0.2 mm end play; the limits are 0.1 to 0.25 mm.'
    """
    if not off:
        return f"Within the limits: {value:g} {unit} {what}; the limits are {limits}."
    outside = f"Outside the limits: {value:g} {unit} {what} is {abs(off):g} {unit} too {'much' if off > 0 else 'little'}; the limits are {limits}."
    return f"{outside} {shims}" if shims else outside
