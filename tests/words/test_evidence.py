"""Evidence in its notation: what must be read, what must be refused, and that any text gives one or the other."""

import json
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.words.errors import DataError
from kb.words.evidence import (
    CastDate,
    Evidence,
    MarkReading,
    SecondLook,
    Seen,
    SerialReading,
    parse_cast_date,
    parse_mark,
    parse_second_look,
    parse_seen,
    parse_serial,
)

PARSERS = (parse_serial, parse_mark, parse_seen, parse_cast_date, parse_second_look)
Parser = Callable[[str], object]


@pytest.mark.parametrize(("parse", "text", "expected"), [
    (parse_serial, "2?5[38]61", SerialReading(reading="2?5[38]61")),
    (parse_serial, "engine-no=E41?", SerialReading(series="engine-no", reading="E41?")),
    (parse_serial, " engine-no = E 41 ", SerialReading(series="engine-no", reading="E 41")),
    (parse_mark, "crankcase=H41?0B", MarkReading(component="crankcase", reading="H41?0B")),
    (parse_mark, "cover@left=none", MarkReading(component="cover", place="left", reading="none")),
    (parse_mark, "H41?0B", MarkReading(reading="H41?0B")),
    (parse_seen, "crankcase.drain-lug=yes", Seen(component="crankcase", feature="drain-lug", value="yes")),
    (parse_seen, "cover@left.width=34.9mm", Seen(component="cover", place="left", feature="width", value="34.9mm")),
    (parse_seen, "cover.bore=a=b", Seen(component="cover", feature="bore", value="a=b")),
    (parse_cast_date, "crankcase=C 14 8", CastDate(component="crankcase", code="C 14 8")),
    (parse_cast_date, "cover@right=8-48", CastDate(component="cover", place="right", code="8-48")),
    (parse_second_look, "serial:3=8", SecondLook(what="serial", at=3, seen="8")),
    (parse_second_look, "cover@left:12=o", SecondLook(what="cover@left", at=12, seen="O")),
    (parse_second_look, "cover@left=H4[13]?:5=8", SecondLook(what="cover@left=H4[13]?", at=5, seen="8")),
])
def test_the_notation_is_read_and_written_again(parse: Parser, text: str, expected: object) -> None:
    assert parse(text) == expected
    assert parse(str(expected)) == expected


@pytest.mark.parametrize(("parse", "text", "problem", "remedy"), [
    (parse_serial, "", '"" has no reading', "?"),
    (parse_serial, "engine-no=", "has no reading", "?"),
    (parse_serial, "1" * 65, "longer than 64", "one number at a time"),
    (parse_mark, "=H41", "does not name the component", "crankcase=H41?0B"),
    (parse_mark, "cover@=H41", "does not name the component", "cover@left"),
    (parse_mark, "cover= ", "has no reading", "*"),
    (parse_seen, "crankcase=yes", "does not say what was seen", "COMPONENT.FEATURE=VALUE"),
    (parse_seen, ".drain-lug=yes", "does not name the component", "crankcase.drain-lug"),
    (parse_seen, "crankcase.=yes", "does not say what was seen", "COMPONENT.FEATURE=VALUE"),
    (parse_seen, "crankcase.drain-lug", "does not say what was seen", "COMPONENT.FEATURE=VALUE"),
    (parse_cast_date, "C 14 8", "does not name the component", "crankcase=C 14 8"),
    (parse_second_look, "3=8", "does not say what a second look showed", "serial:3=8"),
    (parse_second_look, "serial:=8", "does not say what a second look showed", "serial:3=8"),
    (parse_second_look, "serial:3=", "does not say what a second look showed", "serial:3=8"),
    (parse_second_look, "serial:3=?", "does not say what a second look showed", "serial:3=8"),
    (parse_second_look, "serial:1000=8", "does not say what a second look showed", "serial:3=8"),
])
def test_what_is_missing_is_said_with_an_example(parse: Parser, text: str, problem: str, remedy: str) -> None:
    with pytest.raises(DataError) as refused:
        parse(text)
    assert problem in refused.value.problem
    assert remedy in refused.value.remedy


PIECES = st.text(max_size=80) | st.from_regex(r"[a-z @.=]{0,12}[.=@]{0,2}[A-Z0-9?*\[\] ]{0,70}", fullmatch=True)


@pytest.mark.parametrize("parse", PARSERS)
@given(text=PIECES)
def test_any_text_is_a_piece_that_can_be_written_again_or_a_data_error(parse: Parser, text: str) -> None:
    try:
        piece = parse(text)
    except DataError as error:
        assert error.problem
        assert error.remedy
    else:
        assert parse(str(piece)) == piece


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | PIECES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(PIECES | st.sampled_from(("reading", "component", "wear")), inner, max_size=3),
    max_leaves=12,
)
NAMES = st.sampled_from((*Evidence.model_fields, "colour"))


@given(st.dictionaries(NAMES, JSON, max_size=4) | JSON)
def test_any_json_is_evidence_that_can_be_written_again_or_a_data_error(plain: object) -> None:
    try:
        evidence = Evidence.read(plain)
    except DataError as error:
        assert error.problem
        assert error.remedy
    else:
        assert Evidence.read(json.loads(evidence.model_dump_json())) == evidence


@pytest.mark.parametrize(("plain", "problem", "remedy"), [
    ([], "not a JSON object", "serial"),
    ({"seriall": "12"}, "seriall", "Evidence has maker, model, serial"),
    ({"marks": 5}, "Expected text, a list of texts or a mapping", "crankcase"),
    ({"marks": ["A1"] * 201}, "201 pieces", "at most 200"),
    ({"wear": "rusty"}, "wear", "--unit"),
    ({"serial": [{"reading": "1", "colour": "red"}]}, "serial", "Evidence has"),
])
def test_wrong_json_is_refused_by_name(plain: object, problem: str, remedy: str) -> None:
    with pytest.raises(DataError) as refused:
        Evidence.read(plain)
    assert problem in refused.value.problem
    assert remedy in refused.value.remedy


def test_more_evidence_extends_lists_and_replaces_single_values() -> None:
    first = Evidence(maker="a", serial="12", marks={"cover": "H1"})
    both = first.adding(maker="b", marks={"cover": "H2"}, features="cover.lug=yes")
    assert both == Evidence(maker="b", serial="12", marks=["cover=H1", "cover=H2"], features=["cover.lug=yes"])
    assert first == Evidence(maker="a", serial="12", marks={"cover": "H1"})
    assert first.adding(again={"serial": ["1=7", "2=8"], "cover": "2=4"}).again == first.adding(again=["serial:1=7", "serial:2=8", "cover:2=4"]).again


def test_a_wear_of_its_own_survives_being_written() -> None:
    evidence = Evidence(serial=[SerialReading(reading="12", wear="badly-worn")], wear="worn")
    assert Evidence.read(evidence.model_dump()) == evidence
