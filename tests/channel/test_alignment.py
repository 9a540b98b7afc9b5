"""What each token stands for once the text is known, and what a second look would show."""

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.channel.alignment import doubtful, stands_for, usual
from kb.channel.compiled import compile_readings
from kb.channel.reading import Reading
from kb.channel.wear import confusion
from kb.words.notation import ALPHABET

A = Assumptions()


@pytest.mark.parametrize(("reading", "text"), [("H4?2", "H412"), ("69?1", "6991"), ("4?2", "4712"), ("44?2", "412"), ("*4?", "B41"), ("H[38]", "H3")])
def test_every_token_stands_for_some_character_of_the_text(reading: str, text: str) -> None:
    parsed = Reading.parse(reading)
    found = stands_for(compile_readings([parsed], ["worn"], A).parts[0], text)
    for row, token in zip(found, parsed.tokens, strict=True):
        assert row.sum() == pytest.approx(0 if token == "*" else 1)
        assert {ALPHABET[i] for i in np.flatnonzero(row)} <= set(text)


def test_a_lost_character_shifts_the_others() -> None:
    found = stands_for(compile_readings([Reading.parse("1?4")], ["worn"], A).parts[0], "1234")
    likely = {ALPHABET[i]: share for i, share in enumerate(found[1]) if share > 0}
    assert set(likely) == {"2", "3"} and likely["2"] == pytest.approx(likely["3"], rel=0.02)


def test_a_text_that_cannot_be_it_teaches_nothing() -> None:
    assert not stands_for(compile_readings([Reading.parse("12")], ["clean"], A).parts[0], "123").any()


def test_what_is_worth_a_second_look() -> None:
    assert doubtful(Reading.parse("2?5"), None) == [0, 1, 2]
    assert doubtful(Reading.parse("2?5"), "clean") == [1]
    assert doubtful(Reading.parse("*2[38]"), None) == [1, 2]
    assert doubtful(Reading.parse("245"), None) == []


def test_what_a_token_usually_stands_for() -> None:
    table = confusion("worn", A)
    assert usual("?", table) == pytest.approx(np.full(36, 1 / 36))
    three = usual("3", table)
    assert three.argmax() == 3 and three[8] > three[ALPHABET.index("L")]
