"""Weights of readings on marks and on stretches of serials, against weighted transducers of OpenFst.

The channel becomes a transducer with states before and after the one slip, the text or the stretch an acceptor; what OpenFst sums over
all paths of their composition must be the weight. A stretch is written as an automaton over (position, still on the lower end, still on
the upper end), which shares nothing with the program's sums. Debian: libfst-tools (OpenFst 1.7.9, Apache-2.0).
"""

import math
import os
import subprocess
from pathlib import Path

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.digits import PrintedForm
from kb.probability.channel.range_weights import weigh_stretches
from kb.probability.channel.reading import Reading
from kb.probability.channel.wear import confusion
from kb.words.notation import ALPHABET

A = Assumptions()
MORE = 12 if os.environ.get("KB_CAMPAIGN") else 3
Arc = tuple[int, int, int, int, float]  # from, to, true character (0: none), token (0: none), weight
EXPONENT = A.sharpness


def channel(reading: str) -> tuple[list[Arc], list[int], list[Arc], list[int]]:
    """The channel at "worn" (arcs true:token, final states) and the reading (arcs over the tokens' numbers, final states). Not turned upside down."""
    tokens = Reading.parse(reading).tokens
    table = confusion("worn", A)
    arcs: list[Arc] = []
    chain: list[Arc] = []
    state = 0
    n = sum(token != "*" for token in tokens)
    for number, token in enumerate(tokens, start=1):
        if token == "*":
            chain.append((state, state, 100, 100, 1.0))
            continue
        chain.append((state, state + 1, number, number, 1.0))
        state += 1
    star = "*" in tokens
    if star:
        arcs += [(0, 0, c, 100, 1.0) for c in range(1, 37)]
    lost, doubled = A.lost["worn"] ** EXPONENT, A.doubled["worn"] ** EXPONENT
    end_lost, more = A.end_lost["worn"] ** EXPONENT, A.end_lost_more**EXPONENT
    entry = {
        (number, c): 1.0 if token == "?" else float(sum(table[c, ALPHABET.index(t)] for t in token)) ** EXPONENT
        for number, token in enumerate(tokens, start=1) if token != "*" for c in range(36)
    }  # fmt: skip
    # 0 begins, 1 inside, 2 behind the slip, 3 the head broke off, 4 the end broke off, 5.. : the second token of a doubled character
    inside = 0 if star else 1
    extra = 5
    for (number, c), weight in entry.items():
        arcs.append((inside, inside, c + 1, number, weight))
        if not star:
            arcs += [(0, 1, c + 1, number, weight), (2, 2, c + 1, number, weight), (3, 2, c + 1, number, weight)]
            if number < n:
                for start in (0, 1):
                    arcs.append((start, extra, c + 1, number, doubled * weight))
                arcs.append((extra, 2, 0, number + 1, entry[number + 1, c]))
                extra += 1
    if not star:
        for c in range(1, 37):
            arcs += [(0, 3, c, 0, end_lost), (3, 3, c, 0, more), (1, 4, c, 0, end_lost), (4, 4, c, 0, more)]
            arcs.append((1, 6000, c, 0, lost))  # a loss inside: a token must follow
        arcs += [(6000, 2, c + 1, number, weight) for (number, c), weight in entry.items()]
    return arcs, [0] if star else [1, 2, 4], chain, [state]


def compiled_fst(path: Path, arcs: list[Arc], finals: list[int]) -> Path:
    names: dict[int, int] = {}
    for arc in arcs:
        for state in arc[:2]:
            names.setdefault(state, len(names))
    begin = names[0]
    lines = sorted(
        (f"{names[a]} {names[b]} {i} {o} {-math.log(w):.17g}" for a, b, i, o, w in arcs if w > 0),
        key=lambda line: line.split()[0] != str(begin),  # the first line names the state to begin with
    )
    text = "\n".join([*lines, *(str(names[state]) for state in finals if state in names)]) + "\n"
    with path.open("wb") as target:
        subprocess.run(["fstcompile", "--arc_type=log64"], input=text.encode(), stdout=target, check=True)
    return path


def total(folder: Path, text: list[Arc], ends: list[int], reading: str) -> float:
    """The sum over all paths through text, channel and reading."""
    arcs, finals, chain, last = channel(reading)
    first = compiled_fst(folder / "text", text, ends)
    second = compiled_fst(folder / "channel", arcs, finals)
    third = compiled_fst(folder / "reading", chain, last)
    (folder / "sorted").write_bytes(subprocess.run(["fstarcsort", "--sort_type=ilabel", second], capture_output=True, check=True).stdout)
    (folder / "third").write_bytes(subprocess.run(["fstarcsort", "--sort_type=ilabel", third], capture_output=True, check=True).stdout)
    (folder / "one").write_bytes(subprocess.run(["fstcompose", first, folder / "sorted"], capture_output=True, check=True).stdout)
    (folder / "two").write_bytes(
        subprocess.run(["fstarcsort", "--sort_type=olabel", folder / "one"], capture_output=True, check=True).stdout
    )
    (folder / "all").write_bytes(subprocess.run(["fstcompose", folder / "two", folder / "third"], capture_output=True, check=True).stdout)
    command = ["fstshortestdistance", "--reverse", "--delta=1e-14", folder / "all"]
    out = subprocess.run(command, capture_output=True, check=True).stdout.decode().split()
    return math.exp(-float(out[1])) if len(out) > 1 and out[1] != "Infinity" else 0.0


def mark(text: str) -> tuple[list[Arc], list[int]]:
    return [(i, i + 1, ALPHABET.index(c) + 1, ALPHABET.index(c) + 1, 1.0) for i, c in enumerate(text)], [len(text)]


def stretch(first: int, last: int, width: int) -> tuple[list[Arc], list[int]]:
    """All numbers of `width` digits from first to last."""
    low, high = f"{first:0{width}d}", f"{last:0{width}d}"
    arcs, finals = [], set()
    state_of: dict[tuple[int, bool, bool], int] = {(0, True, True): 0}
    waiting = [(0, True, True)]
    while waiting:
        place, on_low, on_high = here = waiting.pop()
        if place == width:
            finals.add(state_of[here])
            continue
        for digit in range(int(low[place]) if on_low else 0, (int(high[place]) if on_high else 9) + 1):
            there = (place + 1, on_low and digit == int(low[place]), on_high and digit == int(high[place]))
            if there not in state_of:
                state_of[there] = len(state_of)
                waiting.append(there)
            arcs.append((state_of[here], state_of[there], digit + 1, digit + 1, 1.0))
    return arcs, sorted(finals)


@pytest.mark.parametrize(("reading", "text"), [
    ("H4?20B", "H4120B"), ("H4[12]2B", "H4120B"), ("H*2B", "H4122B"), ("25?", "2578"), ("2257", "257"), ("?57", "41257"), ("4B7?", "4B7E123"),
    ("Q2*7*", "Q27477"),
])  # fmt: skip
def test_a_mark(tmp_path: Path, reading: str, text: str) -> None:
    expected = total(tmp_path, *mark(text), reading)
    found = compile_readings([Reading.parse(reading)], ["worn"], A).weight(text)
    assert expected > 0
    assert found == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize("reading", ["2?5[38]6124?", "2*[38]7", "25347?24", "?2534712345", "25*"])
def test_stretches_of_nine_digits_however_narrow(tmp_path: Path, reading: str) -> None:
    rng = np.random.default_rng(len(reading))
    compiled, form = compile_readings([Reading.parse(reading)], ["worn"], A), PrintedForm(width=9)
    for span in [1, *rng.integers(2, 51, MORE), *rng.integers(51, 10**8, MORE)]:
        first = int(rng.integers(10**8, 9 * 10**8 - 10**8))  # no leading zeros: those are another law
        last = first + int(span) - 1
        ends = np.array([first]), np.array([last])
        found = weigh_stretches(compiled, [form], np.zeros(1, dtype=np.int64), *ends, A)[0]
        assert found == pytest.approx(total(tmp_path, *stretch(first, last, 9), reading), rel=1e-7, abs=0)
