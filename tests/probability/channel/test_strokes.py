"""The wear table: from strokes to confusions, against what is known elsewhere of shapes and of readers (figures: docs/wear.md)."""

import os
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.probability.channel.strokes.__main__ import TARGET
from kb.probability.channel.strokes.glyphs import along, ink, styles
from kb.probability.channel.strokes.reader import Reader, flipped
from kb.probability.channel.strokes.table import READER, as_text, costs, table, templates
from kb.probability.channel.strokes.wearing import LEVELS
from kb.probability.channel.wear import confusion, shapes
from kb.words.notation import ALPHABET

HERSHEY, CUT = styles()["hershey"], styles()["cut"]

# Segments of the seven-segment display (Breiman, Friedman, Olshen, Stone 1984, pp. 43-49): top, upper left, upper right, middle, lower left,
# lower right, bottom, of the digits 0 to 9.
DISPLAY = np.array([
    [bit == "1" for bit in digit]
    for digit in ["1110111", "0010010", "1011101", "1011011", "0111010", "1101011", "1101111", "1010010", "1111111", "1111011"]
])  # fmt: skip

# What two optical character readers (GNU Ocrad 0.28, GOCR 0.52) both make of letters of three open fonts with one side filed off.
MISREAD_BY_PROGRAMS = [
    "0>C", "0>U", "7>I", "8>3", "8>E", "8>R", "9>3", "A>4", "B>3", "B>D", "B>E", "B>R", "C>L",
    "D>C", "D>U", "E>C", "E>F", "G>C", "G>U", "J>I", "L>I", "M>N", "O>C", "O>U", "P>D", "P>F",
    "Q>C", "Q>U", "R>F", "R>K", "S>C", "T>I", "U>J", "U>L", "V>J", "Y>T", "Y>V", "Z>7", "Z>L",
]  # fmt: skip


def display(reader: Reader, loss: float, gain: float) -> np.ndarray:
    patterns, chance = flipped(DISPLAY, loss, gain)
    return chance @ reader.reads(reader.cost(patterns, patterns, DISPLAY, DISPLAY))


def test_a_display_with_faulty_segments_has_the_published_error() -> None:
    read = display(Reader(), 0.1, 0.1)
    assert 1 - read.diagonal().mean() == pytest.approx(0.25997752, abs=5e-9)


@pytest.mark.parametrize(("loss", "accuracy"), [(0.1, 0.88785), (0.2, 0.77443), (0.3, 0.66349)])
def test_a_display_that_only_loses_segments(loss: float, accuracy: float) -> None:
    read = display(Reader(missing=0.001), loss, 0.0)  # what is there is there: the smallest digit that holds it
    assert read.diagonal().mean() == pytest.approx(accuracy, abs=5e-6)
    if loss == 0.2:
        assert read[1, 1] == pytest.approx(1)
        assert (read[7, 1], read[1, 7]) == (pytest.approx(0.2), 0)
        assert [read[8, digit] for digit in (0, 6, 9)] == pytest.approx([0.151, 0.138, 0.111], abs=5e-4)
        assert read[0, 8] == 0


@pytest.mark.parametrize(("part", "whole"), [("F", "E"), ("O", "Q"), ("C", "G"), ("I", "L"), ("I", "E")])
def test_strokes_of_one_letter_within_another(part: str, whole: str) -> None:
    inside, around = ink(along(HERSHEY[part])), ink(along(HERSHEY[whole]))
    assert not (inside & ~around).any()
    cost = costs(inside[None], 14.0, READER, templates({"hershey": HERSHEY}))[0]  # the whole letter without its foot, tail or bar
    assert cost[ALPHABET.index(part)] == 0 == cost.min()
    assert cost[ALPHABET.index(whole)] > 0


def test_an_r_is_a_b_but_for_one_stroke() -> None:
    segments = {c: {tuple(map(tuple, np.sort(np.round(pair, 3), axis=0))) for s in HERSHEY[c] for pair in zip(s, s[1:], strict=False)} for c in "RB"}
    assert len(segments["R"] & segments["B"]) == len(segments["R"]) - 1


@pytest.mark.parametrize("level", ["worn", "badly-worn"])
def test_two_programs_misread_in_the_same_direction(level: str) -> None:
    found = confusion(level, Assumptions())
    pairs = [(ALPHABET.index(pair[0]), ALPHABET.index(pair[2])) for pair in MISREAD_BY_PROGRAMS]
    others = found - np.diag(found.diagonal())
    leading = [seen in np.argsort(-others[true], kind="stable")[:5] for true, seen in pairs]
    same = [found[true, seen] > found[seen, true] for true, seen in pairs]
    assert len(pairs) == 39
    assert sum(same) >= 36
    assert sum(leading) >= 30


def test_letters_that_number_standards_leave_out_are_among_the_strongest_confusions() -> None:
    found = confusion("worn", Assumptions())
    both = found + found.T - np.diag(2 * found.diagonal())
    strongest = [ALPHABET[i // 36] + ALPHABET[i % 36] for i in np.argsort(-np.triu(both), axis=None)[:8]]
    assert {"1I", "0O"} <= set(strongest)
    of_q = both[ALPHABET.index("Q")]
    assert {ALPHABET[i] for i in np.argsort(-of_q)[:3]} == {"0", "O", "C"}
    assert of_q.max() > np.quantile(both[np.triu_indices(36, 1)], 0.95)


@pytest.mark.parametrize(("true", "seen"), ["83", "B3", "BE", "0C", "EF", "QO", "RP", "GC", "8E"])
def test_wear_takes_strokes_away(true: str, seen: str) -> None:
    for level in LEVELS:
        found = shapes(level)
        assert found[ALPHABET.index(true), ALPHABET.index(seen)] >= found[ALPHABET.index(seen), ALPHABET.index(true)]


def test_a_reader_who_forgives_missing_ink_reads_too_much() -> None:
    level = replace(LEVELS["clean"], radius=4.0)
    strict, lenient = table(level, READER), table(level, replace(READER, missing=0.4))
    f, e = ALPHABET.index("F"), ALPHABET.index("E")
    assert lenient[f, e] > 5 * strict[f, e]


def test_the_shipped_table_is_what_the_strokes_give() -> None:
    levels = LEVELS if os.environ.get("KB_CAMPAIGN") else {"clean": LEVELS["clean"]}
    made = as_text({name: table(level) for name, level in levels.items()})
    shipped = TARGET.read_text(encoding="ascii")
    assert shipped == made if len(levels) == 3 else shipped.startswith(made)


@pytest.mark.parametrize("level", ["clean", "worn", "badly-worn"])
def test_rows_are_probabilities_and_the_mean_misreading_is_the_assumed_one(level: str) -> None:
    found = confusion(level, Assumptions())
    assert found.sum(axis=1) == pytest.approx(np.ones(36))
    assert (found > 0).all()
    assert 1 - found.diagonal().mean() == pytest.approx(Assumptions().misread[level])
    assert (found >= Assumptions().misread[level] * 0.3 / 35 - 1e-15).all()


def test_what_was_confirmed_outweighs_the_table_in_the_end() -> None:
    few, many = (Assumptions().override(confirmed={"worn 8>R": n, "worn 8>8": 9 * n}) for n in (1, 1000))
    eight, r = ALPHABET.index("8"), ALPHABET.index("R")
    before = confusion("worn", Assumptions())[eight, r]
    assert before < confusion("worn", few)[eight, r] < 0.05
    assert confusion("worn", many)[eight, r] == pytest.approx(0.1, abs=0.002)
    assert confusion("badly-worn", many)[eight, r] == confusion("badly-worn", Assumptions())[eight, r]


def test_the_picture_in_the_documentation_is_that_of_the_table() -> None:
    docs = TARGET.parents[3] / "docs"
    scope: dict[str, Any] = {"__name__": "picture", "__file__": str(docs / "wear_picture.py")}
    exec(compile((docs / "wear_picture.py").read_text(encoding="utf-8"), "wear_picture.py", "exec"), scope)
    assert (docs / "wear.svg").read_text(encoding="utf-8") == scope["draw"]()
