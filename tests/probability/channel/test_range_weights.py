"""All stretches of all forms at once, against the sums of one form digit by digit."""

from collections.abc import Sequence

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.probability.channel import token_posterior as standing
from kb.probability.channel.alignment import rereadable, shown_again
from kb.probability.channel.automaton import ReadingAutomata, compile_readings, looked_again
from kb.probability.channel.digits import PrintedForm, stretch_weights
from kb.probability.channel.range_weights import Weigher, weigh_stretches
from kb.probability.channel.reading import Reading
from kb.probability.channel.token_posterior import stands_on_stretches
from kb.words.notation import ALPHABET

FORMS = (
    PrintedForm("", "", None),
    PrintedForm("", "", 5),
    PrintedForm("H", "B", 4, affixes_after=("X", "XR")),
    PrintedForm("PW", "", 5, affixes_before=("E",)),
    PrintedForm("", "6", 3),
    PrintedForm("", "", 4, check="luhn"),
)


CHECKED = (
    *FORMS[:5],
    PrintedForm("", "", 4, check="damm"),
    PrintedForm("", "B", 5, check="iso7064-37-2", affixes_before=("E",)),
    PrintedForm("", "", 5, check="iso7064-97-10"),
    PrintedForm("A", "", 4, check="iso7064-11-10"),
    PrintedForm("1M8GDM9A#KP0", "", 5, check="weighted-11-17"),
)


@pytest.mark.parametrize(
    "readings",
    [["412"], ["00412"], ["?1?4"], ["H[38]12B"], ["EPW0961"], ["69?16"], ["4", "0004"], ["H412BX", "H0412B"], ["9?96", "96?6"], ["*12"],
     ["1" * 30], ["H?1*"], ["4?2", "*12", "41[23]"]],
)
def test_equals_the_general_sums(readings: list[str]) -> None:
    rng = np.random.default_rng(len(readings[0]))
    compiled = compile_readings([Reading.parse(r) for r in readings], [None] * len(readings), Assumptions())
    which = rng.integers(0, len(FORMS), 200)
    first = rng.integers(0, 20_000, 200)
    last = first + rng.integers(-3, 5_000, 200)
    found = weigh_stretches(compiled, FORMS, which, first, last, Assumptions())
    for i, form in enumerate(FORMS):
        mine = np.flatnonzero(which == i)
        expected = stretch_weights(compiled, form, first[mine], last[mine], Assumptions())
        assert found[mine] == pytest.approx(expected, rel=1e-12, abs=0)


def stands(compiled: ReadingAutomata, forms: Sequence[PrintedForm], which: np.ndarray, first: np.ndarray, last: np.ndarray) -> list[np.ndarray]:
    return stands_on_stretches(compiled, Weigher(compiled, forms, Assumptions()), which, first, last)


@pytest.mark.parametrize(
    "readings",
    [["?12?4"], ["H?124"], ["H2[38]1?"], ["1?86"], ["H4*"], ["EPW?961"], ["6?9"], ["4?2", "4[12]2"], ["PW?12", "*12", "41[23]"], ["6?9", "69[69]"],
     ["E4?2X", "?42"], ["1M8GDM9A?KP02?88", "1M8GDM9AXKP0??88"]],
)  # fmt: skip
def test_the_characters_of_a_token_share_the_weight_and_each_weighs_what_it_would_once_told(
    readings: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(standing, "MOST_STEPS_TAKEN", 10**9)
    rng = np.random.default_rng(7)
    compiled = compile_readings([Reading.parse(reading) for reading in readings], ["worn"] * len(readings), Assumptions())
    which, first = rng.integers(0, len(CHECKED), 60), rng.integers(0, 20_000, 60)
    last = first + rng.integers(-3, 900, 60)
    whole = weigh_stretches(compiled, CHECKED, which, first, last, Assumptions())
    for number, rows in enumerate(stands(compiled, CHECKED, which, first, last)):
        part, reading = compiled.parts[number], compiled.readings[number]
        shown = shown_again(part, reading, np.moveaxis(rows, 1, 2), Assumptions())
        tokens = rows.reshape(-1, part.tokens, *rows.shape[1:]).sum(axis=(0, 2))
        for place, weights in enumerate(tokens):  # a `*` takes no character; each other token takes one on each way
            assert weights == pytest.approx(0 * whole if reading.tokens[place] == "*" else whole, rel=1e-12, abs=0)
        for position, place in enumerate(rereadable(reading)):
            for code in rng.choice(len(ALPHABET), 4, replace=False):
                again = looked_again(compiled, number, {place: ALPHABET[code]}, Assumptions())
                told = weigh_stretches(again, CHECKED, which, first, last, Assumptions())
                assert shown[position, :, code] == pytest.approx(told, rel=1e-9, abs=0)


def test_a_token_that_cannot_be_read_stands_for_what_the_numbers_have_there() -> None:
    compiled = compile_readings([Reading.parse("12?4")], ["clean"], Assumptions())
    first, last = np.array([1230, 1300]), np.array([1239, 1399])
    [rows] = stands(compiled, [PrintedForm()], np.zeros(2, dtype=np.int64), first, last)
    [three, none] = rows[2].T
    assert three[3] == pytest.approx(three.sum()) and three[3] > 0.98
    assert none[:10] == pytest.approx(np.full(10, none.sum() / 10))  # all else is misread, so this digit may be any
