"""The slow second program against arithmetic that can be done by hand.

It is what the program is measured with, so it is measured itself: every expected number below is worked out in the comment beside it.
Source where none is named: arithmetic on the formulas of docs/model.md.
"""

from math import exp
from typing import Any

import pytest

from kb.assumptions import Assumptions
from tests.enumerator import casting, fits, identify, review
from tests.enumerator.built import Built, OwnNumbers
from tests.enumerator.changeovers import built_new, estimate, gain, joint_marginal, result, stages
from tests.enumerator.fitted import component_weight, fitted_chances, posterior
from tests.enumerator.places import Castings
from tests.enumerator.readings import see
from tests.enumerator.serials import lay_out
from tests.enumerator.tables import Row, Tables
from tests.enumerator.unknown import learn, unknown_weight

NEVER = {"clean": 0.0, "worn": 0.0, "badly-worn": 0.0}
# To be worked by hand: all misreadings alike, no slips, entries at their word.
USUAL = Assumptions().override(uniform_share=1.0, sharpness=1.0, lost=NEVER, doubled=NEVER, end_lost=NEVER)
AT_ONCE = USUAL.override(mixed_width={0: 1.0})  # no mixed stretch
M = 0.002 / 35  # clean: one certain wrong character


def near(value: Any) -> Any:
    return pytest.approx(value, rel=1e-9, abs=1e-15)


# Change-overs

@pytest.mark.parametrize(("s", "expected"), [(1, 0), (2, 1 / 4), (3, 2 / 4), (4, 3 / 4), (5, 1)])
def test_the_mixed_stretch(s: int, expected: float) -> None:
    assert built_new(s, b=2, w=3) == expected


SERIES: Row = {"series_id": "s", "maker_id": "m"}


def block(block_id: str, position: int, **more: str) -> Row:
    return {"block_id": block_id, "series_id": "s", "position": str(position), "model_id": "one", **more}


def ten_units(**more: list[Row]) -> Tables:
    """Serials 1..10, all of one model, and a head of two variants that changed."""
    return {
        "makers": [{"maker_id": "m"}], "models": [{"model_id": "one", "maker_id": "m"}], "series": [SERIES],
        "blocks": [block("a", 1, first="1", last="10")],
        "components": [{"component_id": "head", "maker_id": "m", "assembly": "top"}],
        "variants": [{"variant_id": "old", "component_id": "head"}, {"variant_id": "new", "component_id": "head"}],
        "marks": [{"mark_id": "1", "variant_ids": "old", "text": "ALF"}, {"mark_id": "2", "variant_ids": "new", "text": "BET"}],
        "sources": [{"source_id": key, "grade": key.upper()[0], "copied_from": copied} for key, copied in
                    (("a", ""), ("a2", ""), ("b", ""), ("copy-b", "a"), ("d", ""))],
        **more,
    }  # fmt: skip


def claim(breakpoint_id: str, source: str = "a", **more: str) -> Row:
    return {"breakpoint_id": breakpoint_id, "series_id": "s", "component_id": "head", "old_variant_id": "old", "new_variant_id": "new",
            "source_id": source, **more}  # fmt: skip


def sighting(sighting_id: str, serial: str, variant: str, original: str = "believed", **more: str) -> Row:
    return {"sighting_id": sighting_id, "series_id": "s", "serial": serial, "component_id": "head", "variant_id": variant,
            "original": original, **more}  # fmt: skip


def test_one_exact_claim_among_ten() -> None:
    # First new is serial 5, order 4. Loc ~ exp(-|b - 4| / 2) over b = 0..10: its sum is
    # 1 + 2 (.60653066 + .36787944 + .22313016 + .13533528) + .08208500 + .04978707 = 3.79762315.
    # b = 4: .99 + .01 (1 / 3.79762315 / 2 + 1/22) = .99177116;  b = 3: .01 (.60653066 / 3.79762315 / 2 + 1/22) = .00125311
    found = review(ten_units(breakpoints=[claim("1", first_new="5")]), AT_ONCE)[0]
    assert found["b"][4] == pytest.approx(0.99177116, abs=1e-8)
    assert found["b"][3] == pytest.approx(0.00125311, abs=1e-8)
    assert sum(found["b"]) == near(1.0)
    assert (found["first_new"], found["low"], found["high"], found["serials"][4]) == (4, 4, 4, "5")
    assert found["claims"] == [("exact", 4, 4, 0.99, "supported", near(found["b"][4]))]


@pytest.mark.parametrize(("row", "kind", "low", "high"), [
    ({"first_new": "5"}, "exact", 4, 4),
    ({"first_new": "5", "about": "yes"}, "about", 4, 4),
    ({"first_new": "5", "first_new_to": "7"}, "range", 4, 6),
    ({"first_new": "5", "last_old": "4"}, "exact", 4, 4),
    ({"first_new": "5", "last_old": "2"}, "range", 2, 4),
    ({"first_new": "5", "last_old": "7"}, "exact", 4, 4),
    ({"last_old": "7"}, "range", 7, 10),
    ({"when": "1950-01"}, "range", 0, 0),  # 10 units in 365 days: 0 .. ceil(310/365) - 1 = 0
    ({"when": "1950-02"}, "range", 0, 1),  # floor(310/365) = 0 .. ceil(590/365) - 1 = 1
    ({"when": "1950-12/1951"}, "range", 9, 9),  # floor(3340/365) = 9, clipped to the block
])  # fmt: skip
def test_what_a_row_claims(row: dict[str, str], kind: str, low: int, high: int) -> None:
    tables = ten_units(breakpoints=[claim("1", **row)], blocks=[block("a", 1, first="1", last="10", built_from="1950")])
    found = review(tables, USUAL)[0]
    assert found["claims"][0][:3] == (kind, low, high)
    assert (3 in found["mixed"]) is (row.get("last_old") == "7" and "first_new" in row)  # 5, 6, 7 were mixed


@pytest.mark.parametrize(("claims", "expected"), [
    ([claim("1", "b", first_new="5"), claim("2", "d", first_new="5")], [(4, 0.95)]),  # they say the same
    ([claim("1", "a", first_new="5"), claim("2", "a2", first_new="5"), claim("3", "b", first_new="5")], [(4, 0.99), (4, 0.99)]),
    ([claim("1", "copy-b", first_new="6"), claim("2", "a", first_new="5")], [(4, 0.99)]),  # a copy of a
    ([claim("1", "copy-b", first_new="6")], [(5, 0.99)]),  # the root is silent: its grade
    ([claim("1", "a", first_new="5", retracted="misread"), claim("2", "d", first_new="6")], [(5, 0.60)]),
])  # fmt: skip
def test_which_claims_count(claims: list[Row], expected: list[tuple[int, float]]) -> None:
    found = review(ten_units(breakpoints=claims), USUAL)[0]
    assert [(low, r) for _, low, _, r, _, _ in found["claims"]] == expected


def test_two_sightings_without_doubt_leave_what_lies_between() -> None:
    # external check: uniform on (last old sighting, first new sighting]; serials 3 old and 7 new are orders 2 and 6
    sure = AT_ONCE.override(replaced_when_believed_original=0.0)
    tables = ten_units(breakpoints=[claim("1")], sightings=[sighting("1", "3", "old"), sighting("2", "7", "new")])
    found = review(tables, sure)[0]
    assert found["b"] == near([0, 0, 0, 0.25, 0.25, 0.25, 0.25, 0, 0, 0, 0])
    assert (found["first_new"], found["low"], found["high"]) == (3, 3, 6)
    # Serial 5 halves it if originality were sure; with rho = .15 and g = 1/2: P(old | b) = .925 or .075, symmetric,
    # so 1 - H(.075) bits are won: H(.075) = .38431154
    assert found["seek"] == (4, pytest.approx(1 - 0.38431154, abs=1e-8))


def test_a_replaced_casting_is_odd() -> None:
    # serial 9 carries old, n = 10 units, claim at serial 5 by grade A. P(old | b) = .99 if b > 8 else .01 (rho .02, g 1/2).
    # P(replaced | b) = .01 / .99 or 1. P(b = 9), P(b = 10) before: .01 (exp(-5/2), exp(-6/2) / 3.79762315 / 2 + 1/22).
    late = sum(0.01 * (exp(-d / 2) / 3.797623148 / 2 + 1 / 22) for d in (5, 6))
    expected = ((1 - late) * 0.01 * 1 + late * 0.99 * (0.01 / 0.99)) / ((1 - late) * 0.01 + late * 0.99)
    found = review(ten_units(breakpoints=[claim("1", first_new="5")], sightings=[sighting("9", "9", "old")]), AT_ONCE)[0]
    assert found["sightings"]["9"] == pytest.approx(expected, abs=1e-8)
    assert expected > 0.5


def test_latest_sighting_wins_and_replaced_ones_say_nothing() -> None:
    rows = [sighting("1", "3", "old", seen_on="1990"), sighting("2", "03", "new", seen_on="1980"), sighting("3", "4", "new", "replaced"),
            sighting("4", "5?", "new"), sighting("5", "99", "new"), sighting("6", "6", "new", retracted="not seen")]  # fmt: skip
    found = review(ten_units(breakpoints=[claim("1")], sightings=rows, blocks=[block("a", 1, first="1", last="10", width="2")]), AT_ONCE)[0]
    assert list(found["sightings"]) == ["1"]


def test_two_change_overs_in_order() -> None:
    # b1 <= b2 in 0..2, six pairs alike: at order 0 three have b1 = 0 and one has b2 = 0
    flat = estimate(2, [], [], [], AT_ONCE)
    assert stages([flat, flat], 0) == near([1 / 2, 1 / 3, 1 / 6])
    assert stages([flat, flat], 1) == near([1 / 6, 1 / 3, 1 / 2])
    first = joint_marginal([flat, flat], 0)
    assert [first[b, 0] for b in range(3)] == near([3 / 6, 2 / 6, 1 / 6])
    assert result(first, USUAL) == (0, near(1 / 2), 0, 2)
    assert gain(0, flat, 1.0, 0.5, 0.5) == near(0.0)  # where everything is replaced a sighting says nothing


# What is fitted, and which unit it is

def test_the_posterior_over_three_cells() -> None:
    # Cells .2 .5 .3, P(new built) 0 .6 1, rho .1, two variants; P(mark) .9 / .1, P(feature) .7 / .1, P(reading) .02 .3 .6. By hand:
    # old built .95 .01 + .05 .63 = .041, new built .95 .63 + .05 .01 = .599; cells .000164, .05637, .10782 of .164354.
    # The same by exact variable elimination (pgmpy): .00099785 .34297918 .65602297.
    seen = {"old": 0.1 * 0.1, "new": 0.9 * 0.7, "": 0.0}
    shares = {"old": 0.5, "new": 0.5}
    cells = [component_weight({"old": 1 - new, "new": new}, [seen], lambda o: fitted_chances(o, shares, 0.1, 0.0)) for new in (0, 0.6, 1)]
    found = posterior([0.2, 0.5, 0.3], [c * r for c, r in zip(cells, (0.02, 0.3, 0.6), strict=True)])
    assert found == pytest.approx([0.00099785, 0.34297918, 0.65602297], abs=5e-9)


@pytest.mark.parametrize("shares", [{"old": 0.5, "new": 0.5}, {"old": 0.2, "new": 0.8, "other": 0.0}, {}])
@pytest.mark.parametrize("built", ["old", "new"])
def test_what_is_fitted_sums_to_one(shares: dict[str, float], built: str) -> None:
    assert sum(fitted_chances(built, shares, 0.03, 0.005).values()) == near(1.0)


def test_serial_and_mark_of_ten_units_by_hand() -> None:
    tables = ten_units(breakpoints=[claim("1", first_new="5")])
    found = identify(tables, {"serials": [(None, "7", None)], "marks": [("head", "", "BET", None)]}, AT_ONCE)
    # P(new built at order s) = P(b <= s), from the one claim above
    b = [0.99 * (i == 4) + 0.01 * (exp(-abs(i - 4) / 2) / 3.797623148 / 2 + 1 / 22) for i in range(11)]
    new = [sum(b[: s + 1]) for s in range(10)]
    marks = learn({"ALF": 1.0, "BET": 1.0}, USUAL)
    unrecorded = 0.5 * unknown_weight(see("BET", None, USUAL), marks, USUAL)  # .5: that it bears a mark
    like = {"old": 0.9 * M**3, "new": 0.9 * 0.998**3, "": unrecorded}  # A-B, L-E and F-T differ
    same, other = 0.995 * (0.97 + 0.015), 0.995 * 0.015
    if_old = same * like["old"] + other * like["new"] + 0.005 * like[""]
    if_new = same * like["new"] + other * like["old"] + 0.005 * like[""]
    x = [(1 - p) * if_old + p * if_new for p in new]
    a = [0.99 * each + 0.01 * sum(x) / 10 for each in x]
    serial = [0.998 if s == 6 else M if s < 9 else 0.0 for s in range(10)]  # 10 has two digits; nothing here can be turned
    joint = [0.95 / 10 * serial[s] * a[s] for s in range(10)]
    numbers = learn({str(i): 0.1 for i in range(1, 11)}, USUAL)
    unknown = 0.05 * unknown_weight(see("7", None, USUAL), numbers, USUAL) * unrecorded
    total = sum(joint) + unknown
    assert found["not_in_knowledge_base"] == near(unknown / total)
    assert [found["serials"][str(s + 1), "one"] for s in range(10)] == pytest.approx([j / total for j in joint], rel=1e-7)
    assert found["units"]["one", "a"] == pytest.approx(sum(joint) / total)
    assert found["fitted"]["head", ""]["new"] > 0.99
    # swapped assembly aside, fitted and as built differ only by replacement or the unrecorded variant
    assert sum(found["fitted"]["head", ""].values()) == near(1.0)
    assert sum(found["as_built"]["head", ""].values()) == near(1.0)


def test_a_unit_does_not_testify_for_itself() -> None:
    tables = ten_units(breakpoints=[claim("1")], sightings=[sighting("1", "3", "new")])
    works, castings = lay_out(tables, AT_ONCE), Castings(tables, AT_ONCE)
    built = Built(tables, works, castings, AT_ONCE)
    units = works.units(("s", ""))
    # left out: flat, P(b <= 2) = 3/11. Else P(new | b) = .99 for b <= 2, .01 after: order 3 has (3 .99 + .01) / (3 .99 + 8 .01)
    assert built.as_built(units[2], "head")["new"] == near(3 / 11)
    assert built.as_built(units[3], "head")["new"] == near((3 * 0.99 + 0.01) / (3 * 0.99 + 8 * 0.01))


def test_options_come_first_and_the_lineage_takes_the_rest() -> None:
    option = {"option_id": "1", "component_id": "head", "variant_id": "new", "share": "0.4", "series_id": "s", "serial_from": "2", "serial_to": "3"}
    start = {**claim("0", first_new="2"), "old_variant_id": "", "new_variant_id": "old"}
    tables = ten_units(breakpoints=[start], options=[option])
    works = lay_out(tables, USUAL)
    built = Built(tables, works, Castings(tables, USUAL), USUAL)
    assert [built.as_built(u, "head") for u in works.units(("s", ""))[:4]] == [
        {"old": 0, "new": 0, "": 1}, {"old": near(0.6), "new": 0.4, "": 0}, {"old": near(0.6), "new": 0.4, "": 0}, {"old": 1, "new": 0, "": 0},
    ]  # fmt: skip


def test_which_engine_a_unit_has() -> None:
    engines = [
        {"block_id": "e1", "series_id": "e", "position": "1", "first": "1", "last": "2", "built_from": "1948-12-30", "model_id": "one"},
        {"block_id": "e2", "series_id": "e", "position": "2", "first": "3", "last": "4", "built_from": "1949"},
        {"block_id": "e3", "series_id": "e", "position": "3", "first": "5", "last": "6", "built_from": "1951"},  # after the machine
        {"block_id": "e4", "series_id": "e", "position": "4", "first": "7", "last": "8", "model_id": "two"},  # another model
    ]
    tables = ten_units(series=[SERIES, {"series_id": "e", "maker_id": "m", "component_id": "head"}],
                       blocks=[block("a", 1, first="1", last="10", built_from="1950"), *engines])  # fmt: skip
    works = lay_out(tables, USUAL)
    own = OwnNumbers(works, Castings(tables, USUAL), USUAL)
    # 30 December 1948 is 367 days before 1 January 1950, one too many; rho = .03, pi = 1/8, C = 1/2 on e2 alone
    found = own.chances("head", works.units(("s", ""))[0])
    assert found == near([0.03 / 8] * 2 + [0.97 / 2 + 0.03 / 8] * 2 + [0.03 / 8] * 4)
    # its number read with certainty as 5: the casting is replaced or swapped, yet the probabilities sum to 1
    answer = identify(tables, {"serials": [("e", "5", "clean")], "maker": "m", "model": "one"}, USUAL)
    assert sum(answer["units"].values()) + answer["not_in_knowledge_base"] == near(1.0)
    assert sum(answer["fitted"]["head", ""].values()) == near(1.0)


def test_evidence_on_several_places_and_of_another_maker() -> None:
    two = [{"component_id": "head", "maker_id": "m", "assembly": "top", "places": "left;right"},
           {"component_id": "hub", "maker_id": "n", "assembly": "axle"}]  # fmt: skip
    tables = ten_units(components=two, breakpoints=[claim("1", first_new="5")])
    found = identify(tables, {"marks": [(None, "", "BET", None)]}, AT_ONCE)
    left, right = found["fitted"]["head", "left"], found["fitted"]["head", "right"]
    assert left == {v: near(p) for v, p in right.items()}  # nothing tells left from right
    found = identify(tables, {"marks": [("hub", "", "BET", None)]}, AT_ONCE)
    # a unit of m explains a foreign mark with .005 U, one that is not known with U
    assert found["not_in_knowledge_base"] == near(0.05 / (0.05 + 0.95 * 0.005))


def test_a_loose_casting() -> None:
    found = casting(ten_units(), "BET", None, USUAL)
    unknown = unknown_weight(see("BET", None, USUAL), learn({"ALF": 1.0, "BET": 1.0}, USUAL), USUAL)
    total = 0.95 / 2 * (0.998**3 + M**3) + 0.05 * unknown
    assert found == {"BET": near(0.95 / 2 * 0.998**3 / total), "ALF": near(0.95 / 2 * M**3 / total), None: near(0.05 * unknown / total)}


def test_own_numbers_and_swapped_assemblies_by_hand() -> None:
    # One machine, two engines 1 and 2. The crank, of the engine's assembly, changed along the engine numbers, says a claim of grade A: from 2 on.
    tables = ten_units(
        series=[SERIES, {"series_id": "e", "maker_id": "m", "component_id": "engine"}],
        blocks=[block("a", 1, first="1", last="1"), {"block_id": "e", "series_id": "e", "position": "1", "first": "1", "last": "2"}],
        components=[{"component_id": "head", "maker_id": "m", "assembly": "top"}, {"component_id": "engine", "maker_id": "m", "assembly": "top"}],
        breakpoints=[{**claim("1", first_new="2"), "series_id": "e"}],
    )
    found = identify(tables, {"serials": [("e", "2", "clean")], "marks": [("head", "", "ALF", "clean")]}, AT_ONCE)
    # n = 2: Loc over b = 0, 1, 2 is exp(-.5), 1, exp(-.5), normalised; P(new at 1) = P(b = 0), P(new at 2) = P(b <= 1)
    whole = 1 + 2 * exp(-0.5)
    at = [0.01 * (exp(-0.5) / whole / 2 + 1 / 6), 0.99 + 0.01 * (1 / whole / 2 + 1 / 6)]
    new = [at[0], at[0] + at[1]]
    same, other = 0.995 * (0.97 + 0.015), 0.995 * 0.015
    unrecorded = 0.005 * 0.5 * unknown_weight(see("ALF", None, USUAL), learn({"ALF": 1.0, "BET": 1.0}, USUAL), USUAL)
    old_like, new_like = 0.9 * 0.998**3, 0.9 * M**3
    reads = [M, 0.998]
    # P(x | u) = 1/2 each; the only machine swaps its assembly with itself, so the swap changes as built only, not the weight
    x_old = [r / 2 * (1 - n) for r, n in zip(reads, new, strict=True)]
    x_new = [r / 2 * n for r, n in zip(reads, new, strict=True)]
    if_old, if_new = same * old_like + other * new_like + unrecorded, same * new_like + other * old_like + unrecorded
    likelihood = sum(x_old) * if_old + sum(x_new) * if_new
    as_built_old = 0.99 * sum(x_old) * if_old / likelihood + 0.01 * (1 - sum(new) / 2)
    fitted_old = (sum(x_old) * same + sum(x_new) * other) * old_like / likelihood
    assert found["as_built"]["head", ""]["old"] == near(as_built_old)
    assert found["fitted"]["head", ""]["old"] == near(fitted_old)
    # 3 units in 2 blocks: serial 1 of the machine weighs 1/3 2, the engines 1/3 2 each; the weights of the texts are 4/3 and 2/3
    unknown = 0.05 * unknown_weight(see("2", None, USUAL), learn({"1": 4 / 3, "2": 2 / 3}, USUAL), USUAL) * unrecorded / 0.005
    assert found["not_in_knowledge_base"] == near(unknown / (unknown + 0.95 * likelihood))


# Fitment

def fitment(fitment_id: str, part: str, **more: str) -> Row:
    return {"fitment_id": fitment_id, "part_number": part, "component_id": "head", "role": "seal", "quantity": "1", **more}


@pytest.mark.parametrize(("part", "rows", "yes", "no"), [
    ("P-1", [fitment("1", "p1", variant_id="new")], "new", ""),
    ("p1", [fitment("1", "P-1", variant_id="new"), fitment("2", "P-2", variant_id="old")], "new", "old"),  # another part in its role
    ("p1", [fitment("1", "P-1", variant_id="new"), fitment("2", "P-2", variant_id="old", role="nut")], "new", ""),
    ("p1", [fitment("1", "P-1"), fitment("2", "P-1", variant_id="old", fits="no")], "new", "old"),
    ("p1", [fitment("1", "P-1", serial_to="6")], "", "every"),  # beyond its limits
    ("p1", [fitment("1", "P-1", serial_from="7", serial_to="7")], "recorded", ""),
    ("p1", [fitment("1", "P-1", model_id="two")], "", "every"),
    ("n1", [fitment("1", "P-1", variant_id="new")], "new", ""),  # replaces P-1
    ("n2", [fitment("1", "P-1", variant_id="new")], "new", ""),  # replaces it where the new variant is fitted
    ("n2", [fitment("1", "P-1", variant_id="old")], "", "old"),  # never both; and where the old one is fitted, P-1 belongs there
    ("n3", [fitment("1", "P-1", variant_id="new")], None, None),  # does not carry fitment
    ("o1", [fitment("1", "P-1", variant_id="new")], None, None),  # was replaced by P-1: nothing is inherited backwards
])  # fmt: skip
def test_statements_about_a_part(part: str, rows: list[Row], yes: str | None, no: str | None) -> None:
    links = [("P-1", "N-1", "", ""), ("P-1", "N-2", "new", ""), ("P-1", "N-3", "", "no"), ("O-1", "P-1", "", "")]
    supersessions = [{"old_part": old, "new_part": new, "variant_id": v, "carries_fitment": c, "direction": "one-way"} for old, new, v, c in links]
    tables = ten_units(breakpoints=[claim("1", first_new="5")], fitments=rows, supersessions=supersessions)
    evidence = {"serials": [(None, "7", "clean")]}
    sure = AT_ONCE.override(misread={"clean": 0.0, "worn": 0.0, "badly-worn": 0.0})
    unit, found = identify(tables, evidence, sure), fits(tables, evidence, part, sure)
    if yes is None:
        assert found == {}
        return
    known = 1 - unit["not_in_knowledge_base"]
    p = unit["fitted"]["head", ""]
    mass = {"": 0.0, "new": p["new"], "old": p["old"], "recorded": p["new"] + p["old"], "every": 1.0}
    answer = found["head", "", "seal"]
    assert answer["yes"] == near(mass[yes] * known)
    assert answer["no"] == near(mass[str(no)] * known)
    assert sum(answer.values()) == near(known)


@pytest.mark.parametrize(("condition", "seen", "holds"), [
    ({"feature_id": "lug", "value": "yes"}, [("hub", "", "lug", "yes")], True),  # seen
    ({"feature_id": "lug", "value": "yes"}, [("hub", "", "lug", "other")], False),
    ({"feature_id": "lug", "value": "yes"}, [], True),  # not seen: as the only variant of the hub is recorded
    ({"feature_id": "width", "low": "10", "high": "20"}, [("hub", "", "width", "12mm")], True),
    ({"feature_id": "width", "low": "10", "high": "20"}, [("hub", "", "width", 21.0)], False),
    ({"variant_id": "hub-2"}, [], True),  # does the same job as hub-1
])  # fmt: skip
def test_a_further_condition(condition: Row, seen: list[tuple[str, str, str, Any]], holds: bool) -> None:
    tables = ten_units(
        components=[{"component_id": "head", "maker_id": "m", "assembly": "top"}, {"component_id": "hub", "maker_id": "m", "assembly": "axle"}],
        features=[{"feature_id": "lug", "component_id": "hub"}, {"feature_id": "width", "component_id": "hub", "kind": "measure"}],
        feature_values=[{"variant_id": "hub-1", "feature_id": "lug", "value": "yes"}],
        fitments=[fitment("1", "P")], fitment_conditions=[{"fitment_id": "1", "component_id": "hub", **condition}],
    )  # fmt: skip
    tables["variants"] = [*tables["variants"], {"variant_id": "hub-1", "component_id": "hub"}]
    if "variant_id" in condition:
        tables["variants"].append({"variant_id": "hub-2", "component_id": "hub", "same_function_as": "hub-1", "service_share": "0"})
    found = fits(tables, {"features": seen, "maker": "m"}, "P", USUAL)["head", "", "seal"]
    known = sum(found.values())
    if holds:
        assert found["yes"] > 0.9 * known
    else:
        assert found["yes"] < 0.01 * known
