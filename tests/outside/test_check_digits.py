"""Check digits against published examples and another implementation, and what each scheme cannot see.

Sources stand beside the rows. Oracle: python-stdnum 2 (LGPL), for every scheme it has.
"""

import random
from itertools import pairwise

import numpy as np
import pytest
from stdnum import damm, luhn, verhoeff
from stdnum.iso7064 import mod_11_2, mod_11_10, mod_37_2, mod_37_36, mod_97_10

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.checkdigits import SCHEMES, check_characters, is_valid
from kb.probability.channel.digits import PrintedForm, stretch_weights
from kb.probability.channel.reading import Reading
from kb.words.errors import DataError

PAYLOADS = 10_000
LETTERS_565 = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"  # 49 CFR 565.4(g) (2002)
TRAILING = [scheme for scheme in SCHEMES if scheme != "weighted-11-17"]
ORACLES = {
    "luhn": luhn.calc_check_digit,
    "verhoeff": verhoeff.calc_check_digit,
    "damm": damm.calc_check_digit,
    "iso7064-11-2": mod_11_2.calc_check_digit,
    "iso7064-11-10": mod_11_10.calc_check_digit,
    "iso7064-37-2": mod_37_2.calc_check_digit,
    "iso7064-37-36": mod_37_36.calc_check_digit,
    "iso7064-97-10": mod_97_10.calc_check_digits,
}


@pytest.mark.parametrize(("number", "total", "check", "source"), [
    ("1G4AH59H45G118341", 411, "4", "sample of the former Table V, 49 CFR 565.6, editions before 2008"),
    ("1J9RP1A36A1644345", 314, "6", "NHTSA, Requirements for Manufacturers of Motor Vehicles, 3 March 2011"),
    ("LJCPCBLCX11000237", 186, "X", "scientificgems.wordpress.com, 27 April 2018"),
    ("1M8GDM9AXKP042788", 351, "X", "encyclopedia example, products printed in several places"),
    ("11111111111111111", 89, "1", "seventeen ones: the weights add up to 89"),
])  # fmt: skip
def test_numbers_of_seventeen_characters(number: str, total: int, check: str, source: str) -> None:
    assert "0123456789X"[total % 11] == check == number[8], source
    assert check_characters("weighted-11-17", number[:8] + number[9:]) == check, source
    assert is_valid("weighted-11-17", number)
    wrong = "0123456789X".replace(check, "")
    assert not any(is_valid("weighted-11-17", number[:8] + other + number[9:]) for other in wrong)


@pytest.mark.parametrize(("scheme", "payload", "check", "source"), [
    ("luhn", "7992739871", "3", "the usual worked example; python-stdnum 2.2"),
    ("verhoeff", "236", "3", "the usual worked example; python-stdnum 2.2"),
    ("damm", "572", "4", "the usual worked example; python-stdnum 2.2"),
    ("iso7064-11-2", "0794", "0", "ISO/IEC 7064 example; python-stdnum 2.2"),
    ("iso7064-11-2", "079", "X", "ISO/IEC 7064 example; python-stdnum 2.2"),
    ("iso7064-11-10", "0794", "5", "ISO/IEC 7064 example; python-stdnum 2.2"),
    ("iso7064-11-10", "79462", "3", "python-stdnum 2.2"),
    ("iso7064-37-36", "A12425GABC1234002", "M", "lobster-world.com, BasicISO7064Mod3736Checksum"),
    ("iso7064-37-2", "G123489654321", "Y", "python-stdnum 2.2"),
    ("iso7064-97-10", "794", "44", "ISO/IEC 7064 example; python-stdnum 2.2"),
])  # fmt: skip
def test_published_examples(scheme: str, payload: str, check: str, source: str) -> None:
    assert check_characters(scheme, payload) == check, source
    assert is_valid(scheme, payload + check)
    assert ORACLES[scheme](payload) == check, f"table and oracle disagree: {source}"


def random_payload(scheme: str, chance: random.Random) -> str:
    if scheme == "weighted-11-17":
        return "".join(chance.choices(LETTERS_565, k=16))
    return "".join(chance.choices(SCHEMES[scheme].alphabet, k=chance.randint(1, 14)))


@pytest.mark.parametrize("scheme", TRAILING)
def test_ten_thousand_payloads_equal_another_implementation(scheme: str) -> None:
    chance = random.Random(scheme)
    for _ in range(PAYLOADS):
        payload = random_payload(scheme, chance)
        assert check_characters(scheme, payload) == ORACLES[scheme](payload), payload


@pytest.mark.parametrize("scheme", TRAILING)
def test_every_single_error_in_the_payload_is_seen(scheme: str) -> None:
    chance = random.Random(11)
    for _ in range(300):
        payload = random_payload(scheme, chance)
        whole = payload + check_characters(scheme, payload)
        for place, right in enumerate(payload):
            wrong = chance.choice(SCHEMES[scheme].alphabet.replace(right, ""))
            assert not is_valid(scheme, whole[:place] + wrong + whole[place + 1 :])


@pytest.mark.parametrize(("scheme", "unseen"), [
    ("verhoeff", set()),
    ("damm", set()),
    ("iso7064-11-2", set()),
    ("iso7064-37-2", set()),
    ("iso7064-97-10", set()),
    ("luhn", {"09", "90"}),
])  # fmt: skip
def test_which_swaps_of_neighbours_pass(scheme: str, unseen: set[str]) -> None:
    chance = random.Random(13)
    passed = set(swaps(scheme, chance, 600))
    assert passed == unseen


@pytest.mark.parametrize("scheme", ["iso7064-11-10", "iso7064-37-36"])
def test_the_hybrid_systems_miss_some_swaps(scheme: str) -> None:
    chance = random.Random(13)
    missed = swaps(scheme, chance, 4000)
    assert 0 < len(missed) < 0.05 * 4000 * 6


def swaps(scheme: str, chance: random.Random, trials: int) -> list[str]:
    """Unlike neighbours in the payload whose swap the scheme does not see."""
    missed = []
    for _ in range(trials):
        payload = random_payload(scheme, chance)
        check = check_characters(scheme, payload)
        for place, (left, right) in enumerate(pairwise(payload)):
            if left != right and is_valid(scheme, payload[:place] + right + left + payload[place + 2 :] + check):
                missed.append(left + right)
    return missed


def seventeen(chance: random.Random) -> str:
    payload = random_payload("weighted-11-17", chance)
    return payload[:8] + check_characters("weighted-11-17", payload) + payload[8:]


@pytest.mark.parametrize("alike", ["AJ1", "BKS2", "CLT3", "DMU4", "ENV5", "FW6", "GPX7", "HY8", "RZ9"])
def test_seventeen_characters_do_not_tell_characters_of_equal_value(alike: str) -> None:
    chance = random.Random(17)
    for _ in range(50):
        number = seventeen(chance)
        place = chance.choice([p for p in range(17) if p != 8])
        for one in LETTERS_565:
            changed = number[:place] + one + number[place + 1 :]
            if number[place] in alike:
                assert is_valid("weighted-11-17", changed) is (one in alike)


@pytest.mark.parametrize(("right", "read", "passes"), [
    ("8", "H", True), ("2", "S", True), ("5", "E", True), ("6", "F", True), ("1", "A", True),
    ("8", "B", False), ("5", "S", False), ("6", "G", False), ("2", "Z", False),
])  # fmt: skip
def test_look_alikes_in_seventeen_characters(right: str, read: str, passes: bool) -> None:
    payload = "1M8GDM9AKP04" + right + "788"
    number = payload[:8] + check_characters("weighted-11-17", payload) + payload[8:]
    assert is_valid("weighted-11-17", number)
    assert is_valid("weighted-11-17", number[:13] + read + number[14:]) is passes


def test_which_swaps_pass_in_seventeen_characters() -> None:
    """Weight 10 is -1 modulo 11: two characters swapped at positions 8 and 9 often pass; elsewhere unlike neighbours never do."""
    chance = random.Random(19)
    passed = dict.fromkeys(range(16), 0)
    tried = dict.fromkeys(range(16), 0)
    values = dict(zip("ABCDEFGHJKLMNPRSTUVWXYZ0123456789", [*range(1, 9), *range(1, 6), 7, 9, *range(2, 10), *range(10)], strict=True))
    for _ in range(3000):
        number = seventeen(chance)
        for place in range(16):
            left, right = number[place], number[place + 1]
            if values[left] != values[right]:
                tried[place] += 1
                passed[place] += is_valid("weighted-11-17", number[:place] + right + left + number[place + 2 :])
    assert min(tried.values()) > 2000
    assert all(passed[place] == 0 for place in range(16) if place not in (7, 8))
    assert passed[7] > 0, "positions 8 and 9"
    assert 0 < passed[8] < 0.1 * tried[8], "a check X moved to position 10"
    two_digits = [number for number in (seventeen(chance) for _ in range(20_000)) if number[7:9].isdigit() and number[7] != number[8]]
    assert len(two_digits) > 1000
    assert all(is_valid("weighted-11-17", number[:7] + number[8] + number[7] + number[9:]) for number in two_digits)


def test_a_check_digit_decides_between_digits_but_not_between_characters_of_equal_value() -> None:
    """3 or 8: only one of the serials has an X as its check character. 8 or H: both have."""

    never = {"clean": 0.0, "worn": 0.0, "badly-worn": 0.0}
    alike = {"sharpness": 1.0, "uniform_share": 1.0}  # so that 8 and H are read equally well
    complete = Assumptions().override(lost=never, doubled=never, end_lost=never, **alike)

    def weight(reading: str, form: PrintedForm, number: int) -> float:
        compiled = compile_readings([Reading.parse(reading)], [None], complete)
        return float(stretch_weights(compiled, form, np.array([number]), np.array([number]), complete)[0])

    digits = PrintedForm("1M8GDM9A#KP04", "", 4, "weighted-11-17")
    assert weight("1M8GDM9AXKP0427[38]8", digits, 2788) > 100 * weight("1M8GDM9AXKP0427[38]8", digits, 2738) > 0
    letter = PrintedForm("1M8GDM9A#KP0427H", "", 1, "weighted-11-17")
    assert weight("1M8GDM9AXKP0427[8H]8", letter, 8) == pytest.approx(weight("1M8GDM9AXKP0427[8H]8", digits, 2788), rel=1e-12)


@pytest.mark.parametrize(("scheme", "payload", "message"), [
    ("luna", "12", '"luna" is not a check-digit scheme. Use one of: luhn, verhoeff,'),
    ("luhn", "12A", '"12A" contains "A". The check-digit scheme luhn knows only 0123456789.'),
    ("weighted-11-17", "1M8GDM9AKPO42788", '"1M8GDM9AKPO42788" contains "O".'),
    ("weighted-11-17", "1M8GDM9AXKP042788", '"1M8GDM9AXKP042788" has 17 characters. Give 16 characters, without position 9.'),
    ("damm", "", '"" has 0 characters. Give the number.'),
])  # fmt: skip
def test_what_a_scheme_cannot_carry_is_refused(scheme: str, payload: str, message: str) -> None:
    with pytest.raises(DataError) as caught:
        check_characters(scheme, payload)
    assert str(caught.value).startswith(message)


@pytest.mark.parametrize(("scheme", "text"), [("luhn", ""), ("luhn", "3"), ("luhn", "12A"), ("weighted-11-17", "123"), ("iso7064-97-10", "79444 ")])
def test_a_text_that_a_scheme_cannot_carry_is_not_valid(scheme: str, text: str) -> None:
    assert not is_valid(scheme, text)
