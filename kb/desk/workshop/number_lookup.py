"""Which blocks a serial may be in, and what its castings may have left the works as, taking every character read at its word.

No probabilities and no misreading: this is what the field guide answers without the knowledge base, in the same sets. Whoever has a worn
reading asks `identify`. Serials are walked digit by digit, never one by one.
"""

from collections.abc import Iterable, Iterator
from typing import Any

from kb.desk.posterior.built_ranges import stretches
from kb.desk.posterior.maker_model import MakerModel
from kb.desk.sentences.names import model_name
from kb.probability.channel.digits import PrintedForm
from kb.probability.channel.reading import Reading
from kb.words.answers.workshop import RemainingBlock

State = tuple[int, bool, bool]  # tokens used up, still at the lowest number, still at the highest


def series_of(frame: MakerModel) -> list[dict[str, Any]]:
    """Everything the look-up needs, as plain values: series, their blocks, and by component the stretches with their variants.

    A series with check characters is only named: they are not worked out here.
    """
    book = frame.book
    found: list[dict[str, Any]] = []
    for row in frame.series:
        own = next((own for own in frame.own.values() if any(line.series_id == row.series_id for line in own.x.lines)), None)
        cells = own.x if own is not None else frame.u
        mine = [number for number, (line, _) in enumerate(cells.blocks) if line.series_id == row.series_id]
        series: dict[str, Any] = {
            "series": row.series_id, "name": row.name, "stamped_on": row.stamped_on, "checked": bool(row.check), "blocks": [], "castings": [],
        }  # fmt: skip
        found.append(series)
        if row.check:
            continue
        position = {number: i for i, number in enumerate(mine)}
        for number in mine:
            line, place = cells.blocks[number]
            block, form = line.blocks[place], line.form(place)
            names = [model_name(book, frame.maker_id, model) for model, _ in block.models if model]
            built = book.blocks[block.block_id]
            series["blocks"].append({
                "block": block.block_id, "name": " or ".join(names) or "model not recorded",
                "built": " to ".join(dict.fromkeys(filter(None, (built.built_from, built.built_to)))), "ways": _ways(form, block.first, block.last),
            })  # fmt: skip
        for component in frame.components.values():
            by_own = frame.by_own_number(component.component_id)
            if by_own is not (own is not None) or (own is not None and frame.own.get(component.assembly) is not own):
                continue
            _, parts = stretches(frame, component.component_id)
            rows = [
                [position[part.block], str(part.first), str(part.last), sorted(v for v in part.variants if v)]
                for part in parts
                if part.block in position
            ]
            if any(variants for *_, variants in rows):
                called = {v.variant_id: v.name for v in book.variants_of.get(component.component_id, [])}
                series["castings"].append({"component": component.component_id, "name": component.name, "variants": called, "stretches": rows})
    return found


def _ways(form: PrintedForm, first: int, last: int) -> list[list[Any]]:
    """How a block's numbers may be written: [before, after, digits, lowest, highest], for each affix and count of digits."""
    shortest = 1 if form.width else len(str(first))
    lengths = range(shortest, max(form.width or 0, len(str(last))) + 1)
    ways: list[list[Any]] = []
    for digits in lengths:
        padded = form.width is not None and digits <= form.width
        low, high = max(first, 0 if padded else 10 ** (digits - 1)), min(last, 10**digits - 1)
        if low <= high:
            ways += [
                [before + form.prefix, form.suffix + after, digits, str(low), str(high)]
                for before in ("", *form.affixes_before)
                for after in ("", *form.affixes_after)
            ]
    return ways


def remaining(series: Iterable[dict[str, Any]], reading: Reading) -> list[RemainingBlock]:
    """The blocks that have a serial which can be read exactly so, each with the variants that such serials may have left the works with.

    Args:
        series: as `series_of` gives them.
    """
    found = []
    for each in series:
        for position, block in enumerate(each["blocks"]):
            if not _any(reading, block["ways"], "0", "9" * 20):
                continue
            castings = {}
            for casting in each["castings"]:
                variants = {
                    variant
                    for of, first, last, names in casting["stretches"]
                    if of == position and _any(reading, block["ways"], first, last)
                    for variant in names
                }
                castings[casting["component"]] = sorted(variants)
            found.append(RemainingBlock(series=each["series"], block=block["block"], name=block["name"], castings=castings))
    return found


def _any(reading: Reading, ways: Iterable[list[Any]], first: str, last: str) -> bool:
    """Whether some serial first..last, written in one of the ways, can be read so."""
    for before, after, digits, low, high in ways:
        lowest, highest = str(max(int(low), int(first))).zfill(digits), str(min(int(high), int(last))).zfill(digits)
        if len(lowest) <= digits and lowest <= highest and _written(reading.tokens, before, after, lowest, highest):
            return True
    return False


def _written(tokens: tuple[str, ...], before: str, after: str, lowest: str, highest: str) -> bool:
    """Whether the tokens can be: a text, a number from lowest to highest (of as many digits), a text."""
    states: set[State] = {(used, True, True) for used in _past_gaps(tokens, [0])}
    for character in before:
        states = {(used, low, high) for state, low, high in states for used in _take(tokens, state, character)}
    for at in range(len(lowest)):
        following: set[State] = set()
        for used, low, high in states:
            for digit in _digits(lowest[at] if low else "0", highest[at] if high else "9"):
                for reached in _take(tokens, used, digit):
                    following.add((reached, low and digit == lowest[at], high and digit == highest[at]))
        states = following
    for character in after:
        states = {(used, low, high) for state, low, high in states for used in _take(tokens, state, character)}
    return any(used == len(tokens) for used, _, _ in states)


def _digits(low: str, high: str) -> Iterator[str]:
    yield from (str(digit) for digit in range(int(low), int(high) + 1))


def _take(tokens: tuple[str, ...], used: int, character: str) -> list[int]:
    """Tokens used up after one more character."""
    if used == len(tokens):
        return []
    token = tokens[used]
    if token == "*":
        return _past_gaps(tokens, [used])
    return _past_gaps(tokens, [used + 1]) if token == "?" or character in token else []


def _past_gaps(tokens: tuple[str, ...], used: list[int]) -> list[int]:
    """The same, and behind a `*` that stands for nothing."""
    found = list(used)
    for at in found:
        if at < len(tokens) and tokens[at] == "*" and at + 1 not in found:
            found.append(at + 1)
    return found
