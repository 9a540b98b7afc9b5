"""The certified search against weighing every text."""

import os

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.channel.compiled import compile_readings
from kb.channel.marks import MANY, MarkIndex
from kb.channel.reading import Reading
from kb.words.errors import FileError
from kb.words.notation import ALPHABET

A = Assumptions()
SIZE, READINGS = (100_000, 2_000) if os.environ.get("KB_CAMPAIGN") else (20_000, 120)


def dense(count: int, rng: np.random.Generator) -> list[str]:
    """Families of neighbouring numbers, some with a letter behind: 5 to 9 characters."""
    texts: set[str] = set()
    while len(texts) < count:
        head = "".join(rng.choice(list(ALPHABET[10:]), rng.integers(0, 4)))
        width = max(int(rng.integers(3, 6)), 5 - len(head))
        start, size = int(rng.integers(10 ** (width - 1), 9 * 10 ** (width - 1))), int(rng.choice([20, 80, 300]))
        for number in range(start, min(start + size, 10**width)):
            texts |= {f"{head}{number}{letter}" for letter in ["", *"ABC"[: rng.integers(0, 3)]] if rng.random() < 0.7}
    return sorted(texts)[:count]


def worn(text: str, rng: np.random.Generator) -> str:
    """A reading of a text by a process of its own: not the table's."""
    characters = list(text)
    if rng.random() < 0.05:
        characters.pop(rng.integers(len(characters)))
    if rng.random() < 0.05:
        at = int(rng.integers(len(characters)))
        characters.insert(at, characters[at])
    tokens = []
    for character in characters:
        kind = rng.random()
        other = ALPHABET[rng.integers(10) if character.isdigit() else rng.integers(10, 36)]
        tokens.append("?" if kind < 0.12 else other if kind < 0.22 else f"[{character}{other}]" if kind < 0.27 and other != character else character)
    if rng.random() < 0.2:
        lost = int(rng.integers(1, 4))
        tokens = ["*", *tokens[lost:]] if rng.random() < 0.5 else [*tokens[:-lost], "*"]
    return "".join(tokens)


@pytest.fixture(scope="module")
def index() -> MarkIndex:
    return MarkIndex.of(dense(SIZE, np.random.default_rng(1)))


def test_the_best_ten_are_those_of_weighing_every_text(index: MarkIndex) -> None:
    rng = np.random.default_rng(2)
    sums = []
    for at in rng.integers(0, len(index.texts), READINGS):
        compiled = compile_readings([Reading.parse(worn(index.texts[at], rng))], ["worn"], A)
        found, every = index.best(compiled), index.weights(compiled)
        assert found.weights[:10] == pytest.approx(np.sort(every)[::-1][:10], rel=1e-12)
        assert every[found.texts] == pytest.approx(found.weights, rel=1e-12)
        missed = np.delete(every, found.texts)
        if len(found.weights) >= 50:
            assert missed.max() <= 0.2501 * found.weights[49]
        sums.append((found.weights.sum() + found.rest) / every.sum())
    assert np.quantile(sums, [0.05, 0.5, 0.95]) == pytest.approx([1, 1, 1], abs=0.03)


@pytest.mark.parametrize("reading", ["*", "?", "*1*", "?????", "16?9", "*[38]", "ZZZZZZZZ"])
def test_readings_that_leave_much_open_are_searched_exactly_too(index: MarkIndex, reading: str) -> None:
    compiled = compile_readings([Reading.parse(reading)], ["badly-worn"], A)
    every = np.sort(index.weights(compiled))[::-1]
    found = index.best(compiled, 10, 1.0)
    assert found.weights[:10] == pytest.approx(every[: len(found.weights)][:10], rel=1e-12, abs=0)
    assert len(found.weights) >= min(10, np.count_nonzero(every))


def test_a_stored_index_finds_the_same_and_damage_is_noticed(index: MarkIndex) -> None:
    data = index.to_bytes()
    again = MarkIndex.from_bytes(data)
    assert again.texts == index.texts and again.to_bytes() == data
    compiled = compile_readings([Reading.parse("1[38]?41*")], [None], A)
    one, other = index.best(compiled), again.best(compiled)
    assert (one.texts.tolist(), one.weights.tolist(), one.rest) == (other.texts.tolist(), other.weights.tolist(), other.rest)
    for at in (5, len(data) // 2, len(data) - 1):
        with pytest.raises(FileError, match="is damaged. Build it again"):
            MarkIndex.from_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])


def test_a_small_catalogue_is_weighed_text_by_text() -> None:
    index = MarkIndex.of([f"H{number}" for number in range(4000, 4000 + MANY - 1)])
    found = index.best(compile_readings([Reading.parse("H4?20")], [None], A))
    assert (found.rest, found.nodes) == (0.0, MANY - 1)
    assert b'"trees": []' in index.to_bytes()
