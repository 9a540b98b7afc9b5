"""Shim packs against exhaustive search and against published subset-sum and coin-change examples.

Sources: Cormen, Leiserson, Rivest and Stein, Introduction to Algorithms, 3rd ed., section 35.5 (S = {104, 102, 201, 101}, t = 308: the
largest sum not above t is 307 = 104 + 102 + 101); the well-known coins 1, 3, 4, where the greedy choice gives 4 + 1 + 1 for 6 and the
fewest pieces are 3 + 3 (the usual counter-example to the greedy algorithm; from memory).
"""

from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.probability.catalogue.shims import FINEST, Pack, Stock, fewest, packs
from kb.words.errors import QuestionError


def micro(number: int) -> Fraction:
    return number * FINEST


def stock(*thicknesses: int, count: int = 1) -> list[Stock]:
    return [Stock(str(t), micro(t), count) for t in thicknesses]


def test_the_subset_sum_of_cormen_leiserson_rivest_and_stein() -> None:
    reached = fewest(stock(104, 102, 201, 101), micro(308))
    assert max(reached) == 307
    (best,) = packs(stock(104, 102, 201, 101), micro(306), micro(308), micro(308), most=1)
    assert dict(best.pieces) == {"104": 1, "102": 1, "101": 1}


def test_the_coins_where_greedy_is_wrong() -> None:
    (best,) = packs(stock(1, 3, 4, count=6), micro(6), micro(6), micro(6), most=1)
    assert (dict(best.pieces), best.count) == ({"3": 2}, 2)


def by_hand(stocked: list[Stock], low: Fraction, high: Fraction, aim: Fraction) -> list[tuple[int, Fraction, Fraction]]:
    """Every combination there is, each thickness with its fewest pieces."""
    least: dict[Fraction, int] = {}
    for counts in product(*(range(each.count + 1) for each in stocked)):
        total = sum((each.thickness * n for each, n in zip(stocked, counts, strict=True)), Fraction(0))
        if low <= total <= high:
            least[total] = min(least.get(total, 10**6), sum(counts))
    return sorted((count, abs(total - aim), total) for total, count in least.items())


@given(
    st.lists(st.tuples(st.integers(1, 60), st.integers(0, 4)), min_size=1, max_size=4, unique_by=lambda each: each[0]),
    st.integers(0, 200),
    st.integers(0, 60),
)
def test_every_combination_tried_by_hand(rows: list[tuple[int, int]], low: int, width: int) -> None:
    stocked = [Stock(str(t), micro(t * 10), count) for t, count in rows]
    limits = micro(low * 10), micro((low + width) * 10), micro(low * 10 + width * 5)
    found = packs(stocked, *limits, most=3)
    assert [(p.count, abs(p.thickness - limits[2]), p.thickness) for p in found] == by_hand(stocked, *limits)[:3]
    for pack in found:
        assert sum(micro(int(name) * 10) * count for name, count in pack.pieces) == pack.thickness
        assert all(count <= next(s.count for s in stocked if s.name == name) for name, count in pack.pieces)


def test_nothing_at_hand_and_nothing_needed() -> None:
    assert packs([], micro(100), micro(200), micro(150)) == []
    assert packs([], micro(0), micro(200), micro(100)) == [Pack((), Fraction(0))]


@pytest.mark.parametrize("thickness", [Fraction(0), Fraction(-1, 10), Fraction(1, 3000)])
def test_no_such_shim(thickness: Fraction) -> None:
    with pytest.raises(QuestionError, match="mm thick"):
        packs([Stock("x", thickness, 1)], Fraction(0), Fraction(1), Fraction(1))
