"""What to look at next, as something to do, and what an outcome would mean."""

from collections.abc import Sequence
from typing import Any

from kb.desk.sentences.names import place_name
from kb.desk.sentences.numbers import likely, minutes, ordinal
from kb.probability.channel.reading import Reading
from kb.store.book import Book
from kb.store.rows import FeatureRow
from kb.words.answers.identification import Outcome


def look_at(book: Book, feature: FeatureRow, component_id: str, place: str) -> str:
    """A feature to look at, as something to do."""
    where = book.components[component_id].where_to_look
    verb = "Measure" if feature.kind == "measure" else "Look at"
    return f"{verb} {place_name(book, component_id, place)}: {feature.question}" + in_brackets(where)


def read_mark(book: Book, component_id: str, place: str) -> str:
    """A mark not yet read, as something to do."""
    where = book.components[component_id].where_to_look
    return f"Clean and read the casting number of {place_name(book, component_id, place)}" + in_brackets(where)


def look_at_casting(book: Book, component_id: str, place: str) -> str:
    """A casting of which nothing was looked at yet, as something to do: its easiest feature, else its mark."""
    features = sorted(book.features_of.get(component_id, ()), key=lambda feature: feature.effort)
    return look_at(book, features[0], component_id, place) if features else read_mark(book, component_id, place) + "."


def in_brackets(sentence: str | None) -> str:
    """A remark at the end of a sentence, or "".

    >>> in_brackets("Number cast on top.")
    ' (number cast on top)'
    """
    return f" ({sentence[0].lower()}{sentence[1:].rstrip('.')})" if sentence else ""


def reread(position: int, reading: Reading, where: str) -> str:
    """A character that could not be read, as something to do."""
    return f"Clean and re-read the {ordinal(position)} character of {reading} ({where})"


def reread_whole(readings: Sequence[Reading], where: str) -> str:
    """A number that could not be read, as something to do."""
    texts = list(dict.fromkeys(map(str, readings)))
    where_first, open_ones = (", first where its readings differ", "they leave") if len(texts) > 1 else ("", "it leaves")
    return f"Clean and re-read the whole number{where_first}: {', '.join(texts)} ({where}; {open_ones} too much open to name one character)"


def meaning(outcome: str, then: str, then_probability: float, probability: float, adds: dict[str, Any]) -> Outcome:
    """An outcome of a check with what it would mean: the answer that would be the most probable then, and how probable."""
    means = f"{then}, {likely(then_probability)}"
    return Outcome(outcome=outcome, means=means, probability=probability, adds=adds, then=then, then_probability=then_probability)


def worth(gain_bits: float, asked_bits: float, effort: float) -> str:
    """What a check costs and what it brings, by the share of the open question that it is expected to answer.

    >>> worth(1.1, 1.2, 1), worth(0.5, 1.2, 5), worth(0.1, 1.2, 60)
    ('takes a minute and should settle it', 'takes 5 minutes and narrows it down', 'takes an hour and helps a little')
    """
    share = gain_bits / asked_bits if asked_bits > 0 else 0.0
    brings = "should settle it" if share >= 0.8 else "narrows it down" if share >= 0.25 else "helps a little"  # display
    return f"takes {minutes(effort)} and {brings}"
