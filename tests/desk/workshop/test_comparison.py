"""Variants side by side: what the dataset says of each, and between which serials it was fitted."""

from pathlib import Path

import pytest

from kb import KnowledgeBase, QuestionError
from kb.desk.sentences.numbers import fitted_between


def test_two_variants_of_a_flange(demo_db: Path) -> None:
    with KnowledgeBase.open(demo_db) as book:
        found = book.compare("saw flange")
        change = next(each for each in book.review("ov-mill-no", "saw-flange").changeovers)
    four, six = found.variants
    assert (found.component, four.variant, six.variant) == ("saw-flange", "flange-4pin", "flange-6pin")
    assert [[mark.text for mark in each.marks] for each in found.variants] == [["V3301", "V3304"], ["V3307", "V3307B"]]
    assert [[feature.value for feature in each.features] for each in found.variants] == [["4"], ["6"]]
    assert (four.spans[0].to_low, four.spans[0].to_high) == (six.spans[0].from_low, six.spans[0].from_high) == (change.low, change.high)
    assert fitted_between(four.spans[0]).startswith("from the start, until ") and fitted_between(six.spans[0]).endswith(" on, to the end")


def test_only_the_variants_that_are_named(demo_db: Path) -> None:
    with KnowledgeBase.open(demo_db) as book:
        assert [each.variant for each in book.compare("saw-flange", ["six-pin flange"]).variants] == ["flange-6pin"]
        assert [each.variant for each in book.compare("saw-flange", ["flange-6pin", "flange-4pin"]).variants] == ["flange-4pin", "flange-6pin"]


@pytest.mark.parametrize(("component", "variants", "problem"), [
    ("saw-flang", [], 'There is no component "saw-flang" in this knowledge base.'),
    ("saw-flange", ["flange-5pin"], 'The saw flange has no variant "flange-5pin".'),
    ("saw-flange", ["housing-plain"], 'The saw flange has no variant "housing-plain".'),
])
def test_what_there_is_not_is_refused_with_what_there_is(demo_db: Path, component: str, variants: list[str], problem: str) -> None:
    with KnowledgeBase.open(demo_db) as book, pytest.raises(QuestionError) as refused:
        book.compare(component, variants)
    assert refused.value.problem == problem and "flange" in refused.value.remedy
