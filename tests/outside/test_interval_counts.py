"""How many serials of a stretch a reading allows, against two libraries that intersect regular languages.

Where nothing is ever misread, an entry is 1 or 0 and the weight of a stretch counts its numbers, each once for every alignment.
Oracles: greenery 4 (MIT) and automata-lib 9 (MIT). A range a..b becomes a regular expression by splitting it at the
first differing digit into classes, which is independent of our sums. Repetitions are written out: automata-lib 9.2.0
reads `X{0}` wrongly.
"""

import random
import re
from collections.abc import Callable

import numpy as np
import pytest
from automata.fa.dfa import DFA
from automata.fa.nfa import NFA
from greenery import parse

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.digits import PrintedForm, stretch_weights
from kb.probability.channel.reading import Reading

NEVER = {"clean": 0.0, "worn": 0.0, "badly-worn": 0.0}
CERTAIN = Assumptions().override(misread=NEVER, lost=NEVER, doubled=NEVER, end_lost=NEVER, upside_down=0.0)


def counted(reading: str, width: int, *stretches: tuple[int, int]) -> list[float]:
    first, last = np.array(stretches, dtype=np.int64).T
    compiled = compile_readings([Reading.parse(reading)], [None], CERTAIN)
    return [float(each) for each in stretch_weights(compiled, PrintedForm(width=width), first, last, CERTAIN)]


def pattern_of(reading: str) -> str:
    return reading.replace("?", "[0-9]").replace("*", "[0-9]*")


def range_pattern(first: int, last: int, width: int) -> str:
    """All numbers first..last of this width, as alternatives of classes."""
    low, high = f"{first:0{width}d}", f"{last:0{width}d}"
    if low == high:
        return low
    fork = next(i for i in range(width) if low[i] != high[i])
    free = ["[0-9]" * (width - 1 - i) for i in range(width)]
    ways = [low, high]
    ways += [low[:i] + f"[{int(low[i]) + 1}-9]" + free[i] for i in range(fork + 1, width) if low[i] != "9"]
    ways += [high[:i] + f"[0-{int(high[i]) - 1}]" + free[i] for i in range(fork + 1, width) if high[i] != "0"]
    if int(low[fork]) + 1 < int(high[fork]):
        ways.append(low[:fork] + f"[{int(low[fork]) + 1}-{int(high[fork]) - 1}]" + free[fork])
    return "|".join(ways)


def by_automata(reading: str, first: int, last: int, width: int) -> int:
    asked = DFA.from_nfa(NFA.from_regex(pattern_of(reading), input_symbols=set("0123456789")))
    inside = DFA.from_nfa(NFA.from_regex(range_pattern(first, last, width), input_symbols=set("0123456789")))
    both = asked & inside  # a name of its own: counting a temporary raises
    return int(both.cardinality())


def by_greenery(reading: str, first: int, last: int, width: int) -> int:
    return len(parse(pattern_of(reading)) & parse(range_pattern(first, last, width)))


@pytest.mark.parametrize(("reading", "count", "shorter"), [("2?5[38]6?", 200, 0), ("*[38]6?", 20_000, 0), ("1*", 100_000, 11_111)])
def test_six_digits(reading: str, count: int, shorter: int) -> None:
    """On purpose we also allow the numbers whose leading zeros were left out: 1, 10 to 19 and so on for `1*`."""
    assert counted(reading, 6, (0, 999_999)) == [count + shorter]
    assert by_automata(reading, 0, 999_999, 6) == by_greenery(reading, 0, 999_999, 6) == count
    described = re.compile(pattern_of(reading))
    assert sum(bool(described.fullmatch(f"{number:06d}")) for number in range(1_000_000)) == count


def test_nine_digits_and_two_stars() -> None:
    """`*38?1*` between 123,456,789 and 987,654,321: 5,359,500 numbers; a weight counts those twice that hold it twice."""
    first, last = 123_456_789, 987_654_321
    assert by_automata("*38?1*", first, last, 9) == 5_359_500
    placed = [f"{'?' * before}38?1{'?' * (5 - before)}" for before in range(6)]
    by_place = [counted(reading, 9, (first, last))[0] for reading in placed]
    assert counted("*38?1*", 9, (first, last)) == [pytest.approx(sum(by_place), rel=1e-12)]
    twice = [f"{'?' * a}38?1{'?' * b}38?1{'?' * (1 - a - b)}" for a in range(2) for b in range(2 - a)]
    assert sum(by_place) - sum(counted(reading, 9, (first, last))[0] for reading in twice) == 5_359_500


@pytest.mark.parametrize("oracle", [by_automata, by_greenery])
def test_random_stretches(oracle: Callable[[str, int, int, int], int]) -> None:
    chance = random.Random(7)
    nonzero = 0
    for _ in range(40):
        width = chance.randint(2, 6)
        reading = "".join(chance.choices(["?", "*", "[38]", "[012]", *"0138"], [4, 2, 1, 1, 1, 1, 1, 1], k=chance.randint(1, width)))
        head, star, tail = reading.partition("*")
        reading = head + star + tail.replace("*", "?")  # with one star a number of known length can be read in one way only
        first = chance.randrange(10 ** (width - 1), 10**width)  # no leading zeros: a missing one would count as well
        last = chance.randrange(first, 10**width)
        expected = oracle(reading, first, last, width)
        assert counted(reading, width, (first, last)) == [expected], (reading, first, last)
        nonzero += expected > 0
    assert nonzero >= 10
