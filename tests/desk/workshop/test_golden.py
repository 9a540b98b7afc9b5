"""Both procedures of the demo for a unit on either side of a change-over, and for one with a swapped casting on one side.

The golden files were checked by eye. KB_GOLDEN=1 rewrites them; read the difference before you commit it.
"""

import difflib
import os
from pathlib import Path

import pytest

from kb import Evidence, KnowledgeBase
from kb.desk.workshop.print.sheet import html
from tests.desk.workshop.printed import lines, work

GOLDEN = Path(__file__).parent / "golden"
FLANGE = "saw-flange=V3301"  # safety-critical: without a look its steps stay open
SHEETS = {
    "arbor-before": ("arbor", Evidence(serial="104873", marks=[FLANGE])),
    "arbor-after": ("arbor", Evidence(serial="106500", marks=[FLANGE])),
    "arbor-swapped-right": ("arbor", Evidence(serial="104873", marks=[FLANGE, "arbor-housing@right=V2148", "arbor-housing@left=V2141"])),
    "pump-before": ("pump", Evidence(serial="C1400")),
    "pump-after": ("pump", Evidence(serial="C1600")),
    "pump-swapped-left": ("pump", Evidence(serial="C1600", marks=["pump-cover@left=80-C16", "pump-cover@right=80-C36", "pump-body=73-J18"])),
}


@pytest.fixture(scope="module")
def pages(demo: KnowledgeBase) -> dict[str, str]:
    return {name: html(demo.sheet(evidence, assembly), demo.names) for name, (assembly, evidence) in SHEETS.items()}


@pytest.mark.parametrize("name", SHEETS)
def test_the_sheet_is_the_one_that_was_read(pages: dict[str, str], name: str) -> None:
    path, said = GOLDEN / f"{name}.txt", work(pages[name])
    if os.environ.get("KB_GOLDEN"):
        path.write_text(said, encoding="utf-8")
    assert said == path.read_text(encoding="utf-8")


def differ(pages: dict[str, str], one: str, other: str) -> set[str]:
    """The steps (their ids) that are on one of two sheets only, or differ between them."""
    both = [[line for line in work(pages[name]).splitlines() if "; step " in line or "[ ]" in line] for name in (one, other)]
    changed = [line[2:] for line in difflib.ndiff(*both) if line[:1] in "+-"]
    return {line.rpartition("; step ")[2] for line in changed if "; step " in line}


def test_the_sheets_differ_exactly_where_they_should(pages: dict[str, str]) -> None:
    assert differ(pages, "arbor-before", "arbor-after") == {"arbor-7", "arbor-8"}
    assert differ(pages, "pump-before", "pump-after") == {"pump-6", "pump-7"}


def test_left_and_right_differ_where_one_was_swapped(pages: dict[str, str]) -> None:
    arbor = work(pages["arbor-swapped-right"])
    assert "Left: Drive the old seal out of the narrow recess." in arbor and "Right: Drive the old seal out of the wide recess." in arbor
    assert "1 x 6104-2" in arbor and "1 x 6118-1" in arbor
    pump = work(pages["pump-swapped-left"])
    assert "Left: Lay the flat seal dry" in pump and "Right: Press the dished seal" in pump
    assert differ(pages, "pump-after", "pump-swapped-left") == {"pump-4"}


def test_an_undecided_casting_brings_both_steps_and_the_check_first(demo: KnowledgeBase) -> None:
    said = lines(html(demo.sheet(Evidence(serial="105112", marks=[FLANGE]), "arbor"), demo.names))
    decide = next(i for i, line in enumerate(said) if line.startswith("Decide first"))
    narrow = next(i for i, line in enumerate(said) if "narrow recess. Press" in line)
    wide = next(i for i, line in enumerate(said) if "wide recess. Clear" in line)
    assert decide < narrow < wide
    assert "Is a recess turned in the outer face" in said[decide + 1]
    assert said[narrow + 1].startswith("Only if it is housing for the 35 mm seal")


def test_a_critical_casting_nobody_looked_at_is_undecided(demo: KnowledgeBase) -> None:
    for evidence, state in ((Evidence(serial="104873"), "undecided"), (Evidence(serial="104873", marks=[FLANGE]), "do")):
        steps = {step.step: step for step in demo.sheet(evidence, "arbor").procedures[0].steps}
        assert steps["arbor-4"].state == state
        assert ("arbor-5" in steps) is (state == "undecided")


@pytest.mark.parametrize("name", SHEETS)
def test_every_sheet_closes_with_local_codes_and_carries_its_dangers(pages: dict[str, str], name: str) -> None:
    said = lines(pages[name])
    assert said[-1].startswith("Before anything else. Local codes")
    assert "saw flange" in said[-1] or not name.startswith("arbor")
    for step in [i for i, line in enumerate(said) if "[ ]" in line]:
        if any(word in said[step] for word in ("packing", "brake band", "belt")):
            assert any(line.startswith("Caution.") for line in said[step - 2 : step]), said[step]
    assert any("29 CFR 1910.1001" in line for line in said)


def test_a_page_asks_for_nothing_from_anywhere(pages: dict[str, str]) -> None:
    for page in pages.values():
        assert "<script" not in page and "<link" not in page and "url(" not in page and "@import" not in page
        assert "src=" not in page
