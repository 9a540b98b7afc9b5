"""Part numbers: one number however it is written, several makers of one number, and no silent guess."""

import subprocess
import sys

import pytest
from rapidfuzz.distance import OSA

from kb.catalogue.partnumbers import by_normal_form, look_up, nearest
from kb.words.errors import DataError, QuestionError

KNOWN = by_normal_form(["1407", "1407-A", "14 07 a", "1470-A", "H4120B", "7"])


@pytest.mark.parametrize(("asked", "found"), [
    ("1407", ("1407",)),
    ("1407a", ("1407-A", "14 07 a")),  # two makers use the number: both are offered
    ("14 07 a", ("14 07 a", "1407-A")),  # written exactly so stands first
    ("h41/20.b", ("H4120B",)),
])
def test_a_number_is_found_however_it_is_written(asked: str, found: tuple[str, ...]) -> None:
    assert look_up(asked, KNOWN) == found


@pytest.mark.parametrize(("asked", "message"), [
    ("1408", 'There is no part "1408". Did you mean 1407?'),
    ("4107-A", 'There is no part "4107-A". Did you mean 1407-A or 14 07 a?'),  # two characters swapped are one slip
    ("99999", 'There is no part "99999". Check the number, or look for it by component with: kb parts.'),
    ("14O7", 'There is no part "14O7". Did you mean 1407?'),  # near, but never taken for it
])
def test_an_unknown_number_is_named_as_unknown_with_the_nearest_known(asked: str, message: str) -> None:
    with pytest.raises(QuestionError) as error:
        look_up(asked, KNOWN)
    assert str(error.value) == message


def test_what_cannot_be_a_number_is_refused() -> None:
    with pytest.raises(DataError, match='"14\\*7" contains'):
        look_up("14*7", KNOWN)


def test_near_numbers_are_within_a_slip_for_every_four_characters() -> None:
    known = by_normal_form([f"{a}{b}{c}{d}" for a in "14" for b in "04" for c in "07" for d in "178"])
    asked = "1407"
    expected = sorted((OSA.distance(asked, form), form) for form in known if OSA.distance(asked, form) <= 1)
    assert nearest(asked, known, most=99) == [form for _, form in expected]


def test_looking_up_a_known_number_needs_no_fuzzy_matching() -> None:
    program = "import sys; from kb.catalogue.partnumbers import *; look_up('7', by_normal_form(['7'])); assert 'rapidfuzz' not in sys.modules"
    subprocess.run([sys.executable, "-c", program], check=True)
