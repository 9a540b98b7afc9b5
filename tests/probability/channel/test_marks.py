"""The index of marks: every weight equals that of the mark alone."""

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.marks import MarkIndex
from kb.probability.channel.reading import Reading
from kb.words.errors import DataError
from tests.probability.channel.alignments import text_weight

A = Assumptions()
TEXTS = st.lists(st.text(alphabet="0169HB", min_size=1, max_size=7), max_size=30)
READING = st.lists(st.sampled_from(["?", "*", "[06]", "[1H]", "0", "6", "9", "H", "B"]), min_size=1, max_size=7).map("".join)


@given(TEXTS, st.lists(READING, min_size=1, max_size=2))
def test_every_mark_has_the_weight_it_has_alone(texts: list[str], readings: list[str]) -> None:
    wears = [None] * len(readings)
    found = MarkIndex.of(texts).weights(compile_readings([Reading.parse(each) for each in readings], wears, A))
    assert found.shape == (len(texts),)
    assert found == pytest.approx([text_weight(readings, wears, text) for text in texts], rel=1e-12, abs=0)


@given(TEXTS)
def test_an_index_survives_being_stored(texts: list[str]) -> None:
    index = MarkIndex.of(texts)
    again = MarkIndex.from_bytes(index.to_bytes())
    compiled = compile_readings([Reading.parse("H*0")], [None], A)
    assert again.texts == tuple(texts)
    assert again.to_bytes() == index.to_bytes()
    assert np.array_equal(again.weights(compiled), index.weights(compiled))


@pytest.mark.parametrize("texts", [[""], ["H41", "h41"], ["H 41"], ["Ä1"], ["H\0"], ["\0"]])
def test_a_text_out_of_normal_form_is_refused(texts: list[str]) -> None:
    with pytest.raises(DataError):
        MarkIndex.of(texts)


@pytest.mark.parametrize("reading", ["H41?0B1234", "H4*34", "*1[38]4*", "*?*?*?*"])
def test_a_hundred_thousand_marks_weigh_what_each_weighs_alone(reading: str) -> None:
    chance = random.Random(5)
    texts = ["".join(chance.choices("0123456789HBKM", k=10)) for _ in range(100_000)]
    compiled = compile_readings([Reading.parse(reading)], [None], A)
    alone = [compiled.weight(text) for text in texts[:500]]
    assert MarkIndex.of(texts).weights(compiled)[:500] == pytest.approx(alone, rel=1e-12, abs=0)
