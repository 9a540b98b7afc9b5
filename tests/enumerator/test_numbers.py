"""Readings, unknown texts, serials and dates of the slow second program against arithmetic that can be done by hand.

Source where none is named: arithmetic on the formulas of docs/model.md.
"""

from datetime import date
from typing import Any

import pytest

from kb.assumptions import Assumptions
from tests.enumerator.checkdigits import check_characters, with_check
from tests.enumerator.readings import number_weight, parse, see, weight
from tests.enumerator.serials import lay_out
from tests.enumerator.tables import Row, Tables, days
from tests.enumerator.unknown import bigram_weight, learn, shape_weight, unknown_weight

NEVER = {"clean": 0.0, "worn": 0.0, "badly-worn": 0.0}
# To be worked by hand: all misreadings alike, no slips, entries at their word.
USUAL = Assumptions().override(uniform_share=1.0, sharpness=1.0, lost=NEVER, doubled=NEVER, end_lost=NEVER)
M = 0.002 / 35  # clean: one certain wrong character
W = 0.12 / 35  # worn: the same


def near(value: Any) -> Any:
    return pytest.approx(value, rel=1e-9, abs=1e-15)


# Readings

@pytest.mark.parametrize(("reading", "text", "expected"), [
    ("AB", "AB", 0.998**2),  # A cannot be turned, so there is no upside down
    ("AB", "AC", 0.998 * M),
    ("AB", "ABB", 0.0),  # every token takes one character
    ("19", "61", 0.99 * M**2 + 0.01 * 0.998**2),  # turned: "61"
    ("69", "69", 0.998**2),  # turned it is itself
    ("B?", "BX", 0.88),  # worn, as it has a ?
    ("B[38]", "B8", 0.88 * (0.88 + W)),
    ("B[38]", "B5", 0.88 * 2 * W),
    ("*B*", "BB", 0.88 + 0.88),  # two alignments
    ("B*", "B", 0.88),  # a run of none
    ("*", "B1250", 1.0),
])  # fmt: skip
def test_the_weight_of_a_text_is_the_sum_over_alignments(reading: str, text: str, expected: float) -> None:
    assert weight(see(reading, None, USUAL), text, USUAL) == near(expected)


@pytest.mark.parametrize(("reading", "before", "digits", "expected"), [
    ("7", "", "007", 0.998),  # two zeros missing
    ("07", "", "007", 0.998**2),
    ("0", "", "000", 0.998),  # one digit always remains
    ("B7", "B", "007", 0.998**2),
    ("B*7", "B", "007", 0.88**2),  # the * takes the zeros; with zeros missing it would stand at the spot
    ("*7", "", "007", 0.88),
    ("*B7", "B", "007", 0.88**2 + W * 0.88),  # the * stands elsewhere; or it takes B and 0, and the other 0 was read as a B
    ("B*", "B", "007", 0.88),  # zeros missing after the B, before the *: already counted
])  # fmt: skip
def test_missing_leading_zeros_cost_nothing_and_count_once(reading: str, before: str, digits: str, expected: float) -> None:
    assert number_weight(see(reading, None, USUAL), before, digits, "", USUAL) == near(expected)


def test_two_readings_of_one_number_share_an_exponent() -> None:
    # a / (1 + (2 - 1) .5) = 2/3 on every entry
    assert weight(see("A", None, USUAL, 2), "B", USUAL) == near(M ** (2 / 3))


@pytest.mark.parametrize("junk", ["", "  ", "[", "[]", "A[3", "A!", "[*]", "A" * 65])
def test_what_is_no_reading_is_refused(junk: str) -> None:
    with pytest.raises(ValueError):
        parse(junk)


# Texts that nobody recorded

def test_unknown_texts_from_one_known_text() -> None:
    model = learn({"A1": 1.0}, USUAL)
    sure = USUAL.override(misread={"clean": 0.0, "worn": 0.0, "badly-worn": 0.0})
    seen = see("A1", None, sure)
    # start to A (1 + .5) / (1 + .5 36), A to 1 and 1 to the end (1 + .5) / (1 + .5 37)
    assert bigram_weight(seen.tokens, seen, model) == near(1.5 / 19 * (1.5 / 19.5) ** 2)
    assert shape_weight(seen.tokens, seen, model) == near(1 / 26 / 10)
    assert unknown_weight(seen, model, sure) == near((1.5 / 19 * (1.5 / 19.5) ** 2 + 1 / 260) / 2)


@pytest.mark.parametrize("reading", ["*", "?*", "*?"])
def test_some_text_is_certain(reading: str) -> None:
    model = learn({"A1": 1.0, "B27": 2.0, "100": 0.5}, USUAL)
    assert unknown_weight(see(reading, None, USUAL), model, USUAL) == near(1.0)  # every text is at least one character long
    assert unknown_weight(see(reading, None, USUAL), learn({}, USUAL), USUAL) == near(1.0)


def test_the_unknown_model_is_the_mean_weight_of_its_texts() -> None:
    # All two-character readings without error together are P(two characters): start, one step that does not end, one end.
    # With nothing learned every step ends with 1/37.
    model = learn({}, USUAL)
    seen = see("??", None, USUAL)
    assert bigram_weight(seen.tokens, seen, model) == near(36 / 37 / 37)


# Serials

SERIES: Row = {"series_id": "s", "maker_id": "m"}


def block(block_id: str, position: int, **more: str) -> Row:
    return {"block_id": block_id, "series_id": "s", "position": str(position), "model_id": "one", **more}


def test_open_ends_and_orders() -> None:
    tables: Tables = {"series": [SERIES], "blocks": [
        block("c", 3, first="21", units="5"),  # no higher first: 21..25
        block("a", 1, prefix="", first="1"),  # ends before the next higher first, 11
        block("b", 2, first="11", last="14"),
        block("d", 4, units="2"),  # goes on after 25
        block("e", 5, prefix="X", units="3", width="3"),  # no earlier block with this prefix: from 1
        block("x", 6, first="90", last="99", retracted="misprint"),
        block("y", 7, first="80", last="89", rival_of="a"),
    ]}  # fmt: skip
    works = lay_out(tables, USUAL)
    assert [(b.block_id, b.first, b.last, b.order_first) for b in works.lines["s", ""]] == [
        ("a", 1, 10, 0), ("b", 11, 14, 10), ("c", 21, 25, 14), ("d", 26, 27, 19), ("e", 1, 3, 21),
    ]  # fmt: skip
    assert [works.find("s", text) for text in ("X002", "x-2", "27", "28")] == [(("s", ""), 22), (("s", ""), 22), (("s", ""), 20), None]


def test_shared_blocks_affixes_and_units() -> None:
    tables: Tables = {
        "series": [SERIES], "blocks": [block("a", 1, first="1", last="4", units="99")],
        "block_models": [{"block_id": "a", "model_id": "one", "units": "6"}, {"block_id": "a", "model_id": "two", "units": "2"}],
        "affixes": [{"series_id": "s", "affix": affix, "at": "suffix"} for affix in ("E", "R")],
    }  # fmt: skip
    works = lay_out(tables, USUAL)
    units = works.units(("s", ""))
    assert [(u.number, u.model, u.units) for u in units[:2]] == [(1, "one", 1.5), (1, "two", 0.5)]  # 8 units on 4 numbers, 3 : 1
    assert works.weight([see("4E", None, USUAL)], units[-1], USUAL) == near(0.05 * 0.998**2 + 0.05 * 0.998 * M)  # an E, or an R misread
    assert works.weight([see("4", None, USUAL)], units[-1], USUAL) == near(0.9 * 0.998)
    assert works.find("s", "3R") == (("s", ""), 2)


@pytest.mark.parametrize(("scheme", "payload", "check", "source"), [
    ("luhn", "7992739871", "3", "python-stdnum"), ("verhoeff", "236", "3", "python-stdnum"), ("damm", "572", "4", "python-stdnum"),
    ("iso7064-11-2", "0794", "0", "ISO 7064"), ("iso7064-11-2", "079", "X", "ISO 7064"),
    ("iso7064-11-10", "0794", "5", "ISO 7064"), ("iso7064-11-10", "79462", "3", "python-stdnum"),
    ("iso7064-37-36", "A12425GABC1234002", "M", "ISO 7064"), ("iso7064-37-2", "G123489654321", "Y", "ISO 7064"),
    ("iso7064-97-10", "794", "44", "python-stdnum"), ("iso7064-97-10", "0388", "98", "python-stdnum"),
])  # fmt: skip
def test_check_characters(scheme: str, payload: str, check: str, source: str) -> None:
    assert check_characters(scheme, payload) == check, source


def test_check_digit_of_seventeen_characters() -> None:
    # 49 CFR 565.6, Table V (editions before 2008): sum 411, 411 mod 11 = 4
    assert "".join(with_check("weighted-11-17", "1G4AH59H#5G", "118341", "")) == "1G4AH59H45G118341"


# Dates

@pytest.mark.parametrize(("text", "first", "last"), [
    ("1948", "1948-01-01", "1948-12-31"), ("1948~", "1948-01-01", "1948-12-31"), ("1947/1949", "1947-01-01", "1949-12-31"),
    ("194X", "1940-01-01", "1949-12-31"), ("1948-05/1949-02", "1948-05-01", "1949-02-28"), ("1948-21", "1948-03-01", "1948-05-31"),
])  # fmt: skip
def test_days_of_a_date(text: str, first: str, last: str) -> None:
    assert days(text) == (date.fromisoformat(first).toordinal(), date.fromisoformat(last).toordinal())
