"""Part numbers: one number however it is written, several makers of one number, and no silent guess."""

import subprocess
import sys

import pytest
from rapidfuzz.distance import OSA

from kb.probability.catalogue.partnumbers import MOST_NAMED, KnownNumbers, by_normal_form, look_up
from kb.words.errors import DataError, QuestionError

KNOWN = by_normal_form(["1407", "1407-A", "14 07 a", "1470-A", "H4120B", "7"])


@pytest.mark.parametrize(("asked", "found"), [
    ("1407", ("1407",)),
    ("1407a", ("1407-A", "14 07 a")),  # two makers use the number: both are offered
    ("14 07 a", ("14 07 a", "1407-A")),  # written exactly so stands first
    ("h41/20.b", ("H4120B",)),
    ("No. 1407", ("1407",)),
    ("part no 1407-A", ("1407-A", "14 07 a")),
    ('"1407_A"', ("1407-A", "14 07 a")),
    ("#1407", ("1407",)),
])
def test_a_number_is_found_however_it_is_written(asked: str, found: tuple[str, ...]) -> None:
    assert look_up(asked, KNOWN) == found


@pytest.mark.parametrize(("asked", "message"), [
    ("1408", 'There is no part "1408". Did you mean 1407 (8 for 7)?'),
    # two characters swapped are one slip; both makers' numbers are named
    ("4107-A", 'There is no part "4107-A". Did you mean 1407-A (two characters swapped) or 14 07 a (two characters swapped)?'),
    ("99999", 'There is no part "99999". Check the number, or look for the part by what it is with: kb find.'),
    ("H4l20B", 'There is no part "H4l20B". Did you mean H4120B (L for 1)?'),  # near, but never taken for it
])
def test_an_unknown_number_is_named_as_unknown_with_the_nearest_known(asked: str, message: str) -> None:
    with pytest.raises(QuestionError) as error:
        look_up(asked, KNOWN)
    assert str(error.value) == message


def test_what_cannot_be_a_number_is_refused() -> None:
    with pytest.raises(DataError, match='"14\\*7" contains'):
        look_up("14*7", KNOWN)


def test_near_numbers_are_within_a_slip_for_every_four_characters() -> None:
    """By OSA distance, the optimal string alignment that RapidFuzz computes; no character of these looks like another."""
    known = by_normal_form([f"{a}{b}{c}{d}" for a in "14" for b in "43" for c in "79" for d in "147" if f"{a}{b}{c}{d}" != "1497"])
    asked = "1497"
    expected = {form for form in known if OSA.distance(asked, form) <= 1}
    assert {each.part_number for each in KnownNumbers(known).near(asked)} <= expected
    assert {"1491", "1494", "1397", "4497"} <= expected
    swapped = KnownNumbers(by_normal_form(["1947", "1498", "2497"])).near(asked)
    assert [each.part_number for each in swapped] == ["1947"]  # the others are far less probable


@pytest.mark.parametrize(("asked", "known", "named"), [
    ("6131", ("6131-10", "6131-25", "6131-50", "6999"), ["6131-10", "6131-25", "6131-50"]),  # the suffix left out: all of them
    ("61O1", ("6101", "6181", "6161"), ["6101"]),  # what looks alike is far nearer than a wrong character
    ("6140", ("6104", "6410", "6141"), ["6104", "6410"]),  # a swap tells far more than a wrong character
    ("1407", ("14075",), ["14075"]),  # no suffix here, but a character may be missing
    ("1407", ("140755",), []),
])
def test_what_may_have_been_meant(asked: str, known: tuple[str, ...], named: list[str]) -> None:
    assert [each.part_number for each in KnownNumbers(by_normal_form(known)).near(asked)] == named


@pytest.mark.parametrize("count", [2, MOST_NAMED, MOST_NAMED + 3, 4 * MOST_NAMED, 4 * MOST_NAMED + 1, 60])
def test_equally_near_numbers_are_named_together_or_not_at_all(count: int) -> None:
    known = by_normal_form([f"6131-{number}" for number in range(10, 10 + count)])
    assert len(KnownNumbers(known).near("6131")) == (count if count <= 4 * MOST_NAMED else 0)


def test_looking_up_a_known_number_needs_no_fuzzy_matching() -> None:
    program = (
        "import sys; from kb.probability.catalogue.partnumbers import *; look_up('7', by_normal_form(['7'])); assert 'rapidfuzz' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", program], check=True)
