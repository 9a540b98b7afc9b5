"""What a text may mean: names and numbers before readings, readings before words, and nothing taken for what it only resembles."""

from pathlib import Path

import pytest

from kb import KnowledgeBase, QuestionError


@pytest.mark.parametrize(("text", "kind", "subject", "which", "address"), [
    ("6104", "part", "part", "6104", "/parts/6104"),
    ("fr 3552", "part", "part", "FR-3552", "/parts/FR-3552"),
    ("Wren 30", "model", "model", "wren-30", "/models/wren-30"),
    ("arbor housing", "component", "component", "arbor-housing", "/compare/arbor-housing"),
    ("105112", "serial", "unit", "105112", "/identify?serial=105112"),
    ("V21?1", "casting", "casting", "V21?1", "/castings?mark=V21%3F1"),
    ("thicker", "words", "component", "saw-flange", "/compare/saw-flange"),
])
def test_the_first_meaning(demo_db: Path, text: str, kind: str, subject: str, which: str, address: str) -> None:
    with KnowledgeBase.open(demo_db) as book:
        first = book.look(text).meanings[0]
    assert (first.kind, first.subject, first.id, first.address) == (kind, subject, which, address)


def test_measures_find_parts_and_no_number_is_taken_for_another(demo_db: Path) -> None:
    with KnowledgeBase.open(demo_db) as book:
        assert {each.id for each in book.look("35 x 52 x 7").meanings} == {"6104", "6104-1", "6104-2", "FR-3552"}
        near = book.look("FR-3525").meanings
        assert near and all(each.kind == "near" and each.probability is not None for each in near)
        assert book.look("qqqq").meanings == []


@pytest.mark.parametrize("text", ["", "   ", "x" * 201])
def test_nothing_and_too_much_are_refused(demo_db: Path, text: str) -> None:
    with KnowledgeBase.open(demo_db) as book, pytest.raises(QuestionError) as refused:
        book.look(text)
    assert refused.value.remedy
