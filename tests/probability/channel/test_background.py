"""Evidence for "not in this knowledge base", against the sum over all texts one after the other."""

from itertools import product
from math import fsum

import pytest

from kb.assumptions import Assumptions
from kb.probability.channel.alignment import rereadable, shown_again
from kb.probability.channel.automaton import compile_readings, looked_again
from kb.probability.channel.background import TextModel
from kb.probability.channel.reading import Reading
from kb.words.errors import DataError
from kb.words.notation import ALPHABET
from tests.enumerator import unknown
from tests.enumerator.readings import see
from tests.probability.channel.alignments import COMPLETE, text_weight

A = Assumptions()
LEARNED = {"H41": 2.0, "H4": 1.0, "B107": 0.5, "169": 1.0, "66": 3.0}
MODEL = TextModel.learn(LEARNED, A)
BRIEF = TextModel.learn({**dict.fromkeys(ALPHABET, 20.0), "H4": 9.0, "16": 5.0, "H41": 2.0}, A)  # long texts are rare: sums over lengths end soon


def chance_of(text: str, learned: dict[str, float] = LEARNED) -> float:
    """P(text | not in this knowledge base) as the page says it, text by text."""

    def count(*neighbours: str) -> float:
        pairs = [(pair, weight) for known, weight in learned.items() for pair in zip(["<", *known], [*known, ">"], strict=True)]
        return fsum(weight for pair, weight in pairs if pair[: len(neighbours)] == neighbours)

    bigram = 1.0
    for state, then in zip(["<", *text], [*text, ">"], strict=True):
        bigram *= (count(state, then) + 0.5) / (count(state) + 0.5 * (36 if state == "<" else 37))
    pattern = [character.isdigit() for character in text]
    alike = fsum(weight for known, weight in learned.items() if [character.isdigit() for character in known] == pattern)
    shape = alike / fsum(learned.values()) if learned else bigram
    for digit in pattern if learned else []:
        shape *= 1 / 10 if digit else 1 / 26
    return 0.5 * bigram + 0.5 * shape


def evidence(tokens: tuple[str, ...], wear: str, model: TextModel = MODEL) -> float:
    """Tokens may be more than 64: this is about sums, not about what is typed."""
    return model.evidence(compile_readings([Reading("", tokens, False)], [wear], COMPLETE))


@pytest.mark.parametrize("reading", ["H4", "?", "6", "H?", "[H1]4", "16", "6?", "H4?", "6[69]1", "B10"])
def test_without_a_star_it_is_the_sum_over_all_texts_of_that_length(reading: str) -> None:
    parsed = Reading.parse(reading)
    texts = map("".join, product(ALPHABET, repeat=len(parsed.tokens)))
    expected = fsum(chance * text_weight([reading], [None], text, COMPLETE) for text in texts if (chance := chance_of(text)))
    assert MODEL.evidence(compile_readings([parsed], [None], COMPLETE)) == pytest.approx(expected, rel=1e-10)


def test_with_nothing_to_learn_from_all_rests_on_the_flat_bigram() -> None:
    empty = TextModel.learn({}, A)
    assert evidence(("?",), "worn", empty) == pytest.approx(36 * chance_of("A", {}))
    assert evidence(("?", "?"), "worn", empty) == pytest.approx(36 / 37 * 1 / 37)


def test_all_texts_together_are_certain() -> None:
    assert evidence(("*",), "worn") == pytest.approx(1, rel=1e-12)
    assert fsum(evidence(("?",) * length, "worn", BRIEF) for length in range(1, 90)) == pytest.approx(1, rel=1e-12)


@pytest.mark.parametrize("tokens", [("H", "*"), ("*", "4"), ("1", "*", "6"), ("H", "*", "[14]", "?"), ("*", "6")])
def test_a_star_is_the_sum_over_all_lengths_of_what_is_missing(tokens: tuple[str, ...]) -> None:
    tokens = tuple(token.strip("[]") for token in tokens)
    star = tokens.index("*")
    spelt = (evidence((*tokens[:star], *["?"] * missing, *tokens[star + 1 :]), "badly-worn", BRIEF) for missing in range(90))
    assert evidence(tokens, "badly-worn", BRIEF) == pytest.approx(fsum(spelt), rel=1e-12)


def test_two_stars_count_every_alignment() -> None:
    spelt = fsum(length * evidence(("?",) * length, "worn", BRIEF) for length in range(1, 90))
    assert evidence(("*", "?", "*"), "worn", BRIEF) == pytest.approx(spelt, rel=1e-12)


@pytest.mark.parametrize("reading", ["H4?", "6[69]1", "4", "?1?4B", "H41*", "[38]0", "16"])
def test_slips_of_worn_readings_are_summed_too(reading: str) -> None:
    expected = unknown.unknown_weight(see(reading, "badly-worn", A), unknown.learn(LEARNED, A), A)
    assert MODEL.evidence(compile_readings([Reading.parse(reading)], ["badly-worn"], A)) == pytest.approx(expected, rel=1e-11)


def test_several_readings_multiply_under_the_common_exponent() -> None:
    both = compile_readings([Reading.parse("H4?"), Reading.parse("66")], [None, "worn"], COMPLETE)
    flat = COMPLETE.override(sharpness=COMPLETE.sharpness / 1.5)
    single = [MODEL.evidence(compile_readings([Reading.parse(text)], ["worn"], flat)) for text in ("H4?", "66")]
    assert MODEL.evidence(both) == pytest.approx(single[0] * single[1], rel=1e-12)


@pytest.mark.parametrize("reading", ["H4?", "[46]6", "6?9", "4*6", "*6?*9", "6?9[69]"])
@pytest.mark.parametrize("wear", ["clean", "worn"])
def test_what_a_second_look_would_show_is_what_each_character_would_weigh_once_told(reading: str, wear: str) -> None:
    compiled = compile_readings([Reading.parse(reading)], [wear], A)
    part, read = compiled.parts[0], compiled.readings[0]
    shown = shown_again(part, read, MODEL.standing(part), A)
    for position, token in enumerate(rereadable(read)):
        told = [MODEL.evidence(looked_again(compiled, 0, {token: character}, A)) for character in ALPHABET]
        assert shown[position] == pytest.approx(told, rel=1e-9)


def test_a_model_survives_being_stored_and_equal_ones_give_equal_bytes() -> None:
    again = TextModel.from_bytes(MODEL.to_bytes())
    assert again.to_bytes() == MODEL.to_bytes() == TextModel.learn(dict(reversed(LEARNED.items())), A).to_bytes()
    assert evidence(("H", "*"), "worn", again) == evidence(("H", "*"), "worn")


def test_a_text_out_of_normal_form_is_refused() -> None:
    with pytest.raises(DataError, match="Use the normal form"):
        TextModel.learn({"h 41": 1}, A)
