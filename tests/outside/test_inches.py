"""Millimetres and inches.

Source: one inch is 25.4 mm exactly (ISO 31-1:1992; NIST SP 811, 2008, appendix B.8, where the factor stands in bold: exact).
"""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.words.lengths import both, in_mm, limits_words


@pytest.mark.parametrize(("value", "unit", "mm", "inches"), [
    (1, "in", "25.4", "1"),
    (0.001, "in", "0.025", "0.001"),  # a "thou" is 0.0254 mm, printed to the thousandth
    (25.4, "mm", "25.4", "1"),
    (12.7, "mm", "12.7", "0.5"),
    (0.5, "cm", "5", "0.1969"),
    (304.8, "mm", "304.8", "12"),  # the foot of 1959
])  # fmt: skip
def test_the_exact_inch(value: float, unit: str, mm: str, inches: str) -> None:
    assert both(value, unit) == (mm, inches)
    assert in_mm(value, unit) == Fraction(Decimal(str(value))) * {"mm": 1, "cm": 10, "in": Fraction(254, 10)}[unit]


@given(st.decimals(min_value=0, max_value=500, places=3), st.decimals(min_value=0, max_value=500, places=3))
def test_limits_in_the_other_unit_never_allow_more(one: Decimal, other: Decimal) -> None:
    low, high = sorted((float(one), float(other)))
    inside = limits_words(low, high, "mm").partition("(")[2].removesuffix(" in)").split(" to ")
    assert Fraction(inside[0]) * Fraction("25.4") >= Fraction(str(low))
    assert Fraction(inside[1]) * Fraction("25.4") <= Fraction(str(high))


@pytest.mark.parametrize(("low", "high", "unit", "words"), [
    (0.1, 0.25, "mm", "0.1 to 0.25 mm (0.004 to 0.0098 in)"),
    (None, 0.05, "mm", "up to 0.05 mm (up to 0.0019 in)"),
    (0.004, 0.01, "in", "0.004 to 0.01 in (0.11 to 0.25 mm)"),
    (20, 25, "Nm", "20 to 25 Nm"),  # a torque is no length
    (None, None, "mm", ""),
])  # fmt: skip
def test_limits_in_words(low: float | None, high: float | None, unit: str, words: str) -> None:
    assert limits_words(low, high, unit) == words
