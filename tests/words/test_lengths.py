"""Lengths as people type them: one parser for what is measured on a unit, in a step, and asked for of a part."""

import ast
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.probability.catalogue.dimensions import parse
from kb.words.lengths import both, in_mm, measure


@pytest.mark.parametrize(("text", "unit", "value"), [
    ("34.9mm", "mm", 34.9), ("34,9 mm", "mm", 34.9), ("35", "mm", 35.0), ("35", None, 35.0), ("1 3/8 in", "mm", 34.925), ("1 3/8\"", "mm", 34.925),
    ("3/8", "in", 0.375), ("1 inch", "mm", 25.4), ("1''", "mm", 25.4), ("2 1/2 cm", "mm", 25.0), ("25.4 mm", "in", 1.0), ("20", "Nm", 20.0),
    ("13/8 in", "mm", 41.275),
    ("20 mm", "Nm", None), ("wide", "mm", None), ("-5", "mm", None), ("3/0 in", "mm", None), ("", "mm", None),
    ("1 2", "mm", None), ("1/2/3", "mm", None),
    ("1234567890", "mm", None),
])  # fmt: skip
def test_a_measure_as_typed(text: str, unit: str | None, value: float | None) -> None:
    assert measure(text, unit) == value


@pytest.mark.parametrize("text", ["35 mm", "34,9 mm", "1 3/8 in", "3/8 inch", "2 1/2 cm", "1 3/8\""])
def test_a_part_is_looked_for_by_the_same_length(text: str) -> None:
    assert [each.mm for each in parse(text)[0]] == [measure(text, "mm")]


@given(st.integers(1, 500_000), st.sampled_from(["mm", "cm", "in"]))
def test_what_is_written_is_read_again(thousandths: int, unit: str) -> None:
    value = thousandths / 1000
    assert measure(f"{value:g} {unit}", unit) == float(f"{value:g}")
    assert Fraction(both(value, unit)[0]) == round(in_mm(value, unit), 3)
    assert measure(f"{value} {unit}", "mm") == float(in_mm(value, unit))


def test_the_inch_stands_in_one_place(root: Path) -> None:
    found = [
        str(path.relative_to(root))
        for path in (root / "kb").rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and node.value in (25.4, "25.4")
    ]
    assert found == ["kb/words/lengths.py"]
