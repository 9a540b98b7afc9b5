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
