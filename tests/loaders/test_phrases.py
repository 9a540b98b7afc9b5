"""Serial ranges as printed: what is read, what is refused and with which meanings.

Source of the wordings: common practice of parts lists and service bulletins; from memory.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.words.errors import DataError
from loaders.phrases import SerialRange, format, parse, split, ungroup

ALL = (None, None)

READ = [
    ("to 4096 incl.", [(None, "4096")]),
    ("AB 4500 and up", [("AB4500", None)]),
    ("PRE4500 only", [("PRE4500", "PRE4500")]),
    ("4500 and lower", [(None, "4500")]),
    ("4500 and Lower.", [(None, "4500")]),
    ("4500 & earlier", [(None, "4500")]),
    ("4500, and below", [(None, "4500")]),
    ("4500 and prior", [(None, "4500")]),
    ("4500 or lower", [(None, "4500")]),
    ("4501 & up", [("4501", None)]),
    ("4501 and up", [("4501", None)]),
    ("4501 and higher", [("4501", None)]),
    ("4501 AND LATER", [("4501", None)]),
    ("4501-UP", [("4501", None)]),
    ("4501 up", [("4501", None)]),
    ("4501+", [("4501", None)]),
    ("4501 onwards", [("4501", None)]),
    ("prior to 4500", [(None, "4499")]),
    ("before B0850", [(None, "B0849")]),
    ("earlier than 1000", [(None, "999")]),
    ("earlier than 01000", [(None, "00999")]),
    ("earlier than B1000", [(None, "B0999")]),
    ("up to and including 4500", [(None, "4500")]),
    ("up to & incl. 4500", [(None, "4500")]),
    ("thru 4500", [(None, "4500")]),
    ("4501 through 4600", [("4501", "4600")]),
    ("4501 thru 4600", [("4501", "4600")]),
    ("4501 to 4600", [("4501", "4600")]),
    ("from 4501 to 4600 inclusive", [("4501", "4600")]),
    ("4501 up to and including 4600", [("4501", "4600")]),
    ("4501-4600", [("4501", "4600")]),
    ("4501 – 4600", [("4501", "4600")]),  # en dash
    ("from 4501 on", [("4501", None)]),
    ("from 4501", [("4501", None)]),
    ("starting with 4501", [("4501", None)]),
    ("effective with serial no. 4501", [("4501", None)]),
    ("after 4500", [("4501", None)]),
    ("after B0099", [("B0100", None)]),
    ("above 9999", [("10000", None)]),
    ("4500 only", [("4500", "4500")]),
    ("only 4500", [("4500", "4500")]),
    ("4500", [("4500", "4500")]),
    ("all", [ALL]),
    ("All serial numbers", [ALL]),
    ("312,400 and higher", [("312400", None)]),
    ("1,312,400 and higher", [("1312400", None)]),
    ("312.400 and higher", [("312400", None)]),
    ("312,400-312,999", [("312400", "312999")]),
    ("100, 200 and up", [("100", "100"), ("200", None)]),
    ("4500,4600", [("4500", "4500"), ("4600", "4600")]),
    ("100-200, 300-400; 500 & up", [("100", "200"), ("300", "400"), ("500", None)]),
    ("100 to 200 and 300 to 400", [("100", "200"), ("300", "400")]),
    ("100, 200, and 300 and up", [("100", "100"), ("200", "200"), ("300", None)]),
    ("Serial No. B 0850 to B 1200", [("B0850", "B1200")]),
    ("S/N 4501 & up", [("4501", None)]),
    ("Nos. 100-200", [("100", "200")]),
    ("#4501 and up", [("4501", None)]),
    ("B-0850 thru B-1200", [("B0850", "B1200")]),
    ("B0850-C0120", [("B0850", "C0120")]),
    ("D990 & up", [("D990", None)]),
    ("00412 and higher", [("00412", None)]),
    ("1250A and up", [("1250A", None)]),
]  # fmt: skip


@pytest.mark.parametrize(("phrase", "ranges"), READ)
def test_a_printed_range_is_read(phrase: str, ranges: list[tuple[str | None, str | None]]) -> None:
    assert [(each.first, each.last) for each in parse(phrase)] == ranges


REFUSED = [
    ("max 4500", '"4500 and lower" or "MAX4500 only"'),
    ("thru-4500", '"4500 and lower" or "THRU4500 only"'),
    ("not 4500", "is not a range"),
    ("pre-4500", '"prior to 4500" or "PRE4500 only"'),
    ("post 4500", '"after 4500" or "POST4500 only"'),
    ("ab 4500", '"from 4500 on" or "AB4500 only"'),
    ("bis 4500", '"4500 and lower" or "BIS4500 only"'),
    ("up to 4500", '"4500 and lower" or "prior to 4500"'),
    ("to 4500", '"4500 and lower" or "prior to 4500"'),
    ("until 4500", '"4500 and lower" or "prior to 4500"'),
    ("from 4501 up to 4600", '"4501 to 4600" or "from 4501 on, but prior to 4600"'),
    ("between 4501 and 4600", '"4501 to 4600" or "after 4501, but prior to 4600"'),
    ("312 400 and higher", '"312400 and higher" or "312; 400 and higher"'),
    ("100,200,300", '"100200300" or "100; 200; 300"'),
    ("312,40 and higher", '"31240" or "312; 40"'),
    ("1250-60", '"1250 to 1260" or "125060"'),
    ("B0850-1200", '"B0850 to B1200" or "B0850; 1200"'),
    ("B0850 to 1200", '"B0850 to B1200" or "B0850; 1200"'),
    ("4501/4600", '"4501 to 4600" or "4501; 4600"'),
    ("4600 to 4501", "ends before it begins"),
    ("about 4500", "does not say exactly"),
    ("approx. 4500 and up", "does not say exactly"),
    ("4500 or so", "does not say exactly"),
    ("prior to B0001", "comes before B0001 is not in its digits"),
    ("after B9999", "comes after B9999 is not in its digits"),
    ("after 1250A", "comes after 1250A is not in its digits"),
    ("100 and up; 200 to 300", "have serials in common"),
    ("all; 100 only", "have serials in common"),
    ("", "is not a range"),
    (";", "is not a range"),
    ("see page 12", "is not a range"),
    ("from 1948 models on", "is not a range"),
    ("late units", "is not a range"),
    ("1.23E+05", "is not a range"),
]  # fmt: skip


@pytest.mark.parametrize(("phrase", "words"), REFUSED)
def test_what_is_unclear_is_refused_with_its_meanings(phrase: str, words: str) -> None:
    with pytest.raises(DataError) as refused:
        parse(phrase)
    assert words in refused.value.problem
    assert refused.value.remedy


@pytest.mark.parametrize("number", [101, 4500, 99_999, 104_101])
def test_neighbours_meet_without_a_gap(number: int) -> None:
    """One below, at, and above a break: every wording puts each serial on one side."""
    (lower,), (higher,) = parse(f"{number} and lower"), parse(f"{number + 1} and higher")
    (before,), (after,) = parse(f"prior to {number + 1}"), parse(f"after {number}")
    assert (lower.last, higher.first) == (before.last, after.first) == (str(number), str(number + 1))
    with pytest.raises(DataError, match="in common"):
        parse(f"{number} and lower; {number} and higher")


SERIALS = st.builds(lambda letters, number: f"{letters}{number:05d}", st.sampled_from(["", "B", "SP"]), st.integers(1, 99999))


@given(st.one_of(
    st.just(SerialRange(None, None)),
    st.builds(lambda s: SerialRange(None, s), SERIALS),
    st.builds(lambda s: SerialRange(s, None), SERIALS),
    st.builds(lambda a, n: SerialRange(a, f"{split(a)[0]}{max(int(split(a)[1]), n):05d}"), SERIALS, st.integers(1, 99999)),
))  # fmt: skip
def test_what_is_written_is_read_back(one: SerialRange) -> None:
    assert parse(format(one)) == (one,)


@given(st.text(alphabet="0123456789 ,.;-&+ABCandupthrolewi/#'", max_size=30))
def test_junk_is_read_or_refused_and_nothing_else(phrase: str) -> None:
    try:
        ranges = parse(phrase)
    except DataError as error:
        assert error.problem and error.remedy
        return
    assert parse(format(ranges)) == ranges


@pytest.mark.parametrize(("text", "plain"), [("312,400", "312400"), ("B312,400", "B312400"), ("312,40", "312,40"), ("4500", "4500"), ("x,y", "x,y")])
def test_thousands_separators_are_taken_out_of_numbers_only(text: str, plain: str) -> None:
    assert ungroup(text) == plain
