"""All stretches of all forms at once, against the sums of one form digit by digit."""

from dataclasses import replace

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.channel.compiled import Compiled, compile_readings
from kb.channel.digits import PrintedForm, stretch_weights
from kb.channel.reading import Reading
from kb.channel.standing import stands_on_stretches
from kb.channel.stretches import Weigher, weigh_stretches

FORMS = (
    PrintedForm("", "", None),
    PrintedForm("", "", 5),
    PrintedForm("H", "B", 4, affixes_after=("X", "XR")),
    PrintedForm("PW", "", 5, affixes_before=("E",)),
    PrintedForm("", "6", 3),
    PrintedForm("", "", 4, check="luhn"),
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


def stands(compiled: Compiled, forms: list[PrintedForm], which: np.ndarray, first: np.ndarray, last: np.ndarray) -> np.ndarray:
    return stands_on_stretches(compiled, Weigher(compiled, forms, Assumptions()), which, first, last)


@pytest.mark.parametrize("reading", ["?12?4", "H?124", "H2[38]1?", "1?86", "H4*", "EPW?961", "6?9"])
def test_the_characters_of_a_token_share_the_weight(reading: str) -> None:
    rng = np.random.default_rng(7)
    forms = FORMS[:5]
    compiled = compile_readings([Reading.parse(reading)], ["worn"], Assumptions())
    which, first = rng.integers(0, len(forms), 60), rng.integers(0, 20_000, 60)
    last = first + rng.integers(0, 900, 60)
    whole = weigh_stretches(compiled, forms, which, first, last, Assumptions())
    part = compiled.parts[0]
    for place, rows in enumerate(stands(compiled, forms, which, first, last)):
        if compiled.readings[0].tokens[place] == "*":
            assert not rows.any()
            continue
        # A token that an end broken off, or `*`, or a slip leaves no character for does not occur: each token takes one character on each way.
        assert rows.sum(axis=0) == pytest.approx(whole, rel=1e-12, abs=0)
        for code in np.flatnonzero(rows.any(axis=1)):  # what is lost of the weight if the token may not stand for that character
            entries = part.entries.copy()
            entries[code, (part.takes == place).any(axis=1)] = 0
            without = weigh_stretches(Compiled(compiled.readings, (replace(part, entries=entries),)), forms, which, first, last, Assumptions())
            assert rows[code] == pytest.approx(whole - without, rel=1e-9, abs=1e-12 * whole.max())


def test_a_token_that_cannot_be_read_stands_for_what_the_numbers_have_there() -> None:
    compiled = compile_readings([Reading.parse("12?4")], ["clean"], Assumptions())
    first, last = np.array([1230, 1300]), np.array([1239, 1399])
    [three, none] = stands(compiled, [PrintedForm()], np.zeros(2, dtype=np.int64), first, last)[2].T
    assert three[3] == pytest.approx(three.sum()) and three[3] > 0.98
    assert none[:10] == pytest.approx(np.full(10, none.sum() / 10))  # all else is misread, so this digit may be any
