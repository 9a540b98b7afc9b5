"""The weight of a text under readings, against the recursion over all alignments."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.reading import Reading
from kb.words.errors import DataError
from tests.probability.channel.alignments import EVEN, text_weight

A = Assumptions()
TOKEN = st.sampled_from(["?", "*", "[38]", "[69]", "[1A]", "0", "1", "6", "9", "3", "H", "B", "M"])
READING = st.lists(TOKEN, min_size=1, max_size=8).map("".join)
TEXT = st.text(alphabet="01369HBM8", min_size=1, max_size=9)
WEAR = st.sampled_from([None, "clean", "worn", "badly-worn"])


@given(st.lists(st.tuples(READING, WEAR), min_size=1, max_size=3), TEXT)
def test_alignments_are_summed(readings: list[tuple[str, str | None]], text: str) -> None:
    typed, wears = zip(*readings, strict=True)
    found = compile_readings([Reading.parse(each) for each in typed], wears, A).weight(text)
    assert found == pytest.approx(text_weight(typed, wears, text), rel=1e-12, abs=0)


@pytest.mark.parametrize(("reading", "text", "weight"), [
    ("12", "12", 0.998**2),
    ("12", "13", 0.998 * 0.002 / 35),
    ("12", "123", 0),
    ("4?", "47", 0.88),
    ("[38]", "3", 0.88 + 0.12 / 35),
    ("[38]", "5", 2 * 0.12 / 35),
    ("*", "ANYTHING", 1),
    ("*?*", "1234", 4),  # which of the four was seen
    ("16", "16", 0.99 * 0.998**2 + 0.01 * (0.002 / 35) ** 2),
    ("16", "91", 0.01 * 0.998**2 + 0.99 * (0.002 / 35) ** 2),
])  # fmt: skip
def test_worked_by_hand(reading: str, text: str, weight: float) -> None:
    assert compile_readings([Reading.parse(reading)], [None], EVEN).weight(text) == pytest.approx(weight, rel=1e-12, abs=0)


def test_two_readings_share_the_wear() -> None:
    twice = compile_readings([Reading.parse("25"), Reading.parse("2?")], [None, None], EVEN).weight("25")
    assert twice == pytest.approx((0.998**2) ** (1 / 1.5) * 0.88 ** (1 / 1.5), rel=1e-12)


def test_sharpness_is_an_exponent_on_the_entries() -> None:
    flat = compile_readings([Reading.parse("2*[38]")], [None], EVEN.override(sharpness=0.5))
    assert flat.weight("2003") == pytest.approx(0.88**0.5 * (0.88 + 0.12 / 35) ** 0.5, rel=1e-12)


@pytest.mark.parametrize(("reading", "wear", "text", "weight"), [
    ("12?4", None, "1234", 0.88**3),
    ("124", "worn", "1234", 0.88**3 * 0.004),  # the 3 was not noticed; "worn" because so given
    ("?234", None, "51234", 0.88**3 * (0.01 + 0.004)),  # the 5 broken off, or the 1 lost
    ("?1", None, "7771", 0.88 * 0.01 * 0.3),  # two broken off at the head
    ("1?", None, "1777", 0.88 * 0.01 * 0.3),
    ("1??2", None, "132", 3 * 0.88**2 * 0.002),  # any of the three taken for two
    ("33", "worn", "3", 0.002 * 0.88**2),
])  # fmt: skip
def test_slips_worked_by_hand(reading: str, wear: str | None, text: str, weight: float) -> None:
    slipping = EVEN.override(lost=A.lost, doubled=A.doubled, end_lost=A.end_lost, end_lost_more=0.3)
    found = compile_readings([Reading.parse(reading)], [wear], slipping).weight(text)
    assert found == pytest.approx(weight, rel=0.02, abs=1e-9)  # what a misreading besides the slip adds is below 2 %


def test_an_unknown_wear_is_refused() -> None:
    with pytest.raises(DataError, match='"rusty" is not a level of wear. Use one of: clean, worn, badly-worn.'):
        compile_readings([Reading.parse("2")], ["rusty"], A)


def test_a_text_out_of_normal_form_is_refused() -> None:
    with pytest.raises(DataError, match="Use the normal form"):
        compile_readings([Reading.parse("2")], [None], A).weight("2-")
