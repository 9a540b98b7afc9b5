"""The weight of stretches of serials, against the sum over their numbers one after the other."""

from collections.abc import Sequence
from math import fsum

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import Floats, ReadingAutomata, compile_readings
from kb.probability.channel.checkdigits import check_characters
from kb.probability.channel.digits import PrintedForm, format_serial, stretch_weights
from kb.probability.channel.intervals import Integers
from kb.probability.channel.range_weights import weigh_stretches
from kb.probability.channel.reading import Reading
from kb.words.errors import DataError
from tests.probability.channel.alignments import EVEN, serial_weight

A = Assumptions()
TOKEN = st.sampled_from(["?", "*", "[38]", "[01]", "0", "1", "6", "9", "3", "8", "H", "B"])
READINGS = st.lists(st.lists(TOKEN, min_size=1, max_size=7).map("".join), min_size=1, max_size=3)
FORM = st.builds(
    PrintedForm,
    prefix=st.sampled_from(["", "H", "10", "H0"]),
    suffix=st.sampled_from(["", "B", "0"]),
    width=st.sampled_from([None, 1, 3, 5]),
    affixes_before=st.sampled_from([(), ("E",), ("H", "0")]),
    affixes_after=st.sampled_from([(), ("R", "8B")]),
)


def weights(readings: Sequence[str], form: PrintedForm, *stretches: tuple[int, int], assumptions: Assumptions = A) -> list[float]:
    compiled = compile_readings([Reading.parse(each) for each in readings], [None] * len(readings), assumptions)
    first, last = np.array(stretches, dtype=np.int64).reshape(-1, 2).T
    return [float(each) for each in stretch_weights(compiled, form, first, last, A)]


def walked(readings: Sequence[str], form: PrintedForm, first: int, last: int) -> float:
    width = form.width or 0
    return fsum(serial_weight(readings, form, str(number).zfill(width)) for number in range(first, last + 1))


@given(READINGS, FORM, st.integers(0, 99_990), st.integers(0, 49))
def test_a_narrow_stretch_is_the_sum_over_its_numbers(readings: list[str], form: PrintedForm, first: int, more: int) -> None:
    assert weights(readings, form, (first, first + more)) == pytest.approx([walked(readings, form, first, first + more)], rel=1e-12, abs=0)


@given(READINGS, FORM, st.lists(st.integers(0, 1_000_000), min_size=2, max_size=6, unique=True))
def test_stretches_add_up(readings: list[str], form: PrintedForm, cuts: list[int]) -> None:
    cuts.sort()
    pieces = [(low, high - 1) for low, high in zip(cuts, cuts[1:], strict=False)]
    whole = weights(readings, form, (cuts[0], cuts[-1] - 1))
    assert [fsum(weights(readings, form, *pieces))] == pytest.approx(whole, rel=1e-12, abs=0)


@pytest.mark.parametrize("reading", ["2?5", "*[38]?", "00?", "*0", "12*", "0*1", "?*?", "H?*0"])
@pytest.mark.parametrize("width", [None, 2, 4])
def test_every_number_of_a_small_series(reading: str, width: int | None) -> None:
    form = PrintedForm("H" if reading.startswith("H") else "", "", width)
    found = weights([reading], form, (0, 2999), *((number, number) for number in range(3000)))
    alone = [walked([reading], form, number, number) for number in range(3000)]
    assert found[1:] == pytest.approx(alone, rel=1e-12, abs=0)
    assert found[0] == pytest.approx(fsum(alone), rel=1e-12)


@pytest.mark.parametrize(("reading", "form", "number", "weight", "why"), [
    ("412", PrintedForm("", "", 5), 412, 0.998**3, "both zeros may be missing"),
    ("0412", PrintedForm("", "", 5), 412, 0.998**4, "one zero may be missing"),
    ("H412", PrintedForm("H", "", 5), 412, 0.998**4, "after a prefix too"),
    ("0", PrintedForm("", "", 3), 0, 0.998, "one digit of 000 remains"),
    ("", PrintedForm("H", "", 3), 0, 0.0, "but not none"),
    ("412", PrintedForm("", "", None), 412, 0.998**3, "not padded"),
    ("00412", PrintedForm("", "", None), 412, 0.0, "not padded: no zeros to be seen"),
    ("*412", PrintedForm("", "", 5), 412, 0.88**3, "the star covers the zeros; nothing is counted twice"),
    ("H*412", PrintedForm("H", "", 5), 412, 0.88**4, "the same behind the prefix"),
    ("E412", PrintedForm("", "", 3, None, ("E", "R")), 412, 0.05 * 0.998**4 + 0.05 * 0.998**3 * 0.002 / 35, "one of two affixes"),
    ("412", PrintedForm("", "", 3, None, ("E",), ("R",)), 412, 0.81 * 0.998**3, "neither affix"),
    ("12345", PrintedForm("", "", 3), 12345, 0.998**5, "a number wider than the padding"),
])  # fmt: skip
def test_worked_by_hand(reading: str, form: PrintedForm, number: int, weight: float, why: str) -> None:
    found = weights([reading or "H"], form, (number, number), assumptions=EVEN)
    assert found == pytest.approx([weight], rel=1e-12, abs=1e-15), why


def test_missing_zeros_are_up_to_each_reader_but_a_unit_bears_one_affix() -> None:
    form = PrintedForm("", "", 5, None, ("E",))
    flat = 1 / 1.5
    [found] = weights(["E00412", "E412"], form, (412, 412), assumptions=EVEN)
    assert found == pytest.approx(0.1 * 0.998 ** (flat * 6) * 0.998 ** (flat * 4), rel=1e-9)


@pytest.mark.parametrize(("reading", "form", "first", "last", "count"), [
    ("*", PrintedForm("", "", None), 0, 10**18 - 1, 10**18),
    ("*", PrintedForm("H", "B", 18), 1, 10**18 - 1, 10**18 - 1),
    ("*", PrintedForm("", "", 9), 123_456_789, 987_654_321, 864_197_533),
    ("?????????", PrintedForm("", "", 9), 0, 10**9 - 1, 10**9),
    ("B??????????????????", PrintedForm("B", "", None), 10**17, 10**18 - 1, 0.88 * 9 * 10**17),
])  # fmt: skip
def test_where_no_digit_can_be_read_every_number_counts_alike(reading: str, form: PrintedForm, first: int, last: int, count: float) -> None:
    assert weights([reading], form, (first, last), assumptions=EVEN) == pytest.approx([count], rel=1e-12)


def test_wide_and_narrow_stretches_side_by_side_are_equally_exact() -> None:
    chance = np.random.default_rng(3)
    low = chance.integers(0, 10**17, 40)
    stretches = [(int(first), int(first) + more) for first, more in zip(low, chance.integers(0, 30, 40), strict=True)]
    form = PrintedForm("H", "", 18)
    found = weights(["H*38?1*"], form, (0, 10**18 - 1), *stretches)
    assert found[1:] == pytest.approx([walked(["H*38?1*"], form, *each) for each in stretches], rel=1e-12, abs=0)


def test_an_empty_stretch_weighs_nothing() -> None:
    assert weights(["2?5"], PrintedForm(), (5, 4), (10**18 - 1, 0), (245, 245), assumptions=EVEN) == pytest.approx([0, 0, 0.88**2], abs=1e-15)
    assert weights(["2?5"], PrintedForm()) == []


@pytest.mark.parametrize(("form", "first", "last", "message"), [
    (PrintedForm(), -1, 5, "A stretch of serials runs below 0 or beyond 10^18 - 1."),
    (PrintedForm(), 0, 10**18, "A stretch of serials runs below 0 or beyond 10^18 - 1."),
    (PrintedForm("H#"), 0, 5, '"H#" contains \'#\'.'),
    (PrintedForm("H+"), 0, 5, '"H+" contains \'+\'.'),
    (PrintedForm("H", check="luna"), 0, 5, '"luna" is not a check-digit scheme.'),
    (PrintedForm("H#", check="luhn"), 0, 5, 'The prefix "H#" holds #, but luhn puts its check characters after the digits.'),
    (PrintedForm("1M8GDM9A", width=8, check="weighted-11-17"), 0, 5, 'The prefix "1M8GDM9A" does not hold # at position 9.'),
    (PrintedForm("1M8GDM9A#", width=7, check="weighted-11-17"), 0, 5, 'Serials "1M8GDM9A#" + 7 digits + "" have not 17 characters.'),
    (PrintedForm("1M8GDMOA#", width=8, check="weighted-11-17"), 0, 5, '"O" does not occur in numbers of 17 characters.'),
])  # fmt: skip
def test_what_cannot_be_printed_is_refused(form: PrintedForm, first: int, last: int, message: str) -> None:
    with pytest.raises(DataError) as caught:
        weights(["*"], form, (first, last))
    assert str(caught.value).startswith(message)


@pytest.mark.parametrize("scheme", ["luhn", "verhoeff", "damm", "iso7064-11-2", "iso7064-11-10", "iso7064-37-2", "iso7064-37-36", "iso7064-97-10"])
@pytest.mark.parametrize("readings", [["H1*4?B"], ["H100[38]??B"], ["*7B"], ["H1*B", "H10*2?B"], ["*X*"], ["H14??B"]])
@pytest.mark.parametrize("width", [None, 4])
def test_check_characters_are_computed_for_every_number(scheme: str, readings: list[str], width: int | None) -> None:
    form = PrintedForm("H1", "B", width, scheme)
    alone = []
    for number in range(1200):
        digits = str(number).zfill(width or 0)
        check = check_characters(scheme, ("H1" if "-37-" in scheme else "1") + digits).replace("*", "")
        assert format_serial(form, number) == f"H1{digits}{check}B"
        alone.append(serial_weight(readings, form, digits, check))
    found = weights(readings, form, (0, 1199), (57, 903), *((number, number) for number in range(1200)))
    assert found[2:] == pytest.approx(alone, rel=1e-12, abs=0)
    assert found[:2] == pytest.approx([fsum(alone), fsum(alone[57:904])], rel=1e-12)


@pytest.mark.parametrize("readings", [["1M8GDM9AXKP042788"], ["1M8GDM9A?KP0427[38]?"], ["*KP0427*"], ["1M8*X*0427?8", "*9A?KP04*"]])
def test_a_check_character_inside_the_prefix_is_computed_for_every_number(readings: list[str]) -> None:
    form = PrintedForm("1M8GDM9A#K", "P", 6, "weighted-11-17")
    inside = {"K": 2, "P": 7}
    alone = []
    for number in range(42_000, 42_900):
        values = [1, 4, 8, 7, 4, 4, 9, 1, inside["K"], *map(int, f"{number:06d}"), inside["P"]]  # 1 M 8 G D M 9 A, then K
        check = "0123456789X"[sum(w * v for w, v in zip([8, 7, 6, 5, 4, 3, 2, 10, 9, 8, 7, 6, 5, 4, 3, 2], values, strict=True)) % 11]
        assert format_serial(form, number) == f"1M8GDM9A{check}K{number:06d}P"
        stamped = PrintedForm(f"1M8GDM9A{check}K", "P", 6)
        alone.append(serial_weight(readings, stamped, f"{number:06d}"))
    found = weights(readings, form, (42_000, 42_899), *((number, number) for number in range(42_000, 42_900)))
    assert found[1:] == pytest.approx(alone, rel=1e-12, abs=0)
    assert found[0] == pytest.approx(fsum(alone), rel=1e-12)


@given(FORM, st.integers(0, 10**18 - 1))
def test_a_serial_as_printed_is_read_as_itself(form: PrintedForm, number: int) -> None:
    text = format_serial(form, number)
    assert text == form.prefix + str(number).zfill(form.width or 0) + form.suffix
    [weight] = weights([text], form, (number, number), assumptions=EVEN)
    neither = (0.9 if form.affixes_before else 1) * (0.9 if form.affixes_after else 1)
    assert weight >= 0.998 ** len(text) * neither * 0.99 * (1 - 1e-12)


@pytest.mark.parametrize("number", [-1, 10**18])
def test_numbers_beyond_eighteen_digits_are_no_serials(number: int) -> None:
    with pytest.raises(DataError, match="is not a serial number. Numbers run from 0 to"):
        format_serial(PrintedForm(), number)


def test_readings_that_leave_too_much_open_are_refused_with_what_to_do() -> None:
    with pytest.raises(DataError) as caught:
        weights(["*1*2*3*4*5*6*7*8*"] * 4, PrintedForm(width=18), (0, 10**18 - 1))
    assert "4 readings of one number leave too much open to be weighed together" in str(caught.value)
    assert "Give fewer readings of this number, or write ? for each single missing character instead of *." in str(caught.value)


def test_many_clear_readings_of_one_number_are_no_trouble() -> None:
    [found] = weights(["H00412"] * 200, PrintedForm("H", "", 5), (0, 99_999))
    assert 0.9 < found < 1.1


def test_many_readings_that_could_all_be_upside_down_are_refused() -> None:
    compiled, number = compile_readings([Reading.parse("1608")] * 200, [None] * 200, A), np.array([1608])
    for weigh in (lambda: stretch_weights(compiled, PrintedForm(), number, number, A), lambda: aligned(compiled, number)):
        with pytest.raises(DataError, match="Give fewer readings of this number"):
            weigh()


def aligned(compiled: ReadingAutomata, number: Integers) -> Floats:
    return weigh_stretches(compiled, [PrintedForm()], np.zeros(1, dtype=np.int64), number, number, A)


@pytest.mark.parametrize("reading", ["*?" * 32, "*[38]" * 12 + "*", "?" * 64, "*1*2*3*4*5*6*7*8*9*0*1*2*3*4*5*6*7"])
def test_the_longest_readings_are_answered(reading: str) -> None:
    ends = np.linspace(0, 10**18 - 1, 2001).astype(np.int64)
    compiled = compile_readings([Reading.parse(reading)], [None], A)
    found = stretch_weights(compiled, PrintedForm("H", "", None, "iso7064-97-10"), ends[:-1], ends[1:] - 1, A)
    assert np.isfinite(found).all()
