"""The certified search against weighing every text."""

import os

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.probability.channel import search
from kb.probability.channel.automaton import ReadingAutomata, compile_readings
from kb.probability.channel.marks import MANY, MarkIndex
from kb.probability.channel.packed_trie import NONE, Tree, reverse
from kb.probability.channel.reading import Reading
from kb.probability.channel.trie import codes_of
from kb.words.errors import FileError
from kb.words.notation import ALPHABET

A = Assumptions()
CAMPAIGN = "KB_CAMPAIGN" in os.environ
SIZES = [(100_000, 10_000), (1_000_000, 1_000)] if CAMPAIGN else [(20_000, 150)]  # texts, readings


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


def trees(texts: list[str]) -> tuple[Tree, Tree]:
    codes = codes_of(texts, ALPHABET)
    codes[codes < 0] = NONE
    return Tree.grow(codes.astype(np.uint8)), Tree.grow(reverse(codes.astype(np.uint8)))


def read(typed: str, wear: str = "worn") -> ReadingAutomata:
    return compile_readings([Reading.parse(typed)], [wear], A)


@pytest.fixture(scope="module")
def texts() -> list[str]:
    return dense(20_000, np.random.default_rng(1))


@pytest.mark.parametrize(("size", "readings"), SIZES)
def test_the_best_ten_are_those_of_weighing_every_text(size: int, readings: int) -> None:
    """Texts that weigh the same may change places: it is the ten weights that must be equal, and each must be that of its text."""
    rng = np.random.default_rng(2)
    texts = dense(size, rng)
    index, pair = MarkIndex.of(texts), trees(texts)
    equal = 0
    sums: list[float] = []
    stated: list[float] = []
    for at in rng.integers(0, size, readings):
        compiled = read(worn(texts[at], rng))
        every = index.weights(compiled)
        ten = np.sort(every[np.argpartition(every, size - 10)[size - 10 :]])[::-1]
        ten = ten[ten > 0]
        only = search.best(*pair, compiled.parts[0], 10, 1.0, 1.0)
        found = search.best(*pair, compiled.parts[0], 50, 0.1)
        equal += all(
            len(each.weights) >= len(ten)
            and np.allclose(each.weights[: len(ten)], ten, rtol=1e-12, atol=0)
            and np.allclose(every[each.texts], each.weights, rtol=1e-12, atol=0)
            for each in (only, found)
        )
        every[found.texts] = 0  # what is left was not told
        assert len(found.weights) < 50 or every.max() <= found.weights[49] * 0.1 * (1 + 1e-9)
        total, exactly = found.weights.sum() + found.rest, found.weights.sum() + every.sum()
        sums.append(abs(total / exactly - 1))
        stated.append(abs(found.weights[0] / total - ten[0] / exactly))
    assert equal >= 0.9995 * readings
    off = {"sum": np.quantile(sums, [0.5, 0.95, 1]).round(5), "probability of the best": np.quantile(stated, [0.5, 0.95, 0.999, 1]).round(5)}
    assert np.quantile(sums, 0.95) <= 0.1, off
    assert np.quantile(stated, 0.95) <= 0.01, off


@pytest.mark.parametrize("reading", ["*", "?", "*1*", "?????", "16?9", "*[38]", "ZZZZZZZZ"])
def test_readings_that_leave_much_open_are_searched_exactly_too(texts: list[str], reading: str) -> None:
    compiled = read(reading, "badly-worn")
    every = np.sort(MarkIndex.of(texts).weights(compiled))[::-1]
    found = search.best(*trees(texts), compiled.parts[0], 10, 1.0, 1.0)
    assert found.weights[:10] == pytest.approx(every[: len(found.weights)][:10], rel=1e-12, abs=0)
    assert len(found.weights) >= min(10, np.count_nonzero(every))


@pytest.mark.parametrize("most", [1, 7, 50])
def test_what_is_weighed_one_by_one_is_told_in_the_same_way(texts: list[str], most: int) -> None:
    every = MarkIndex.of(texts).weights(read("1[38]?41"))
    last = float(np.sort(every)[-most])
    one, other = search.heaviest(every, most, 0.3), search.heaviest(every, most, 0.3, last / 2)
    assert one.texts.tolist() == other.texts.tolist() == [i for i in np.argsort(-every, kind="stable").tolist() if every[i] >= 0.3 * last]
    assert one.weights.sum() + one.rest == pytest.approx(every.sum(), rel=1e-12)
    assert search.heaviest(np.zeros(5), 2, 0.3).texts.tolist() == []


def test_where_too_much_would_be_an_estimate_every_text_is_weighed(texts: list[str]) -> None:
    compiled, pair = read("*41*"), trees(texts)
    every = MarkIndex.of(texts).weights(compiled)
    loose, strict = search.best(*pair, compiled.parts[0], 10, 1.0, 1.0), search.best(*pair, compiled.parts[0], 10, 1.0, 0.0)
    assert loose.nodes != strict.nodes == len(texts)
    assert strict.weights.sum() + strict.rest == pytest.approx(every.sum(), rel=1e-12)


def test_a_stored_index_finds_the_same_and_damage_is_noticed(texts: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("kb.probability.channel.marks.SEARCHED", 20_000)
    index = MarkIndex.of(texts)
    data = index.to_bytes()
    again = MarkIndex.from_bytes(data)
    assert again.texts == index.texts and again.to_bytes() == data
    compiled = read("1[38]?41*")
    one, other = index.best(compiled), again.best(compiled)
    assert (one.texts.tolist(), one.weights.tolist(), one.rest) == (other.texts.tolist(), other.weights.tolist(), other.rest)
    for at in (5, len(data) // 2, len(data) - 1):
        with pytest.raises(FileError, match="is damaged. Build it again"):
            MarkIndex.from_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])


def test_up_to_a_hundred_thousand_texts_every_one_is_weighed(texts: list[str]) -> None:
    small, large = MarkIndex.of(texts[: MANY - 1]), MarkIndex.of(texts)
    assert b'"trees": []' in small.to_bytes()
    again = MarkIndex.from_bytes(large.to_bytes())
    for index in (small, large, again):
        found = index.best(read("H4?20"))
        assert found.nodes == len(index.texts)
        assert found.weights.sum() + found.rest == pytest.approx(index.weights(read("H4?20")).sum(), rel=1e-12)
    assert np.array_equal(again.weights(read("H4?20")), large.weights(read("H4?20")))
