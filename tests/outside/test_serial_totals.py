"""Totals from sighted serials against the published serial-number problem.

Sources: L. A. Goodman, "Serial number analysis", Journal of the American Statistical Association 47, 1952 (the estimate); the
worked examples that encyclopedias print under "German tank problem" (serials 19 40 42 60, and 2 6 7 14); R. Ruggles and
H. Brodie, JASA 42, 1947, 72-91 (why blocks are kept apart). Oracle: the sums written out.
"""

from math import comb

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.probability.production.block_totals import Total, by_block, total
from kb.probability.production.blocks import Block, Line
from kb.words.errors import DataError


@pytest.mark.parametrize(("serials", "estimate", "mean", "deviation", "source"), [
    ([19, 40, 42, 60], 74, 88.5, 50.22, "encyclopedia example"),
    ([2, 6, 7, 14], 16.5, 19.5, 10.36, "encyclopedia example"),
])  # fmt: skip
def test_published_estimates(serials: list[int], estimate: float, mean: float, deviation: float, source: str) -> None:
    found = total(serials)
    assert found.estimate == estimate, source
    assert found.mean == mean, source
    assert found.deviation == pytest.approx(deviation, abs=0.005), source


def test_published_posterior() -> None:
    found = total([19, 40, 42, 60])
    assert found.at_most(0.5) == 75  # common practice prints the median and the 95 % limit
    assert found.at_most(0.95) == 159
    assert found.more_than(100) == pytest.approx(0.201, abs=0.0005)


@given(st.integers(4, 8), st.integers(0, 40))
def test_closed_forms_are_the_sums(k: int, above: int) -> None:
    found = Total(k, k + above)
    counts = range(found.highest, 20_000)
    weights = [1 / comb(n, k) for n in counts]
    assert found.more_than(found.highest + 5) == pytest.approx(sum(weights[6:]) / sum(weights), rel=1e-6, abs=1e-9)
    assert found.mean == pytest.approx(sum(n * w for n, w in zip(counts, weights, strict=True)) / sum(weights), rel=1e-4)
    middle = found.at_most(0.5)
    assert found.more_than(middle) <= 0.5
    assert middle == found.highest or found.more_than(middle - 1) > 0.5


def test_blocks_are_counted_apart() -> None:
    """Numbers of the second model begin at the next hundred; across blocks they would say that 300 units were built."""
    blocks = tuple(
        Block(name, "s", "", position, "", first, first + 99, "", None, (("", 100.0),), 100.0)
        for position, (name, first) in enumerate([("one", 101), ("two", 301)])
    )
    line = Line("s", "s", "", blocks)
    found = by_block(line, [line.order(0, 105), line.order(0, 120), line.order(1, 302), line.order(1, 310), line.order(1, 304)])
    assert found == {"one": Total(2, 20), "two": Total(3, 10)}


@pytest.mark.parametrize(("offsets", "message"), [
    ([7, 7], "1 sighted serials say nothing about how many there were. At least two different ones are needed."),
    ([0, 7], "0 is no place in a block. The first number of a block is its place 1."),
])  # fmt: skip
def test_what_says_nothing_is_refused(offsets: list[int], message: str) -> None:
    with pytest.raises(DataError) as raised:
        total(offsets)
    assert str(raised.value) == message
