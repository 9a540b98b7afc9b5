"""Every kind of danger that a row may name has words, and what is public about it is cited with its year."""

import re

from kb.desk.sentences.cautions import CLOSING
from kb.probability.catalogue.hazards import HAZARDS
from kb.words.records.procedures import HAZARDS as NAMES


def test_the_kinds_of_the_records_are_those_with_words() -> None:
    assert tuple(HAZARDS) == NAMES


def test_a_federal_rule_is_cited_with_its_year() -> None:
    for hazard in HAZARDS.values():
        for cited in re.findall(r"29 CFR [^;]*", hazard.source):
            assert re.search(r"\(OSHA, (19|20)\d\d\)", cited), hazard.name
        assert len(hazard.text) > 60


def test_the_sheet_defers_to_local_codes() -> None:
    assert "Local codes" in CLOSING and "licensed" in CLOSING
