"""Re-reading: what every character of every reading would tell, against walking every serial and every mark one by one."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from kb import Evidence, KnowledgeBase
from kb.assumptions import Assumptions
from kb.channel.compiled import compile_readings
from kb.channel.reading import Reading
from kb.channel.wear import confusion
from kb.desk import rereadunit
from kb.desk.advise import advise
from kb.desk.reread import Reread
from kb.desk.which import WhichUnit, WhichVariants
from kb.file.build import build
from kb.inference.advice import gain
from kb.words.answers import Check
from kb.words.errors import KbError
from kb.words.notation import ALPHABET
from tests.desk.test_review import ROWS
from tests.production.rows import Given, dataset

A = Assumptions()
CLEAN = confusion("clean", A)
BLOCKS: list[Given] = [
    {"position": 1, "first": 1, "last": 280, "width": 3, "model_id": "m"}, {"position": 2, "first": 281, "last": 600, "width": 3, "model_id": "n"},
]  # fmt: skip


@pytest.fixture(scope="module")
def two_models(tmp_path_factory: pytest.TempPathFactory) -> Iterator[KnowledgeBase]:
    """600 serials, the first 280 of one model, and a component that did not change."""
    path = tmp_path_factory.mktemp("two") / "kb.db"
    rows = {table: each for table, each in ROWS.items() if table not in ("breakpoints", "sightings", "blocks")}
    marks: list[Given] = [{"variant_ids": "a", "text": text} for text in ("H410", "H418", "K99")]
    marks += [{"variant_ids": "b", "text": text} for text in ("H413", "B410")] + [{"text": "H41"}]
    build(dataset(**{**rows, "models": [{"model_id": "m"}, {"model_id": "n"}], "blocks": BLOCKS, "marks": marks}), path)
    with KnowledgeBase.open(path) as book:
        yield book


def stands(reading: str, wear: str, text: str, token: int) -> np.ndarray:
    """(36,) the share of the weight on a text that is lost if the token may not stand for that character."""
    part = compile_readings([Reading.parse(reading)], [wear], A).parts[0]
    codes = [ALPHABET.index(character) for character in text]
    whole = float(part.forward(part.start, codes) @ part.end)
    found = np.zeros(36)
    for code in set(codes) if whole > 0 else ():
        entries = part.entries.copy()
        entries[code, (part.takes == token).any(axis=1)] = 0
        kept = replace(part, entries=entries)
        found[code] = 1 - float(kept.forward(kept.start, codes) @ kept.end) / whole
    return found


def usual(reading: str, wear: str, token: int) -> np.ndarray:
    """(36,) what a token stands for on a text of which nothing is known."""
    read = Reading.parse(reading).tokens[token]
    column = np.ones(36) if read == "?" else confusion(wear, A)[:, [ALPHABET.index(c) for c in read]].sum(axis=1)
    return column / column.sum()


@pytest.mark.parametrize(("reading", "wear"), [("2?7", "worn"), ("[23]81", "worn"), ("28?", "clean"), ("281", "badly-worn"), ("28", "worn")])
@pytest.mark.parametrize("by_cells", [False, True])
def test_the_characters_of_a_serial_are_worth_what_walking_every_serial_says(
    two_models: KnowledgeBase, reading: str, wear: str, by_cells: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not by_cells:  # as where there are several readings, or a check digit: through the whole serials
        monkeypatch.setattr(rereadunit, "_of_cells", lambda *_: None)
    monkeypatch.setattr(rereadunit, "FAINT", 0.0)
    monkeypatch.setattr("kb.desk.weigh.LIKELY", 600)
    found = two_models._examine(Evidence.read({"serial": [{"reading": reading, "wear": wear}]}), None)
    maker = found.maker
    assert maker is not None
    listed = found.weighing.likely_serials(found.posterior, maker)
    assert sum(whole.probability for whole in listed) >= 0.999 * float(found.posterior.mass[maker].sum())
    which = WhichUnit(found)
    compiled = compile_readings([Reading.parse(reading)], [wear], A)
    tokens = Reading.parse(reading).tokens
    answers = {label: i for i, label in enumerate(which.labels(None))}
    tables = np.zeros((len(tokens), len(answers), 36))
    for number in range(1, 601):
        digits = f"{number:03d}"
        answer = next(i for label, i in answers.items() if ("blocks-1" if number <= 280 else "blocks-2") in label)
        for text in {digits[k:] for k in range(3) if not digits[:k].strip("0")}:
            weight = 0.95 / 600 * compiled.weight(text)
            for token in range(len(tokens)) if weight > 0 else ():
                tables[token, answer] += weight * stands(reading, wear, text, token) @ CLEAN
    unknown = 0.05 * two_models._book.text_models["serial"].evidence(compiled)
    for token in range(len(tokens)):
        tables[token, -1] += unknown * usual(reading, wear, token) @ CLEAN
    tables /= tables.sum(axis=(1, 2), keepdims=True)
    mine = {each.check: each for each in rereadunit.of_serials(found.weighing, found.posterior, which.by_cells(maker), maker)}
    for token, table in enumerate(tables):
        expected = gain(table)
        said = [each for check, each in mine.items() if f"the {['1st', '2nd', '3rd'][token]} character" in check]
        assert len(said) == (expected >= 0.01)
        for each in said:
            assert each.bits == pytest.approx(expected, rel=0.01, abs=0.001)
            _as_expected(each, table)


def _as_expected(each: Reread, table: np.ndarray) -> None:
    for outcome, column in zip(each.outcomes, each.joint.T, strict=True):
        if len(outcome) == 1:
            assert column == pytest.approx(table[:, ALPHABET.index(outcome)], abs=0.002)


@pytest.mark.parametrize(("reading", "wear"), [("H41?", "worn"), ("H41[38]", "worn"), ("H413", "badly-worn"), ("H411", "clean"), ("B4?0", "worn")])
def test_the_characters_of_a_mark_are_worth_what_every_mark_of_the_component_says(two_models: KnowledgeBase, reading: str, wear: str) -> None:
    found = two_models._examine(Evidence.read({"serial": "300", "marks": [{"component": "head", "reading": reading, "wear": wear}]}), None)
    maker, piece = found.maker, found.weighing.question.spots[0]
    assert maker is not None
    joint = WhichVariants(found).by_spot(maker, ("head", ""))
    compiled = compile_readings([Reading.parse(reading)], [wear], A)
    marks = {"a": ["H410", "H418", "K99"], "b": ["H413", "B410"]}
    unrecorded = 0.95 * two_models._book.text_models["mark"].evidence(compiled)
    mine = {each.check: each for each in rereadunit.of_mark(found.weighing, joint, maker, piece)}
    for token in range(len(Reading.parse(reading).tokens)):
        outcome = []
        for texts in (marks["a"], marks["b"], [], []):
            terms = [(0.95 * compiled.weight(text) / len(texts), stands(reading, wear, text, token)) for text in texts]
            terms += [] if texts else [(unrecorded, usual(reading, wear, token))]
            terms.append((0.05 * compiled.weight("H41"), stands(reading, wear, "H41", token)))
            outcome.append(sum(weight * stand for weight, stand in terms) / sum(weight for weight, _ in terms) @ CLEAN)
        table = joint @ np.array(outcome)
        said = [each for check, each in mine.items() if f"the {['1st', '2nd', '3rd', '4th'][token]} character" in check]
        assert len(said) == (gain(table) >= 0.01)
        for each in said:
            assert each.bits == pytest.approx(gain(table), rel=0.01, abs=0.001)
            _as_expected(each, table)


def everything(book: KnowledgeBase, unit: dict[str, object]) -> list[Check]:
    found = book._examine(Evidence.read(unit), None)
    return advise(found.weighing, found.posterior, WhichUnit(found), most=200)


@pytest.mark.parametrize(("unit", "character"), [
    ({"serial": "1048?3"}, "3rd character of 1048?3 (serial)"),
    ({"serial": "104873", "wear": "worn"}, "3rd character of 104873 (serial)"),  # typed without a doubt, off a worn number
    ({"serial": "10????"}, "3rd character of 10???? (serial)"),  # too many serials are alike to be listed
    ({"serial": ["1048?3", "10487[38]"]}, "3rd character of 1048?3 (serial)"),  # two readings of one number
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
            which = WhichUnit(found)
            assert found.maker is not None
            chances = np.append(which.by_cells(found.maker).sum(axis=1)[:-1] * (1 - found.posterior.unknown), found.posterior.unknown)
            label, _, said = outcome.means.rpartition(", ")
            assert chances[which.labels(None).index(label)] == pytest.approx(float(said[-5:-1]), abs=0.02), outcome
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
                label, _, said = outcome.means.partition(",")
                chance = then.not_in_knowledge_base if label.startswith("not in") else sum(m.probability for m in then.matches if m.text == label)
                assert chance == pytest.approx(float(said[-5:-1]), abs=0.006), (reading, outcome)
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
            assert outcome.means.startswith(said)
            assert max(then.probability, 1 - then.probability) == pytest.approx(float(outcome.means[-5:-1]), abs=0.1)
