"""Reading notation against the pattern notation it borrows.

Source: POSIX.1-2017, Shell Command Language, 2.13 Pattern Matching Notation.
Oracles: `fnmatch` of the standard library and GLOB of SQLite, two programs written by others from the same rules. They
part over negation (`[!3]`, `[^3]`), and a dash inside brackets is a range to them and no sign at all in a serial: readings refuse both.
"""

import random
import sqlite3
from fnmatch import fnmatchcase

import pytest

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.reading import Reading
from kb.words.errors import DataError

PAIRS = 20_000
CHARACTERS = "0138B"


@pytest.mark.parametrize(("reading", "serial", "expected", "source"), [
    ("2?5", "285", True, "POSIX 2.13.1"),
    ("2?5", "25", False, "POSIX 2.13.1"),  # ? is never nothing
    ("2?5", "2885", False, "POSIX 2.13.1"),
    ("2[38]5", "285", True, "POSIX 2.13.1"),
    ("2[38]5", "275", False, "POSIX 2.13.1"),
    ("2*", "2", True, "POSIX 2.13.2"),  # * may be nothing
    ("2*5", "2B1235", True, "POSIX 2.13.2"),
    ("*5", "B1250", False, "POSIX 2.13.2"),
    ("*", "B1250", True, "POSIX 2.13.2"),
    ("2**5", "25", True, "common practice"),
])  # fmt: skip
def test_a_reading_could_be_a_serial(reading: str, serial: str, expected: bool, source: str) -> None:
    assert Reading.parse(reading).could_be(serial) is expected, source
    assert fnmatchcase(serial, reading) is expected, f"table and oracle disagree: {source}"


def random_pattern(chance: random.Random) -> str:
    pieces = [
        chance.choice(["?", "*", *CHARACTERS, f"[{''.join(chance.sample(CHARACTERS, chance.randint(1, 3)))}]"]) for _ in range(chance.randint(1, 6))
    ]
    return "".join(pieces)


def test_twenty_thousand_patterns_mean_the_same_to_three_programs() -> None:
    chance = random.Random(2)
    database = sqlite3.connect(":memory:")
    agreed = {True: 0, False: 0}
    for _ in range(PAIRS):
        pattern, text = random_pattern(chance), "".join(chance.choices(CHARACTERS, k=chance.randint(1, 6)))
        ours = Reading.parse(pattern).could_be(text)
        [[glob]] = database.execute("select ? glob ?", (text, pattern))
        assert ours == bool(glob) == fnmatchcase(text, pattern), (pattern, text)
        agreed[ours] += 1
    database.close()
    assert min(agreed.values()) > PAIRS / 20, "the pairs must try both answers"


def test_what_the_pattern_describes_is_what_has_weight_where_nothing_is_misread() -> None:
    chance = random.Random(3)
    never = {"clean": 0.0, "worn": 0.0, "badly-worn": 0.0}
    certain = Assumptions().override(misread=never, lost=never, doubled=never, end_lost=never, upside_down=0.0)
    for _ in range(2_000):
        pattern, text = random_pattern(chance), "".join(chance.choices(CHARACTERS, k=chance.randint(1, 6)))
        weight = compile_readings([Reading.parse(pattern)], [None], certain).weight(text)
        assert (weight > 0) == fnmatchcase(text, pattern), (pattern, text)


@pytest.mark.parametrize(("pattern", "glob", "fnmatch"), [("[!3]", 0, True), ("[^3]", 1, False)])
def test_negation_is_not_common_ground_and_refused(pattern: str, glob: int, fnmatch: bool) -> None:
    database = sqlite3.connect(":memory:")
    assert database.execute("select '4' glob ?", (pattern,)).fetchone() == (glob,)
    database.close()
    assert fnmatchcase("4", pattern) is fnmatch
    with pytest.raises(DataError, match="says what a character is not"):
        Reading.parse(pattern)
