"""A loose casting with a partly known origin: what remains, what is refused, and that it agrees with identifying the unit.

The numbers themselves are compared with the enumerator in test_against_enumerator.py.
"""

from collections.abc import Iterator

import pytest

from kb import Evidence, KnowledgeBase
from kb.store.build import build
from kb.words.errors import KbError
from tests.desk.review.test_changeovers import ROWS
from tests.probability.production.rows import Given, dataset

MARKS: list[Given] = [
    {"variant_ids": "a", "text": "H410"}, {"variant_ids": "a", "text": "H41"}, {"variant_ids": "b", "text": "B410"},
    {"variant_ids": "b", "text": "H527"}, {"variant_ids": "b", "text": "H52"},
]  # fmt: skip


@pytest.fixture(scope="module")
def heads(tmp_path_factory: pytest.TempPathFactory) -> Iterator[KnowledgeBase]:
    """600 units of one model with one component, flat until about the 210th, then domed."""
    path = tmp_path_factory.mktemp("heads") / "kb.db"
    build(dataset(**{**ROWS, "marks": MARKS, "models": [{"model_id": "m"}, {"model_id": "never-built"}]}), path)
    with KnowledgeBase.open(path) as book:
        yield book


def of_variants(book: KnowledgeBase, reading: str, **told: str) -> dict[str, float]:
    """variant -> its share among the recorded marks."""
    found = book.casting(reading, **told)
    every = sum(match.probability for match in found.matches)
    return {v: sum(m.probability for m in found.matches if m.variants == [v]) / every for v in ("a", "b")}


@pytest.mark.parametrize("reading", ["H4?0", "?[45]*", "?41?", "*"])
def test_of_a_model_it_is_what_identifying_a_unit_of_it_says(heads: KnowledgeBase, reading: str) -> None:
    found = heads._examine(Evidence.read({"model": "m", "marks": {"head": reading}}), None)
    a, b, _ = found.posterior.makers["marl"].totals(("head", "")).fitted[0]
    assert of_variants(heads, reading, model="m")["a"] == pytest.approx(a / (a + b), abs=0.001)  # marks under .0001 are not listed
    assert of_variants(heads, reading, model="m", component="head") == of_variants(heads, reading, model="m")


def test_the_serials_say_what_it_was_built_with(heads: KnowledgeBase) -> None:
    early, late, all_of_them = (of_variants(heads, "?[45]*", serial_from=a, serial_to=b) for a, b in (("1", "150"), ("400", ""), ("1", "600")))
    assert early["a"] > 0.9 and late["b"] > 0.9
    assert early["a"] > all_of_them["a"] > late["a"] > 0  # it may have been replaced
    assert all_of_them == pytest.approx(of_variants(heads, "?[45]*", model="m"))


def test_what_was_said_leaves_the_castings_of_others_out(mills: KnowledgeBase) -> None:
    free, told = mills.casting("?7*"), mills.casting("?7*", component="carriage")
    assert {match.component for match in free.matches} > {match.component for match in told.matches} == {"carriage"}
    assert told.said == {"component": "carriage"} and free.said == {}
    of_model = mills.casting("?7*", model="Rook 36")
    assert {match.maker for match in of_model.matches} == {"ombrecht-vay"}
    assert of_model.said == {"maker": "ombrecht-vay", "model": "rook-36"}
    assert 0.999 < sum(m.probability for m in of_model.matches) + of_model.not_in_knowledge_base <= 1 + 1e-12


def test_a_number_of_another_casting_is_told_as_such(mills: KnowledgeBase) -> None:
    told = mills.casting("V2148", component="carriage")
    assert told.not_in_knowledge_base > 0.9
    assert told.elsewhere.startswith("Of all castings it suits Ombrecht & Vay, arbor housing (V2148): almost certain")
    assert mills.casting("V2148", component="arbor-housing").elsewhere == ""
    assert mills.casting("ZZZ99", component="carriage").elsewhere == ""
    assert mills.casting("V2147", component="carriage", again={5: "8"}).elsewhere.startswith("Of all castings it suits Ombrecht & Vay, arbor housing")


@pytest.mark.parametrize(("told", "problem", "remedy"), [
    ({"component": "arbor-hosing"}, 'There is no component "arbor-hosing"', 'Did you mean "arbor-housing"'),
    ({"component": "carriage", "maker": "pellwether"}, 'There is no component "carriage"', "Known are"),
    ({"model": "rok-36"}, 'There is no model "rok-36"', 'Did you mean "rook-36"'),
    ({"maker": "pellwhether"}, 'There is no maker "pellwhether"', 'Did you mean "pellwether"'),
    ({"model": "rook-36", "maker": "pellwether"}, 'The model "Rook 36" is not by Pellwether.', "Its maker is Ombrecht & Vay."),
    ({"component": "carriage", "model": "quince-5"}, 'There is no component "carriage"', "Known are"),
    ({"serial_from": "999999", "maker": "ombrecht-vay"}, '"999999": No block of "ov-mill-no" holds', "Known near it"),
    ({"serial_from": "103000", "serial_to": "102000"}, "The serials run from 103000 back to 102000.", "Swap serial_from and serial_to."),
    ({"serial_from": "103000", "serial_to": "C0342"}, "103000 and C0342 stand in different lines.", "Take each line by itself"),
    ({"model": "rook-36", "serial_to": "100100"}, "No unit is recorded of which all this is true.", "Leave out the model or the serials."),
])  # fmt: skip
def test_what_cannot_be_is_refused(mills: KnowledgeBase, told: dict[str, str], problem: str, remedy: str) -> None:
    with pytest.raises(KbError) as refused:
        mills.casting("V21?7", **told)
    assert refused.value.problem.startswith(problem) and remedy in refused.value.remedy


def test_a_component_without_marks_has_none_that_it_may_be(tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("bare") / "kb.db"
    build(dataset(**{**ROWS, "components": [{"component_id": "head"}, {"component_id": "foot"}]}), path)
    with KnowledgeBase.open(path) as book:
        for told in ({"component": "foot"}, {"component": "foot", "model": "m"}):
            found = book.casting("H4?0", **told)
            assert found.matches == [] and found.not_in_knowledge_base == 1
            assert "Marl & Co, component (H410): almost certain" in found.elsewhere


def test_a_model_of_which_no_unit_is_recorded_tells_nothing_and_says_so(heads: KnowledgeBase) -> None:
    with pytest.raises(KbError, match="No unit is recorded"):
        heads.casting("H4?0", model="never-built")
