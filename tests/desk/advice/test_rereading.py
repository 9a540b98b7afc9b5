"""Re-reading as the user meets it: which characters are named, and whether what is predicted for a second look holds once it is entered."""

from pathlib import Path

import numpy as np
import pytest

from kb import Evidence, KnowledgeBase
from kb.desk.advice.checks import rank_checks
from kb.desk.advice.unit_targets import UnitTarget
from kb.probability.channel import token_posterior as standing
from kb.words.answers.identification import Check
from kb.words.errors import KbError


def everything(book: KnowledgeBase, unit: dict[str, object]) -> list[Check]:
    found = book._examine(Evidence.read(unit), None)
    return rank_checks(found.weighing, found.posterior, UnitTarget(found), most=200)


@pytest.mark.parametrize(("unit", "character"), [
    ({"serial": "1048?3"}, "3rd character of 1048?3 (serial)"),
    ({"serial": "104873", "wear": "worn"}, "3rd character of 104873 (serial)"),  # typed without a doubt, off a worn number
    ({"serial": "10????"}, "3rd character of 10???? (serial)"),  # too many serials are alike to be listed
    ({"serial": ["1048?3", "10487[38]"]}, "3rd character of 1048?3 (serial)"),  # two readings of one number
    ({"serial": ["1048?3", "10487[38]"]}, "3rd character of 10487[38] (serial)"),
    ({"serial": ["pw-engine-no=P03?21", "pw-engine-no=P0[37]?21"]}, "3rd character of P0[37]?21 (the crankcase)"),
    ({"marks": "V12[14]?"}, "4th character of V12[14]? (read somewhere on the unit)"),
    ({"serial": "pw-engine-no=P03?21"}, "3rd character of P03?21 (the crankcase)"),
    ({"serial": "?1?42", "marks": {"base-frame": "3?-Q50"}, "wear": "worn"}, "5th character of 3?Q50 (the base frame)"),
])  # fmt: skip
def test_every_character_of_every_reading_is_looked_at(mills: KnowledgeBase, unit: dict[str, object], character: str) -> None:
    checks = everything(mills, unit)
    assert any(character in each.check for each in checks), [each.check for each in checks]
    for each in checks:
        if "re-read" in each.check:
            assert sum(outcome.probability for outcome in each.outcomes) == pytest.approx(1, abs=0.02)
            assert each.gain_bits >= 0.01


@pytest.mark.parametrize(("unit", "looks"), [
    ({"serial": "1048?3"}, "serial:3="),
    ({"serial": ["1048?3", "10487[38]"]}, "1048?3:3="),  # two readings of one number: as they were given
    ({"serial": "?1?42", "marks": {"base-frame": "3?-Q50"}, "wear": "worn"}, "base-frame:5="),
    ({"serial": "1051?2", "marks": {"arbor-housing@left": "V2146"}, "wear": "worn"}, "arbor-housing@left:5="),
    ({"serial": "pw-engine-no=P03?21"}, "pw-engine-no:3="),
])  # fmt: skip
def test_a_second_look_at_a_unit_means_what_was_foretold(mills: KnowledgeBase, unit: dict[str, object], looks: str) -> None:
    evidence = Evidence.read(unit)
    (check,) = [each for each in everything(mills, unit) if any(outcome.adds.get("again", "").startswith(looks) for outcome in each.outcomes)]
    for outcome in check.outcomes:
        if outcome.adds and outcome.probability > 0.02:
            then = evidence.adding(**outcome.adds)
            assert str(then.again[0]) == f"{looks}{outcome.outcome}"
            found = mills._examine(then, None)
            which = UnitTarget(found)
            assert found.maker is not None
            chances = np.append(which.by_cells(found.maker).sum(axis=1)[:-1] * (1 - found.posterior.unknown), found.posterior.unknown)
            assert chances[which.labels(None).index(outcome.then)] == pytest.approx(outcome.then_probability, abs=0.015), outcome
            assert not any(o.adds.get("again", "").startswith(looks) for each in everything(mills, then.model_dump()) for o in each.outcomes)


@pytest.mark.parametrize(("unit", "problem", "remedy"), [
    ({"serial": "1048?3", "again": "crankcase:3=8"}, '"crankcase" is no reading that was given.', 'Known are "serial".'),
    ({"marks": {"arbor-housing@left": "V21?6"}, "again": "arbor-housing:3=8"}, '"arbor-housing" is no reading', 'Did you mean "arbor-housing@left"?'),
    ({"marks": {"carriage": "none"}, "again": "carriage:1=8"}, '"carriage" is no reading', "Give the reading first"),
    ({"serial": "1048?3", "again": "serial:7=8"}, "1048?3 has no character 7", "Count its characters from 1 to 6"),
    ({"serial": "1048?3", "again": "serial:0=8"}, "1048?3 has no character 0", "Count its characters from 1 to 6"),
    ({"serial": "1048*", "again": "serial:5=8"}, "1048* has no character 5", "* cannot be looked at again"),
    ({"serial": ["1048?3", "10487[38]"], "again": "serial:5=8"}, '"serial" may be several', '"1048?3:5=8" or "10487[38]:5=8"'),
    ({"serial": "1048?3", "again": ["serial:5=8", "1048?3:5=3"]}, "Second looks at character 5 show 8 and 3.", "Give the one that holds"),
    ({"serial": "1048?3", "again": "serial=8"}, '"serial=8" does not say what a second look showed.', '"serial:3=8"'),
    ({"serial": "1048?3", "again": "serial:5=38"}, '"serial:5=38" does not say', '"serial:3=8"'),
    ({"serial": "1048?3", "again": "serial:x=8"}, '"serial:x=8" does not say', '"serial:3=8"'),
    ({"serial": "1048?3", "again": {"what": "serial", "at": 5, "seen": "38"}}, '"38" is not one character.', '"3=8"'),
])  # fmt: skip
def test_a_second_look_at_what_is_not_there_is_refused(mills: KnowledgeBase, unit: dict[str, object], problem: str, remedy: str) -> None:
    with pytest.raises(KbError) as refused:
        mills.identify(Evidence.read(unit))
    assert refused.value.problem.startswith(problem) and remedy in refused.value.remedy


@pytest.mark.parametrize(("unit", "names"), [
    ({"serial": "ov-mill-no=1048?3"}, ["serial", "SERIAL", "ov-mill-no", "1048?3", "ov-mill-no=1048?3"]),
    ({"serial": "pw-engine-no=P03?21"}, ["pw-engine-no", "P03?21"]),
    ({"marks": {"arbor-housing@left": "V-21?6"}}, ["arbor-housing@left", "Arbor housing@left", "V21?6", "arbor-housing@left=V-21?6"]),
    ({"marks": "V21?6"}, ["mark", "V21?6"]),
])  # fmt: skip
def test_the_reading_looked_at_again_may_be_named_as_its_owner_would(mills: KnowledgeBase, unit: dict[str, object], names: list[str]) -> None:
    answers = [mills.identify(Evidence.read({**unit, "again": f"{name}:4=4"})) for name in names]
    assert all(answer.units == answers[0].units for answer in answers)
    assert answers[0].units != mills.identify(Evidence.read(unit)).units
    assert "(second look: 4=4)" in answers[0].because[0].evidence


def test_what_a_second_look_shows_is_said_in_a_sighting_and_of_a_mark_nobody_recorded(mills: KnowledgeBase) -> None:
    unit = {"serial": "105112", "marks": {"arbor-housing@left": "V2147"}, "wear": "worn"}
    assert any("V2147" in text for text in mills.identify(Evidence.read(unit)).conflicts)
    again = Evidence.read({**unit, "again": "arbor-housing@left:5=8"})  # V2148 is recorded
    assert not any("V214" in text for text in mills.identify(again).conflicts)
    assert [row.mark_read for row in mills.sightings(again)] == ["V214[78]"]


@pytest.mark.parametrize(("unit", "said"), [
    ({"serial": ["1048?3", "10[47]87?"]}, "1048?3, 10[47]87? (serial;"),
    ({"serial": ["pw-engine-no=P03?21", "pw-engine-no=P0[37]?21"]}, "P03?21, P0[37]?21 (the crankcase;"),
])  # fmt: skip
def test_what_takes_too_long_to_foretell_is_said(mills: KnowledgeBase, unit: dict[str, object], said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    usual = max(each.gain_bits for each in everything(mills, unit) if "re-read the" in each.check)
    monkeypatch.setattr(standing, "MOST_STEPS_TAKEN", 10)
    (whole,) = [each for each in everything(mills, unit) if "re-read the" in each.check]
    assert whole.check.startswith("Clean and re-read the whole number, first where its readings differ: " + said)
    assert whole.effort == 30 and not whole.outcomes and whole.gain_bits > usual


def test_a_loose_casting_read_without_a_doubt_but_recorded_nowhere_is_read_again(mills: KnowledgeBase) -> None:
    found = mills.casting("V2147")
    assert "5th character of V2147" in found.check_next[0].check and found.check_next[0].gain_bits > 1
    assert {outcome.outcome for outcome in found.check_next[0].outcomes} >= {"0", "1", "6", "8", "7"}


def test_a_second_look_at_a_loose_casting_means_what_was_foretold(mills: KnowledgeBase) -> None:
    for reading, wear in (("V21?7", None), ("V2147", None), ("V2[16]41", None), ("V2141", "badly-worn")):
        check = mills.casting(reading, wear=wear).check_next[0]
        for outcome in check.outcomes[:3]:
            if outcome.adds:
                place, _, seen = outcome.adds["again"].partition("=")
                assert seen == outcome.outcome
                then = mills.casting(reading, wear=wear, again={int(place): seen})
                label = outcome.then
                chance = then.not_in_knowledge_base if label.startswith("not in") else sum(m.probability for m in then.matches if m.text == label)
                assert chance == pytest.approx(outcome.then_probability, abs=0.001), (reading, outcome)
                assert not any(f"re-read the {place}" in each.check and each.gain_bits > check.gain_bits / 4 for each in then.check_next)


def test_there_is_nothing_to_read_again_where_nothing_was_read(mills: KnowledgeBase) -> None:
    assert mills.casting("*").check_next == []
    for unit in ({"serial": "*"}, {"marks": {"carriage": "*"}}, {"serial": "pw-engine-no=*"}):
        assert not [each for each in everything(mills, unit) if "re-read" in each.check]


def test_nothing_is_read_again_where_nothing_is_open(mills: KnowledgeBase, tmp_path: Path) -> None:
    assert not [each for each in mills.identify(Evidence(serial="106200", model="rook-36")).check_next if "(serial)" in each.check]


def test_the_characters_of_an_engine_number_are_asked_for_a_part_that_goes_by_it(mills: KnowledgeBase) -> None:
    (fit,) = [each for each in mills.fits("PE-115", Evidence(serial="pw-engine-no=P0[37]4?1")) if each.component == "crankcase"]
    (check,) = [each for each in fit.check_next if "3rd character of P0[37]4?1 (the crankcase)" in each.check]
    assert sum(each.probability for each in check.outcomes) == pytest.approx(1, abs=0.01)
    unit = Evidence.read({"serial": "pw-engine-no=P0[37]4?1"})
    for outcome in check.outcomes:
        if outcome.outcome in "23":  # the part is for engines P00001 to P07400 with a lug, which they have from about P02700 on
            assert outcome.adds == {"again": f"pw-engine-no:3={outcome.outcome}"}
            (then,) = [each for each in mills.fits("PE-115", unit.adding(**outcome.adds)) if each.component == "crankcase"]
            said = "it fits" if then.probability > 0.5 else "it does not fit"
            assert outcome.then == said
            assert max(then.probability, 1 - then.probability) == pytest.approx(outcome.then_probability, abs=0.1)
