"""What a text may mean here: a part, a unit's serial, a casting number, a model, a component, or words of a description.

Names and numbers come first, then readings, then words and measures, then what may have been meant by it.
"""

from collections.abc import Callable, Iterator

from kb.desk.sentences.names import model_name
from kb.desk.sentences.numbers import span
from kb.probability.channel.reading import Reading
from kb.store import lookups
from kb.store.book import Book
from kb.words.addresses import address, part_path, step
from kb.words.answers.catalogue import Meaning, Meanings
from kb.words.answers.identification import CastingAnswer, Identification
from kb.words.answers.trade import PartSearch
from kb.words.errors import KbError, QuestionError
from kb.words.evidence import Evidence
from kb.words.notation import simplify
from kb.words.pieces import LONGEST

MOST_FOUND = 12  # of things found by their words
LONGEST_TEXT = 200


def meanings(
    book: Book, text: str, identify: Callable[[Evidence], Identification], casting: Callable[[str], CastingAnswer], find: Callable[[str], PartSearch]
) -> Meanings:
    """Everything that a text may mean.

    Args:
        identify, casting, find: what answers for it as a serial, as a casting number and as a part.

    Raises:
        QuestionError: there is no text, or too much.
    """
    text = text.strip()
    if not text:
        raise QuestionError("Nothing was typed.", "Type a serial, a casting number, a part number or a name, as in 6104.")
    if len(text) > LONGEST_TEXT:
        raise QuestionError(f"That is longer than {LONGEST_TEXT} characters.", "Type one number or name at a time.")
    named = [*_parts(book, text), *_named(book, text)]
    return Meanings(asked=text, meanings=named + _read(book, text, identify, casting) or [*_worded(book, text)] or _parts_like(find(text)))


def _part(kind: str, number: str, what: str, probability: float | None = None) -> Meaning:
    return Meaning.model_validate(
        {"kind": kind, "what": what, "subject": "part", "id": number, "address": part_path(number), "probability": probability}
    )


def _parts(book: Book, text: str) -> Iterator[Meaning]:
    for number, description in lookups.parts_numbered(book, simplify(text), MOST_FOUND):
        yield _part("part", number, f"{number}, {description}")


def _named(book: Book, text: str) -> Iterator[Meaning]:
    wanted = simplify(text)
    for model in book.models.values():
        if wanted in (simplify(model.name), simplify(model.model_id)):
            what, at = model_name(book, model.maker_id, model.model_id), f"/models/{step(model.model_id)}"
            yield Meaning(kind="model", what=what, subject="model", id=model.model_id, address=at)
    for component in book.components.values():
        if wanted in (simplify(component.name), simplify(component.component_id)):
            what = f"{component.name}, {str(book.makers[component.maker_id].name).split(',')[0]}"
            yield Meaning(kind="component", what=what, subject="component", id=component.component_id, address=_compare(component.component_id))


def _compare(component_id: str) -> str:
    return f"/compare/{step(component_id)}"


def _read(book: Book, text: str, identify: Callable[[Evidence], Identification], casting: Callable[[str], CastingAnswer]) -> list[Meaning]:
    """What the text is as a worn number: of a unit, of a casting."""
    if len(text) > LONGEST or not any(character.isdigit() for character in text):
        return []
    try:
        reading = Reading.parse(text)
    except KbError:
        return []
    if not any(len(token) == 1 and token.isalnum() for token in reading.tokens):
        return []
    found = [*_as_serial(book, text, identify), *_as_casting(text, casting)]
    return sorted(found, key=lambda meaning: -(meaning.probability or 0))


def _as_serial(book: Book, text: str, identify: Callable[[Evidence], Identification]) -> Iterator[Meaning]:
    try:
        unit = identify(Evidence(serial=(text,)))
    except KbError:
        return  # it cannot be a serial
    if not unit.unknown and unit.units:
        first = unit.units[0]
        what = f"{model_name(book, first.maker, first.model)}, no. {span(first.serial_first, first.serial_last)}"
        known = 1 - unit.not_in_knowledge_base
        yield Meaning(kind="serial", what=what, subject="unit", id=text, address=address("/identify", [("serial", text)]), probability=known)


def _as_casting(text: str, casting: Callable[[str], CastingAnswer]) -> Iterator[Meaning]:
    try:
        answer = casting(text)
    except KbError:
        return  # it cannot be a casting number
    if not answer.unknown and answer.matches:
        what = f"{answer.matches[0].text}, {answer.matches[0].name}"
        known = 1 - answer.not_in_knowledge_base
        yield Meaning(kind="casting", what=what, subject="casting", id=text, address=address("/castings", [("mark", text)]), probability=known)


def _worded(book: Book, text: str) -> Iterator[Meaning]:
    """Parts, components, variants and models whose description has all the words; the last word may be a beginning."""
    words = "".join(c if c.isalnum() else " " for c in text).split()
    if not words:
        return
    for number in lookups.with_words(book, "parts", "part_number", words, MOST_FOUND):
        yield _part("words", number, f"part {number}, {lookups.description_of(book, number)}")
    for each in lookups.with_words(book, "components", "component_id", words, MOST_FOUND):
        component = book.components[each]
        what = f"component {component.name}, {book.makers[component.maker_id].name}"
        yield Meaning(kind="words", what=what, subject="component", id=each, address=_compare(each))
    for each in lookups.with_words(book, "variants", "variant_id", words, MOST_FOUND):
        variant = book.variants[each]
        what = f"variant {variant.name} of the {book.components[variant.component_id].name}"
        yield Meaning(kind="words", what=what, subject="component", id=variant.component_id, address=_compare(variant.component_id))
    for each in lookups.with_words(book, "models", "model_id", words, MOST_FOUND):
        yield Meaning(kind="words", what=f"model {book.models[each].name}", subject="model", id=each, address=f"/models/{step(each)}")


def _parts_like(found: PartSearch) -> list[Meaning]:
    """Parts of such measures ("35 x 52 x 7"); else those whose number is a slip away: what may have been meant, never taken for it."""
    by_measure = [_part("words", part.part_number, f"part {part.part_number}, {part.description}") for part in found.parts]
    near = [_part("near", each.part_number, f"{each.part_number}, {each.description} ({each.slip})", each.probability) for each in found.near]
    return by_measure[:MOST_FOUND] or near
