"""What people must be able to rely on, on the demo data: breakpoints, swapped castings, clean units, strangers."""

import csv
from pathlib import Path

import pytest

from kb import Evidence, KnowledgeBase
from kb.words.answers.fitment import Fit
from kb.words.answers.identification import Identification
from kb.words.errors import QuestionError

# (component, last old serial, old variant, first new serial, new variant): change-overs that the evidence has settled
SETTLED = [
    ("saw-flange", "108650", "flange-4pin", "108651", "flange-6pin"),
    ("brake-band", "106050", "band-lined", "106051", "band-woven"),
    ("mill-frame", "101800", "frame-wood", "101801", "frame-iron"),
    ("pump-body", "C1509", "body-small", "C1510", "body-round"),
]


def built(found: Identification, component: str) -> str:
    return next(row.as_built for row in found.fitted if row.component == component)


def at(entries: list[Fit], component: str, place: str = "") -> Fit:
    return next(e for e in entries if (e.component, e.place) == (component, place))


@pytest.mark.parametrize(("component", "last_old", "old", "first_new", "new"), SETTLED)
def test_one_below_a_breakpoint_has_the_old_casting_and_one_at_it_the_new(
    mills: KnowledgeBase, component: str, last_old: str, old: str, first_new: str, new: str
) -> None:
    assert built(mills.identify(Evidence(serial=last_old)), component) == old
    assert built(mills.identify(Evidence(serial=first_new)), component) == new


def only_for(root: Path, component: str, variant: str) -> set[str]:
    """The parts whose fitment rows at a component all ask for this one variant."""
    with (root / "demo_data" / "mills-and-pumps" / "fitments.csv").open(encoding="utf-8", newline="") as opened:
        rows = [row for row in csv.DictReader(opened) if row["component_id"] == component and not row["retracted"]]
    wanted: dict[str, set[str]] = {}
    for row in rows:
        wanted.setdefault(row["part_number"], set()).add(row["variant_id"])
    return {part for part, variants in wanted.items() if variants == {variant}}


@pytest.mark.parametrize(("component", "last_old", "old", "first_new", "new"), SETTLED)
def test_a_part_for_the_one_never_fits_the_other(
    mills: KnowledgeBase, root: Path, component: str, last_old: str, old: str, first_new: str, new: str
) -> None:
    compared = 0
    for part in only_for(root, component, old) | only_for(root, component, new):
        for serial, there in ((last_old, old), (first_new, new)):
            right = part in only_for(root, component, there)
            for entry in mills.fits(part, Evidence(serial=serial)):
                assert entry.probability > 0.5 if right else entry.probability < 0.3, (part, serial)
                assert right or entry.verdict != "fits", (part, serial)
                compared += 1
    assert compared >= 2


def test_a_swapped_casting_is_named_and_the_part_for_what_is_there_is_offered(mills: KnowledgeBase) -> None:
    unit = Evidence(serial="104873", marks={"arbor-housing@left": "V2148", "arbor-housing@right": "V2141"})
    found = mills.identify(unit)
    swapped = [(row.component, row.place) for row in found.fitted if row.swapped]
    assert swapped == [("arbor-housing", "left")]
    assert len(found.conflicts) == 1 and "arbor housing (left)" in found.conflicts[0] and "38 mm" in found.conflicts[0]
    assert at(mills.fits("6118-1", unit), "arbor-housing", "left").verdict == "fits"
    assert at(mills.fits("6104-2", unit), "arbor-housing", "left").verdict == "does not fit"
    assert at(mills.fits("6104-2", unit), "arbor-housing", "right").verdict == "fits"
    assert at(mills.fits("6104-2", unit, for_="as-built"), "arbor-housing", "left").verdict == "fits"


@pytest.mark.parametrize("serial", ["100500", "101500", "103000", "105500", "107000", "110000", "A0500", "C0500", "D1700", "E0900", "R0300", "T1200"])
def test_a_clean_unit_has_no_conflict(mills: KnowledgeBase, serial: str) -> None:
    found = mills.identify(Evidence(serial=serial))
    assert found.conflicts == []
    assert found.not_in_knowledge_base < 0.05
    assert not any(row.swapped for row in found.fitted)


def test_a_clean_unit_with_its_own_castings_has_no_conflict(mills: KnowledgeBase) -> None:
    marks = {"arbor-housing@left": "V2141", "arbor-housing@right": "V2146"}
    found = mills.identify(Evidence(serial="103600", marks=marks))
    assert found.conflicts == []


@pytest.mark.parametrize("serial", ["K7712", "734521", "ZQ04127", "Q99999"])
def test_a_serial_nobody_made_is_not_in_the_knowledge_base(mills: KnowledgeBase, serial: str) -> None:
    found = mills.identify(Evidence(serial=serial))
    assert found.not_in_knowledge_base > 0.9
    assert found.conflicts


@pytest.mark.parametrize("serial", ["104873", "C0500", "D1700"])
def test_one_foreign_casting_does_not_make_a_clear_serial_unknown(mills: KnowledgeBase, serial: str) -> None:
    component = "arbor-housing@left" if serial.isdigit() else "gear-case"
    found = mills.identify(Evidence(serial=serial, marks={component: "KX 4471 B"}))
    assert found.not_in_knowledge_base < 0.5
    assert found.units[0].serial_first == found.units[0].serial_last == serial
    row = next(r for r in found.fitted if (r.component, r.place) == tuple(component.split("@") if "@" in component else [component, ""]))
    assert row.variant == "" and row.swapped


def test_two_castings_from_one_donor_assembly_do_not_make_a_clear_serial_unknown(mills: KnowledgeBase) -> None:
    found = mills.identify(Evidence(serial="C0500", marks={"pump-body": "73-J19", "valve-chest": "91-L42"}))
    assert found.not_in_knowledge_base < 0.05
    assert found.units[0].serial_first == "C0500"


def test_the_restorers_one_look_settles_the_packing(mills: KnowledgeBase) -> None:
    unit = Evidence(serial="?1?42", marks={"gear-case": "18-E25", "base-frame": "3?-Q50"})
    found = mills.identify(unit)
    assert (found.units[0].model, found.units[0].block) == ("quince-5", "pw-c") and found.units[0].probability > 0.85  # "about nine in ten"
    open_question = at(mills.fits("PE-214", found), "pump-body")
    assert open_question.verdict == "check first"
    assert "boss" in open_question.check_next[0].check
    assert at(mills.fits("PE-214", unit.adding(features="pump-body.relief-boss=round")), "pump-body").verdict == "fits"
    assert at(mills.fits("PE-210", unit.adding(features="pump-body.relief-boss=round")), "pump-body").verdict == "does not fit"


@pytest.mark.parametrize(("serial", "verdict"), [("104873", "fits"), ("105112", "check first"), ("106500", "does not fit")])
def test_the_sellers_seal(mills: KnowledgeBase, serial: str, verdict: str) -> None:
    entry = at(mills.fits("6104", Evidence(serial=serial)), "arbor-housing", "left")
    assert entry.verdict == verdict
    assert [c.part_number for c in entry.current] == ["6104-2"] and entry.current[0].verdict == verdict


def test_the_archivists_dispute(mills: KnowledgeBase) -> None:
    change = mills.review("ov-mill-no", "feed-cam").changeovers[0]
    assert change.first_new == "107350"
    assert {c.source: c.standing for c in change.claims} == {"ov-mill-register": "supported", "ov-bulletin-17": "contradicted"}
    assert [o.sighting_id for o in change.odd_sightings] == ["seen-067"]


def test_safety_critical_parts_never_fit_unseen(mills: KnowledgeBase) -> None:
    critical = [e for e in mills.parts(Evidence(serial="103600"), everything=True) if e.component in ("brake-band", "saw-flange")]
    assert critical and all(e.cautions for e in critical)
    assert not [e for e in critical if e.verdict == "fits"]


def test_a_quantity_that_depends_on_the_casting_is_check_first(mills: KnowledgeBase) -> None:
    entry = at(mills.fits("PE-124", Evidence(serial="C1642")), "cylinder-head")
    assert entry.verdict == "check first" and entry.probability > 0.9
    assert "6 or 4" in entry.because[-1] and "nuts" in entry.check_next[0].check


def test_many_marks_without_a_place_are_answered_while_they_tell_where_they_are(mills: KnowledgeBase) -> None:
    """Of more than four each is tried where it suits best only: marks of one component each say what they say in their places."""
    marks = {"saw-flange": "V3307", "brake-band": "V4416", "feed-cam": "V5523", "carriage": "V7742", "drive-pulley": "V8034"}
    loose, placed = mills.identify(Evidence(marks=list(marks.values()))), mills.identify(Evidence(marks=marks))
    assert loose.units[0].name == placed.units[0].name
    variants = {entry.component: entry.variant for entry in placed.fitted}
    assert {entry.component: entry.variant for entry in loose.fitted} == variants
    for mine, theirs in zip(loose.fitted, placed.fitted, strict=True):
        assert mine.probability == pytest.approx(theirs.probability, abs=0.02)
    with pytest.raises(QuestionError, match="Too many marks may be in several places"):
        mills.identify(Evidence(marks=[f"V?{digit}??" for digit in range(7)]))
