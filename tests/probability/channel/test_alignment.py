"""What each token stands for once the text is known, and what a second look would show."""

from dataclasses import replace

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.probability.channel.alignment import rereadable, seen_again, stands_for
from kb.probability.channel.automaton import compile_readings, looked_again
from kb.probability.channel.reading import Reading
from kb.words.errors import DataError
from kb.words.notation import ALPHABET

A = Assumptions()


@pytest.mark.parametrize(("reading", "text"), [("H4?2", "H412"), ("69?1", "6991"), ("4?2", "4712"), ("44?2", "412"), ("*4?", "B41"), ("H[38]", "H3")])
def test_every_token_stands_for_some_character_of_the_text(reading: str, text: str) -> None:
    parsed = Reading.parse(reading)
    found = stands_for(compile_readings([parsed], ["worn"], A).parts[0], [text])[1][0]
    for row, token in zip(found, parsed.tokens, strict=True):
        assert row.sum() == pytest.approx(0 if token == "*" else 1)
        assert {ALPHABET[i] for i in np.flatnonzero(row)} <= set(text)


def test_a_lost_character_shifts_the_others() -> None:
    found = stands_for(compile_readings([Reading.parse("1?4")], ["worn"], A).parts[0], ["1234"])[1][0]
    likely = {ALPHABET[i]: share for i, share in enumerate(found[1]) if share > 0}
    assert set(likely) == {"2", "3"} and likely["2"] == pytest.approx(likely["3"], rel=0.02)


def test_a_text_that_cannot_be_it_teaches_nothing() -> None:
    assert not stands_for(compile_readings([Reading.parse("12")], ["clean"], A).parts[0], ["123"])[1].any()


@pytest.mark.parametrize("reading", ["H4?2", "69?1", "6[69]1", "4?2", "*4?", "4?1*", "44?2"])
@pytest.mark.parametrize("wear", ["clean", "worn"])
def test_many_texts_at_once_are_as_one_by_one_and_as_a_change_of_the_table_tells(reading: str, wear: str) -> None:
    texts = ["H412", "6991", "412", "B41", "4", "41234", "169"]
    compiled = compile_readings([Reading.parse(reading)], [wear], A)
    part = compiled.parts[0]
    weights, found = stands_for(part, texts)
    assert weights == pytest.approx([compiled.weight(text) for text in texts], rel=1e-12)
    for text, weight, rows in zip(texts, weights, found, strict=True):
        assert stands_for(part, [text])[1][0] == pytest.approx(rows, rel=1e-12)
        for token in range(len(rows)):  # what is left of the weight if this token may not stand for that character
            for character in {ALPHABET.index(c) for c in text} if weight > 0 else ():
                entries = part.entries.copy()
                entries[character, (part.takes == token).any(axis=1)] = 0
                assert rows[token, character] == pytest.approx(1 - stands_for(replace(part, entries=entries), [text])[0][0] / weight, abs=1e-12)


def test_every_character_may_be_read_again_but_a_star() -> None:
    assert rereadable(Reading.parse("*2[38]?5")) == [1, 2, 3, 4]


@pytest.mark.parametrize("reading", ["H4?2", "H4[17]2", "H472", "*47", "6?9", "[69]1*", "6?9*6"])
@pytest.mark.parametrize("wear", ["clean", "worn"])
def test_what_a_second_look_shows_is_what_each_character_would_weigh_once_told(reading: str, wear: str) -> None:
    texts = ["H412", "H472", "H47", "4712", "47", "9", "619", "61", "669"]
    compiled = compile_readings([Reading.parse(reading)], [wear], A)
    weights, shown = seen_again(compiled.parts[0], compiled.readings[0], texts, A)
    for position, token in enumerate(rereadable(compiled.readings[0])):
        for code, character in enumerate(ALPHABET):
            again = looked_again(compiled, 0, {token: character}, A)
            assert [again.weight(text) for text in texts] == pytest.approx(weights * shown[position, :, code], rel=1e-9, abs=1e-18)


def test_a_second_look_at_a_number_that_may_stand_upside_down() -> None:
    compiled = compile_readings([Reading.parse("6?1")], ["worn"], A)  # turned: 1?9
    upright, turned = (looked_again(compiled, 0, {0: seen}, A) for seen in "69")
    assert upright.weight("601") > 50 * upright.weight("109")
    assert turned.weight("106") / turned.weight("601") > compiled.weight("106") / compiled.weight("601")


@pytest.mark.parametrize(
    ("place", "seen", "said"), [(4, "1", "has no character 5"), (0, "1", "has no character 1"), (1, "12", "is not one"), (1, "é", '"é"')]
)
def test_what_cannot_be_looked_at_again(place: int, seen: str, said: str) -> None:
    with pytest.raises(DataError, match=said):
        looked_again(compile_readings([Reading.parse("*412")], ["worn"], A), 0, {place: seen}, A)
