"""Readings: what is accepted, what is refused and with which words, and that writing one down again loses nothing."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.probability.channel.reading import Reading
from kb.words.errors import DataError

NOTATION = st.text(alphabet="0168HM3AZ?*[]-. /é!^", max_size=70)


@pytest.mark.parametrize(("text", "tokens"), [
    ("2?5[38]61", ("2", "?", "5", "38", "6", "1")),
    ("h 41-20.b", ("H", "4", "1", "2", "0", "B")),
    ("2**5***", ("2", "*", "5", "*")),
    ("*-*", ("*",)),
    ("2*?*5", ("2", "*", "?", "*", "5")),
    ("[83 8]", ("38",)),
    ("[3]", ("3",)),
    ("\uff12\uff1f", ("2", "?")),  # full-width digits and signs of an East Asian keyboard
    ("É1", ("E", "1")),
])  # fmt: skip
def test_a_reading_is_a_row_of_tokens(text: str, tokens: tuple[str, ...]) -> None:
    assert Reading.parse(text).tokens == tokens
    assert Reading.parse(text).text == text


@pytest.mark.parametrize(("text", "message"), [
    ("", '"" has nothing to read.'),
    (" -.", '" -." has nothing to read.'),
    ("2[38", '"2[38" has a [ without its ]. Write one of these as in "2[38]5".'),
    ("238]", '"238]" has a ] without its [.'),
    ("2[3[8]]", '"2[3[8]]" has a [ without its ].'),
    ("2[]5", '"2[]5" has an empty [ ].'),
    ("2[!3]5", '"2[!3]5" says what a character is not. List what it may be, as in [38].'),
    ("2[^3]5", '"2[^3]5" says what a character is not.'),
    ("2[3-8]5", '"2[3-8]5" has a dash inside [ ]. It could mean 3 or 8, or 3 to 8: write [38] or [345678].'),
    ("2[3–8]5", '"2[3–8]5" has a dash inside [ ].'),
    ("2[3,8]5", '"2[3,8]5" contains "," inside [ ].'),
    ("2[3?]5", '"2[3?]5" contains "?" inside [ ].'),
    ("12#4", '"12#4" contains "#".'),
    ("1" * 65, '"11111111111111111111..." is longer than 64 characters. Give one number at a time.'),
])  # fmt: skip
def test_what_is_no_reading_is_refused_with_what_to_write(text: str, message: str) -> None:
    with pytest.raises(DataError) as caught:
        Reading.parse(text)
    assert str(caught.value).startswith(message)


@pytest.mark.parametrize(("text", "plain"), [("2B5", True), ("2 5-b", True), ("2?5", False), ("2[38]5", False), ("[2]5", False), ("25*", False)])
def test_only_what_is_typed_without_signs_is_plain(text: str, plain: bool) -> None:
    assert Reading.parse(text).plain is plain


@pytest.mark.parametrize(("text", "turned"), [
    ("16", "91"),
    ("6?9*", "*6?9"),
    ("MW1", "1MW"),
    ("[69]0M", "W0[69]"),
    ("H[01]Z", "Z[01]H"),
    ("69", None),  # the same upside down
    ("1*1", None),
    ("164", None),  # 4 has no turned form
    ("1[63]", None),
    ("*", None),
])  # fmt: skip
def test_upside_down(text: str, turned: str | None) -> None:
    found = Reading.parse(text).turned()
    assert (None if found is None else str(found)) == turned
    if found is not None:
        assert found.turned() == Reading.parse(text)


@given(NOTATION | st.text(max_size=70))
def test_any_text_is_a_reading_or_a_plain_error_and_can_be_written_again(text: str) -> None:
    try:
        reading = Reading.parse(text)
    except DataError as error:
        assert error.problem and error.remedy
        return
    assert Reading.parse(str(reading)) == reading
    assert hash(Reading.parse(str(reading))) == hash(reading)
    assert 1 <= len(reading.tokens) <= 64
    assert all(token in "?*" or "".join(sorted(set(token))) == token for token in reading.tokens)
    assert ("*", "*") not in zip(reading.tokens, reading.tokens[1:], strict=False)


def test_a_long_pattern_is_decided_at_once() -> None:
    assert not Reading.parse("*A" * 32).could_be("A" * 31 + "B" * 500)
    assert Reading.parse("*A" * 32).could_be("AB" * 200 + "A" * 31)
