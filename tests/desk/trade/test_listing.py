"""Sentences for listings: only what is sure is promised, within the length, in every language."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from kb import KnowledgeBase
from kb.desk.sentences.languages import LANGUAGES
from kb.desk.sentences.listing import SHORTEST, Promise, sentence

SURE = [Promise("M1", "B00001", "B00411"), Promise("M2 and M3", "C1", "C900"), Promise("M4", "D7", "D7")]
CHECK = [Promise("M2", "B00412", "B00430", "cover marked H4110A or H4110B")]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("sure", [SURE, SURE[:1], []])
@pytest.mark.parametrize("check", [CHECK, []])
@pytest.mark.parametrize("most", [*range(SHORTEST, 200), None])
def test_within_the_length_and_nothing_promised_that_is_not_sure(
    language: str, sure: list[Promise], check: list[Promise], most: int | None
) -> None:  # fmt: skip
    said = sentence("1407", [*sure, *check], language, most)
    assert most is None or len(said) <= most
    left_out = [each.first for each in [*sure, *check] if each.first not in said]
    if left_out and (sure or check):
        assert re.search("ask|Ask|nachfragen|renseigner", said), said  # that there is more is said
    if check and check[0].first in said:
        clause = re.split(r"(?<!no)(?<!Nr)\. ", said.partition(check[0].first)[0])[-1]
        assert re.search("heck|prüfen|érifi", clause), said  # what must be checked is never among what fits
    if most is None and check:
        assert "H4110A" in said


@pytest.mark.parametrize("part", ["6104", "6118", "6122", "PE-214", "PE-231", "PE-410", "6803"])
def test_english_without_a_limit_is_the_sentence_of_the_units(part: str, demo_db: Path) -> None:
    with KnowledgeBase.open(demo_db) as book:
        assert book.listing(part).sentence == book.units(part).sentence
        assert book.listing(part).units == book.units(part).units


@pytest.mark.parametrize(("language", "said", "look"), [
    ("de", "Passt zu M1 Nr. B00001 bis B00411; M4 Nr. D7. Zuerst prüfen: M2 Nr. B00412 bis B00430 (Deckel V1).", "mit Gussnummer V2141 oder V2146"),
    ("fr", "Convient à M1 n° B00001 à B00411; M4 n° D7. À vérifier d'abord : M2 n° B00412 à B00430 (Deckel V1).", "fonderie V2141 ou V2146"),
])  # fmt: skip
def test_in_other_languages(language: str, said: str, look: str, demo_db: Path) -> None:
    assert sentence("1407", [SURE[0], SURE[2], replace(CHECK[0], look="Deckel V1")], language) == said
    with KnowledgeBase.open(demo_db) as book:
        assert look in book.listing("6104", language).sentence
