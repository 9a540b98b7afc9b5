"""Lengths in millimetres and inches, as a work sheet prints them side by side.

One inch is 25.4 mm exactly (ISO 31-1; NIST SP 811, appendix B). Only measures are converted: thread forms and nominal sizes are names.
"""

from collections.abc import Callable
from fractions import Fraction
from math import ceil, floor

INCH = Fraction(254, 10)
IN_MM = {"mm": Fraction(1), "cm": Fraction(10), "in": INCH, "inch": INCH}


def in_mm(value: float, unit: str) -> Fraction:
    """A length in millimetres, exactly as it was written.

    >>> in_mm(0.004, "in")
    Fraction(127, 1250)
    """
    return Fraction(repr(value)) * IN_MM[unit]


def is_length(unit: str) -> bool:
    """Whether a unit measures length."""
    return unit in IN_MM


def written(value: Fraction, places: int) -> str:
    """A length rounded half to even to this many decimals, without trailing zeros."""
    text = f"{float(round(value, places)):.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def both(value: float, unit: str) -> tuple[str, str]:
    """A length written in millimetres and in inches.

    >>> both(0.25, "mm"), both(1, "in")
    (('0.25', '0.0098'), ('25.4', '1'))
    """
    mm = in_mm(value, unit)
    return written(mm, 3), written(mm / INCH, 4)


def limits_words(low: float | None, high: float | None, unit: str) -> str:
    """Limits in words, a length in both units; what is converted is rounded inward.

    >>> limits_words(0.1, 0.25, "mm"), limits_words(None, 5, "kg"), limits_words(7.5, None, "mm")
    ('0.1 to 0.25 mm (0.004 to 0.0098 in)', 'up to 5 kg', '7.5 mm or more (0.2953 in or more)')
    """
    if low is None and high is None:
        return ""
    if not is_length(unit):
        return _range(None if low is None else f"{low:g}", None if high is None else f"{high:g}", unit)
    metric = unit not in ("in", "inch")
    as_given = _range(None if low is None else f"{low:g}", None if high is None else f"{high:g}", unit)
    least = None if low is None else _inward(in_mm(low, unit), ceil, metric)
    most = None if high is None else _inward(in_mm(high, unit), floor, metric)
    return f"{as_given} ({_range(least, most, 'in' if metric else 'mm')})"


def _inward(mm: Fraction, towards: Callable[[Fraction], int], metric: bool) -> str:
    """A limit in the other unit, rounded so that it never allows more than the limit itself."""
    value, places = (mm / INCH, 4) if metric else (mm, 2)
    return written(Fraction(towards(value * 10**places), 10**places), places)


def _range(low: str | None, high: str | None, unit: str) -> str:
    if low is None:
        return f"up to {high} {unit}"
    return f"{low} {unit} or more" if high is None else f"{low} to {high} {unit}"
