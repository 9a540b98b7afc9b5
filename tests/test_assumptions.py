"""What is assumed can be overridden, stands in the file and in docs/model.md, and decides what is said."""

import json
import re
from pathlib import Path

import pytest

from kb import Assumptions, Evidence, KnowledgeBase
from kb.desk.workshop.print.sheet import html
from kb.words.errors import QuestionError


def test_the_page_of_the_model_tells_the_values_of_today(root: Path) -> None:
    section = (root / "docs" / "model.md").read_text(encoding="utf-8").partition("## 14.")[2]
    rows = re.findall(r"^\| `(\w+)` \| ([\d.]+) \|", section, re.MULTILINE)
    assert len(rows) == 19
    assert {name: float(value) for name, value in rows} == {name: float(getattr(Assumptions(), name)) for name, _ in rows}


def test_a_file_tells_all_assumptions_it_was_built_with(demo_db: Path) -> None:
    with KnowledgeBase.open(demo_db) as book:
        stored = json.loads(book._book.info["assumptions"])
        assert stored.keys() == Assumptions().as_dict().keys()
        assert (stored["another_mark"], stored["longest_lead_days"]) == (0.01, 366)
        assert book.identify(Evidence(serial="105112")).assumptions == {}
    with KnowledgeBase.open(demo_db, Assumptions().override(serials_tail=0.25)) as book:
        assert book.identify(Evidence(serial="105112")).assumptions == {"serials_tail": 0.25}


def test_serials_still_possible_are_fewer_where_more_may_lie_beyond(demo_db: Path) -> None:
    def ends(tail: float) -> tuple[str, str]:
        with KnowledgeBase.open(demo_db, Assumptions().override(serials_tail=tail)) as book:
            unit = book.identify(Evidence(serial="1051??")).units[0]
            return unit.serial_first, unit.serial_last

    wide, narrow = ends(0.005), ends(0.25)
    assert wide[0] < "105100" < narrow[0] < narrow[1] < "105199" < wide[1]


@pytest.mark.parametrize(("minutes", "effort"), [(5.0, 5.0), (1.5, 1.5)])
def test_checks_take_the_minutes_that_cleaning_takes(demo_db: Path, minutes: float, effort: float) -> None:
    with KnowledgeBase.open(demo_db, Assumptions().override(cleaning_minutes=minutes)) as book:
        efforts = {check.effort for check in book.identify(Evidence(serial="1051??")).check_next if "casting number" in check.check.lower()}
        assert efforts == {effort}


@pytest.mark.parametrize(("at", "sure"), [(0.5, True), (1.1, False)])
def test_a_sheet_says_that_its_unit_is_unsure_below_that(demo_db: Path, at: float, sure: bool) -> None:
    said = []
    for each in (at, 0.0):
        with KnowledgeBase.open(demo_db, Assumptions().override(sheet_sure_at=each)) as book:
            said.append(html(book.sheet(Evidence(serial="105112"), "arbor"), book.names))
    assert (said[0] == said[1]) is sure


def test_a_look_that_settles_too_little_is_no_sighting(demo_db: Path) -> None:
    looked = Evidence(serial="105112", features=["saw-flange.flange-pins=4"])
    with KnowledgeBase.open(demo_db, Assumptions().override(feature_settles_at=0.5)) as book:
        assert [row.variant_id for row in book.sightings(looked)] == ["flange-4pin"]
    with KnowledgeBase.open(demo_db, Assumptions().override(feature_settles_at=1.1)) as book, pytest.raises(QuestionError):
        book.sightings(looked)


@pytest.mark.parametrize(("tolerance", "found"), [(0.2, 0), (5.0, 1)])
def test_parts_differ_by_no_more_than_what_a_rule_can_tell(demo_db: Path, tolerance: float, found: int) -> None:
    with KnowledgeBase.open(demo_db, Assumptions().override(measure_tolerance=tolerance)) as book:
        assert min(1, len(book.find("33 x 50 x 9").parts)) == found
