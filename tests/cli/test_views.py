"""Answers as text: everything that must be said is there, in 80 columns, without trailing spaces, and nothing is taken for markup."""

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any, cast

import pytest
from click.testing import CliRunner

from kb.cli.show import write
from kb.cli.views.castings import casting
from kb.cli.views.fits import fits, parts
from kb.cli.views.identification import identification
from kb.cli.views.readings import readings
from kb.cli.views.reviews import review
from kb.cli.views.traces import trace
from kb.cli.views.units import units
from kb.desk.sentences.names import Names
from kb.store.book import Book
from kb.words.answers.fitment import Buyable, Fit, Ships, SourceRef, TraceAnswer, TraceStep, UnitRange, UnitsAnswer
from kb.words.answers.identification import CastingAnswer, Check, FittedEntry, Identification, Match, Outcome, Reason, SerialEntry, UnitEntry
from kb.words.answers.review import (
    ChangeOver,
    ClaimEntry,
    Dispute,
    LearnedMisreading,
    LevelLearned,
    MixedWidth,
    OddSighting,
    ReadingLeftOut,
    ReadingsReview,
    ReliabilityBin,
    ReplacedRate,
    ReviewAnswer,
    Seek,
    SeekOutcome,
    SightingEntry,
)
from kb.words.evidence import Evidence

REREAD = Check(
    check="Clean and re-read the 2nd character of 2?5[38]61 (serial)", effort=5, gain_bits=0.9,
    outcomes=[Outcome(outcome="3", means="Rook 36, very likely (0.97)", probability=0.6)],
)  # fmt: skip
UNIT = UnitEntry(
    name="Orlop Rook 36", maker="orlop", model="rook-36", series="frame", block="f-1931", serial_first="B00106", serial_last="B01080",
    built_from="1931", built_to="1934", probability=0.91,
)  # fmt: skip
KNOWN = Identification(
    evidence=Evidence(serial="2?5[38]61"), units=[UNIT], rest=0.05, not_in_knowledge_base=0.04,
    serials=[SerialEntry(serial="B00361", model="rook-36", probability=0.4)],
    fitted=[
        FittedEntry(
            name="cover (left)", component="cover", place="left", variant="cover-late", variant_name="late cover", probability=0.93,
            as_built="cover-early", as_built_name="early cover", as_built_probability=0.97, swapped=True,
        ),
        FittedEntry(
            name="frame", component="frame", place="", variant="", variant_name="a casting not recorded here", probability=0.5,
            as_built="frame-iron", as_built_name="iron frame", as_built_probability=1, swapped=False,
        ),
    ],
    conflicts=["The cover (left) is late, but the unit should have left the works with early: replaced since?"],
    check_next=[REREAD],
    because=[Reason(evidence="serial 2?5[38]61", weight_bits=9.31, says="can be read as B00361", source="list-9", page="3")],
    cautions=["Safety-critical: saw flange."], assumptions={"replaced_rate": 0.1},
)  # fmt: skip
FIT = Fit(
    part_number="1407-A", description="Seal 35 x 52 x 7", name="front cover (left)", component="cover", place="left", role="seal, outer",
    quantity=2, per="place", verdict="check first", probability=0.62, against=0.3,
    current=[Ships(part_number="1407-B", quantity=3, verdict="does not fit", probability=0.02)],
    because=["About two in three (0.62) that this holds here"], check_next=[REREAD], cautions=["Safety-critical: saw flange."],
    sources=[SourceRef(source="list-9", page="12", grade="B")],
)  # fmt: skip
FITTING = FIT.model_copy(
    update={"verdict": "fits", "name": "front cover (right)", "place": "right", "probability": 0.99, "against": 0.0, "check_next": [], "current": []}
)


NAMES = Names(cast(Book, SimpleNamespace(
    makers={"orlop": SimpleNamespace(name="Orlop")}, components={}, features={},
    sources={"list-9": SimpleNamespace(title="Repair list 9"), "bulletin-7": SimpleNamespace(title="Bulletin 7")},
    models={"rook-36": SimpleNamespace(name="Rook 36", maker_id="orlop")}, series={"frame": SimpleNamespace(name="frame numbers")},
    variants={f"cover-{each}": SimpleNamespace(name=f"{each} cover") for each in ("early", "late")}, blocks={}, first=lambda kind, sql, *values: None,
)))  # fmt: skip
WITHOUT = (readings, parts)  # views that call nothing by its id


def unwrapped(shown: str) -> str:
    """Without regard to where lines end."""
    return " ".join(shown.split())


def text(view: Callable[..., None], answer: Any) -> str:
    """What the view prints in a pipe."""
    with CliRunner().isolation() as (out, _, _):
        write(lambda console: view(answer, console, *(() if view in WITHOUT else (NAMES,))))
        return out.getvalue().decode()


def test_a_unit() -> None:
    shown = text(identification, KNOWN)
    stands = "no. B00106 to B01080 of the frame numbers, from the block f-1931, built 1931 to 1934"
    assert unwrapped(shown).startswith(f"Orlop Rook 36: about nine in ten (0.91) {stands}")
    for said in (
        "All other blocks together: 0.05.\nNot in this knowledge base: about one in 20 (0.04).",
        "  B00361  Rook 36  0.40",
        "  cover (left)  late cover (replaced since?)  0.93  early cover          0.97\n",
        "  frame         a casting not recorded here   0.50  iron frame              1\n",
        "  ! The cover (left) is late, but the unit should have left the works with\n    early: replaced since?",
        "      - 3: Rook 36, very likely (0.97)",
        "  - serial 2?5[38]61: can be read as B00361 [Repair list 9, p. 3]  (+9.3 bits)",
        "Take care\n  ! Safety-critical: saw flange.",
        "  - replaced_rate: 0.1",
    ):
        assert said in shown, said
    assert "2nd character of 2?5[38]61 (serial) (takes 5 minutes and should settle it)" in unwrapped(shown)


def test_a_clean_unit_has_no_conflict_and_no_caution_on_the_page() -> None:
    shown = text(identification, KNOWN.model_copy(update={"conflicts": [], "cautions": [], "assumptions": {}}))
    assert "Does not go together" not in shown
    assert "Take care" not in shown
    assert "Assumed" not in shown


def test_what_is_not_in_the_knowledge_base_is_said_first() -> None:
    unknown = KNOWN.model_copy(update={"units": [UNIT.model_copy(update={"probability": 0.1})], "rest": 0.0, "not_in_knowledge_base": 0.9})
    shown = text(identification, unknown)
    assert shown.startswith("Not in this knowledge base: about nine in ten (0.90).\n\nIf it is recorded after all\n")
    assert shown.count("Not in this knowledge base") == 1
    assert text(identification, KNOWN.model_copy(update={"units": [], "not_in_knowledge_base": 1.0, "rest": 0.0})).startswith(
        "Not in this knowledge base: almost certain.")


def test_a_part_has_a_verdict_for_every_place_what_ships_and_one_caution() -> None:
    shown = text(fits, [FIT, FITTING])
    assert shown.startswith("CHECK FIRST  1407-A, Seal 35 x 52 x 7: front cover (left)\n")
    assert "  Seal, outer; 2 for each place. Fits: about three in five (0.62). Does not fit:\n  about one in three (0.30).\n" in shown
    assert "  1407-B         3  does not fit  0.02" in shown
    assert "FITS  1407-A, Seal 35 x 52 x 7: front cover (right)" in shown
    assert "Nothing for it can be bought today." in shown
    assert "[Repair list 9, p. 12, grade B]" in shown
    assert shown.count("! Safety-critical: saw flange.") == 1


def test_what_must_be_measured_is_said() -> None:
    assert "Measure before ordering: the bore" in text(fits, [FIT.model_copy(update={"measure_first": "the bore"})])
    assert "  - Measure, front cover (left): the bore  (for 1407-A)" in text(parts, [FIT.model_copy(update={"measure_first": "the bore"})])


def test_a_part_that_is_recorded_nowhere() -> None:
    nowhere = {"name": "", "component": "", "place": "", "verdict": "not recorded", "probability": 0.0, "against": 0.0, "current": []}
    assert text(fits, [FIT.model_copy(update=nowhere)]).startswith("NOT RECORDED  1407-A, Seal 35 x 52 x 7\n")


def test_parts_by_verdict_with_what_to_order() -> None:
    shown = text(parts, [FIT, FITTING])
    assert shown.index("Fits\n") < shown.index("Check first\n")
    assert "6 x 1407-B" in shown  # two for the place, three of the new number for one of the old
    assert "no longer available" in shown
    assert "  - Clean and re-read the 2nd character of 2?5[38]61 (serial)  (for 1407-A)" in shown
    assert text(parts, []) == "No part is recorded that fits.\n"


def test_left_and_right_are_one_line_of_an_order() -> None:
    right = FIT.model_copy(update={"name": "front cover (right)", "place": "right", "probability": 0.6})
    shown = " ".join(text(parts, [FIT, right]).split())
    assert "seal, outer, front 12 x 1407-B (does not 0.60 cover (left, right) fit)" in shown
    each_unit = [fit.model_copy(update={"per": "unit"}) for fit in (FIT, right)]
    assert " 6 x 1407-B" in text(parts, each_unit)


def test_long_lists_are_cut_where_little_is_lost_and_say_so() -> None:
    outcomes = [Outcome(outcome=str(n), means="this", probability=0.1) for n in range(10)]
    shown = text(identification, KNOWN.model_copy(update={"check_next": [REREAD.model_copy(update={"outcomes": outcomes})] * 5}))
    assert shown.count("Clean and re-read") == 3
    assert shown.count("      - 4 others: 0.40 together") == 3
    small = UNIT.model_copy(update={"probability": 0.004})
    shown = text(identification, KNOWN.model_copy(update={"units": [UNIT, small, small], "rest": 0.001, "not_in_knowledge_base": 0.08}))
    assert "All other blocks together: 0.01." in shown


def test_a_loose_casting() -> None:
    match = Match(
        name="cover: early cover or late cover", mark="m1", text="H4120-B", component="cover", variants=["cover-early", "cover-late"],
        maker="orlop", models=["rook-36"], serial_first="B1", serial_last="B9", probability=0.8,
    )  # fmt: skip
    nowhere = {"component": "", "variants": [], "maker": "", "models": [], "serial_first": "", "serial_last": ""}
    foundry = match.model_copy(update={"name": "foundry mark", "mark": "m2", "text": "H", "probability": 0.1, **nowhere})
    shown = text(casting, CastingAnswer(reading="H41?0B", matches=[match, foundry], not_in_knowledge_base=0.1, check_next=[]))
    assert "  H4120-B  cover: early cover or late cover  Rook 36 no. B1 to B9  0.80\n" in shown
    assert "  H        foundry mark                                            0.10\n" in shown
    assert text(casting, CastingAnswer(reading="X", matches=[], not_in_knowledge_base=1.0, check_next=[])) == (
        "Not in this knowledge base: almost certain.\n")


def test_units_keep_what_is_sure_apart() -> None:
    sure = UnitRange(
        model="rook-36", series="frame", serial_first="B1", serial_last="B8", variant="cover-early", place="left", sure=True,
        sources=[SourceRef(source="list-9", page="12", grade="B")],
    )  # fmt: skip
    perhaps = sure.model_copy(update={"serial_first": "B9", "serial_last": "B9", "sure": False})
    shown = text(units, UnitsAnswer(part_number="1407", units=[sure, perhaps], sentence="Fits Rook 36 no. B1 to B8."))
    assert shown.startswith("Fits Rook 36 no. B1 to B8.\n\nSure\n")
    assert shown.index("B1 to B8  early cover (left)") < shown.index("Check first: within a change-over") < shown.index("B9       early")
    assert shown.count("[Repair list 9, p. 12, grade B]") == 1


def test_a_trace_and_a_dead_end() -> None:
    step = TraceStep(old="1407", new="1407-A", quantity=2, direction="both-ways", condition="late frames", source="bulletin-7")
    answer = TraceAnswer(asked="1407", steps=[step], current=[Buyable(part_number="1407-A", quantity=2)], dead_end=False, notes=["Ask first."])
    assert text(trace, answer) == (
        "1407: can be bought today\n  - 2 x 1407-A\n\nSuperseded\n  - 1407 <-> 2 x 1407-A: late frames [Bulletin 7]\n\nNote\n  - Ask first.\n")
    dead = text(trace, answer.model_copy(update={"current": [], "dead_end": True}))
    assert dead.startswith("1407: a dead end, nothing for it can be bought today.\n")


def test_a_change_over() -> None:
    each = ChangeOver(
        name="cover: early cover to late cover", series="frame", line="lower works", component="cover", model="", old_variant="cover-early",
        new_variant="cover-late", first_new="B0351", low="B0340", high="", probability=0.55,
        mixed=[MixedWidth(width=0, probability=0.8), MixedWidth(width=10, probability=0.2)],
        claims=[
            ClaimEntry(
                breakpoint_id="p-1", source="bulletin-7", first_new="B0351", says="new from B0351 on", standing="supported", probability=0.55
            )
        ],
        sightings=12, odd_sightings=[OddSighting(sighting_id="s12", probability=0.9)], seek=Seek(serial="B0344", gain_bits=0.71),
    )  # fmt: skip
    dispute = Dispute(kind="claims", subject="cover", text="p-1 and p-2 contradict each other.", sources=["bulletin-7", "letter"])
    shown = unwrapped(text(review, ReviewAnswer(changeovers=[each], disputes=[dispute])))
    for said in (
        "cover: early cover to late cover (frame numbers, line lower works)",
        "First new one: nine times in ten it lies at B0340 or later, or has not come yet among the known numbers; most likely B0351 (0.55).",
        "used up beside the new, over 10 units (0.20).",
        "p-1 Bulletin 7 new from B0351 on supported 0.55",
        "12 sightings counted; probably replaced since: s12 (0.90).",
        "look for no. B0344 or one close to it. (0.71 bits)",
        "! cover: p-1 and p-2 contradict each other. [Bulletin 7, letter]",
    ):
        assert said in shown, said

    claim = each.claims[0].model_copy(update={"weight_bits": 4.04})
    entry = SightingEntry(
        sighting_id="s3", serial="B0355", saw="late cover", speaks_for="new", original="unknown", source="", weight_bits=-1.26, replaced=0.2
    )
    old, new = {"probability": 0.6, "low": "B0345", "high": ""}, {"probability": 0.4, "low": "B0340", "high": "B0344"}
    outcomes = [SeekOutcome.model_validate({"outcome": side, **left}) for side, left in (("old", old), ("new", new))]
    in_full = {
        "claims": [claim], "weighed": [entry, entry.model_copy(update={"weight_bits": 0.01})], "both_from": "B0351", "both_to": "B0360",
        "seek": Seek(serial="B0344", gain_bits=0.71, outcomes=outcomes),
    }  # fmt: skip
    rate = ReplacedRate(assumed=0.15, likeliest=0.21, low=0.1, high=0.3, sightings=40, changeovers=3)
    shown = unwrapped(text(review, ReviewAnswer(changeovers=[each.model_copy(update=in_full)], disputes=[], replaced_rate=rate)))
    for said in (
        "Old and new were fitted side by side from B0351 to B0360, while old stock was used up.",
        "p-1 Bulletin 7 new from B0351 on supported 0.55 +4.0",
        "s3 B0355 late cover new -1.3 0.20",
        "1 other adds less.",
        "- with early cover on it (0.60), the first new one lies at B0345 or later.",
        "- with late cover on it (0.40), the first new one lies in B0340 to B0344.",
        "0.15 is assumed; all sightings together say 0.21 (nine times in ten 0.10 to 0.30; 40 sightings).",
    ):
        assert said in shown, said

    ends: dict[str, object] = {"first_new": "", "low": "", "high": "", "seek": None, "odd_sightings": [], "sightings": 1}
    shown = text(review, ReviewAnswer(changeovers=[each.model_copy(update=ends)], disputes=[]))
    assert "First new one: not yet changed, about three in five (0.55).\n" in shown
    assert "1 sighting counted.\n" in shown
    assert text(review, ReviewAnswer(changeovers=[], disputes=[])) == "No change-over is recorded.\n"


def test_what_readings_taught() -> None:
    answer = ReadingsReview(
        readings=12, used=11, fitted=9, exponent_usual=0.85, exponent=0.75,
        levels=[LevelLearned(wear="worn", readings=11, characters=60.2, misread=7.5, rate_usual=0.12, rate=0.131)],
        misreadings=[LearnedMisreading(wear="worn", true="8", read_as="3", count=4.2, usual=0.031, learned=0.09)] * 14,
        left_out=[ReadingLeftOut(reading_id="r-1", reading="H4", truth="H41000", used_for="nothing", why="H4 cannot be read off H41000.")],
        diagram=[ReliabilityBin(low=0.9, high=1.0, count=9, stated=0.97, right=0.78)], calibration_error=0.19, advice=["Record more."],
    )  # fmt: skip
    shown = text(readings, answer)
    for said in (
        "12 confirmed readings: the characters of 11 were counted.\n",
        "goes from 0.85 to 0.75, fitted to 9",
        "worn        11          60      7.5            12.0%  13.1%\n",
        "worn  8 as 3    4.2  0.031  0.090\n",
        "2 others less so.",
        "0.9 to 1.0         9        0.97   0.78\n",
        "the two are 0.19 apart.",
        "! r-1, not used: H4 cannot be read off H41000.",
        "\nRecord more.\n",
    ):
        assert said in shown, said


@pytest.mark.parametrize("awkward", ["[bold]not bold[/bold]", "a word" * 30, "Größe 3/8 \" :smile:", "x" * 200])
def test_whatever_the_dataset_says_is_printed_as_it_is_and_fits_the_page(awkward: str) -> None:
    fit = FIT.model_copy(update={"description": awkward, "role": awkward, "because": [awkward], "cautions": [awkward]})
    unit = KNOWN.model_copy(update={"conflicts": [awkward], "fitted": [KNOWN.fitted[0].model_copy(update={"variant_name": awkward})]})
    for shown in (text(fits, [fit]), text(parts, [fit]), text(identification, unit)):
        assert all(len(line) <= 80 and line == line.rstrip() for line in shown.splitlines())
        assert "".join(awkward.split()) in "".join(shown.split()) or len(awkward) > 60
        assert "\x1b" not in shown
