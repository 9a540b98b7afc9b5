"""Lengths in millimetres and inches: as people type them, and as a work sheet prints them side by side.

One inch is 25.4 mm exactly (ISO 31-1; NIST SP 811, appendix B). Only measures are converted: thread forms and nominal sizes are names.
"""

import re
from collections.abc import Callable
from fractions import Fraction
from math import ceil, floor

INCH = Fraction("25.4")
IN_MM = {"mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000), "in": INCH, "inch": INCH, '"': INCH, "''": INCH}
VALUE = r"(?:\d{1,9}\s+\d{1,3}/\d{1,3}|\d{1,3}/\d{1,3}|\d{1,9}(?:[.,]\d{1,9})?)"  # a number as the trade writes it
UNIT = r"(?:mm|cm|inch|in|\"|'')"  # behind a number; metres are recorded, but nobody types them here
_MEASURE = re.compile(rf"({VALUE})\s*({UNIT})?", re.IGNORECASE)


def number(text: str) -> Fraction | None:
    """A number as the trade writes it, exactly: with a point or a comma, or with a fraction; None if it is none.

    >>> number("34,9"), number("1 3/8"), number("3/0")
    (Fraction(349, 10), Fraction(11, 8), None)
    """
    if not re.fullmatch(VALUE, text):
        return None
    *whole, last = text.replace(",", ".").split()
    above, slash, below = last.partition("/")
    if slash and not int(below):
        return None
    return sum(map(Fraction, whole), Fraction(above) / int(below) if slash else Fraction(last))


def measure(text: str, unit: str | None) -> float | None:
    """A measure in a unit (mm if there is none), lengths converted; without one of its own it is in that unit. None if it is no measure.

    >>> measure("34.9mm", "mm"), measure("1 in", "mm"), measure("2 1/2 cm", "mm"), measure("wide", "mm"), measure("-5", "mm")
    (34.9, 25.4, 25.0, None, None)
    """
    unit = unit or "mm"
    found = _MEASURE.fullmatch(text.strip().lower())
    value = number(found[1]) if found else None
    if found is None or value is None:
        return None
    given = found[2] or unit
    if given == unit:
        return float(value)
    return float(value * IN_MM[given] / IN_MM[unit]) if unit in IN_MM else None


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
