"""docs/answers.md: every field is described, and its numbers are those of an enumeration of every serial.

The database of the page is built as usual, so cells are exact to a hundredth; the enumeration is exact.
"""

import json
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import BaseModel

from docs.sessions import sessions
from kb import Assumptions
from kb.words.answers import fitment, identification, review
from tests import enumerator
from tests.small import small

PAGE = Path(__file__).parent.parent.parent / "docs" / "answers.md"
TEXT = PAGE.read_text(encoding="utf-8")
CLOSE = 0.01
EVIDENCE = {"serials": [(None, "01?4", None)], "marks": [("q-head", "left", "H41?7", None)], "features": [("q-case", "", "drain-lug", "no")]}


def printed(command: str) -> Any:
    return json.loads(next(s.answer for s in sessions(TEXT) if s.command.startswith(f"kb {command} ")))


def models(model: type[BaseModel]) -> set[type[BaseModel]]:
    inner = {
        a for f in model.model_fields.values() for a in [f.annotation, *get_args(f.annotation)] if isinstance(a, type) and issubclass(a, BaseModel)
    }
    return {model}.union(*(models(each) for each in inner - {model} if each.__module__ in HERE)) if inner else {model}


HERE = (fitment.__name__, identification.__name__, review.__name__)
WHOLE = (
    identification.Identification, identification.CastingAnswer, fitment.Fit, fitment.UnitsAnswer, fitment.TraceAnswer,
    review.ReviewAnswer, review.ReadingsReview,
)  # fmt: skip


@pytest.mark.parametrize("model", sorted(set().union(*map(models, WHOLE)), key=lambda m: m.__name__))
def test_every_field_is_described(model: type[BaseModel]) -> None:
    assert [name for name in model.model_fields if f"`{name}`" not in TEXT] == []


def test_identify_is_the_enumeration() -> None:
    found, expected = printed("identify"), enumerator.identify(small(), EVIDENCE, Assumptions())
    assert found["not_in_knowledge_base"] == pytest.approx(expected["not_in_knowledge_base"], abs=CLOSE)
    assert {(u["model"], u["block"]): u["probability"] for u in found["units"]} == pytest.approx(
        {key: p for key, p in expected["units"].items() if p >= 0.0001}, abs=CLOSE
    )
    assert sum(u["probability"] for u in found["units"]) + found["rest"] + found["not_in_knowledge_base"] == pytest.approx(1, abs=1e-5)
    for serial in found["serials"]:
        assert serial["probability"] == pytest.approx(expected["serials"][serial["serial"], serial["model"]], abs=CLOSE)
    for row in found["fitted"]:
        spot = (row["component"], row["place"])
        assert row["probability"] == pytest.approx(expected["fitted"][spot][row["variant"]], abs=CLOSE)
        assert row["as_built_probability"] == pytest.approx(expected["as_built"][spot][row["as_built"]], abs=CLOSE)
        assert row["swapped"] == (expected["swapped"][spot] > 0.5)


def test_fits_is_the_enumeration() -> None:
    unit = {"serials": [(None, "0100", None)], "marks": [("q-case", "", "C 200", None)]}
    expected = enumerator.fits(small(), unit, "1407-A", Assumptions())
    for entry in printed("fits"):
        masses = expected[entry["component"], entry["place"], entry["role"]]
        assert (entry["probability"], entry["against"]) == (pytest.approx(masses["yes"], abs=CLOSE), pytest.approx(masses["no"], abs=CLOSE))


def test_casting_is_the_enumeration() -> None:
    found, expected = printed("casting"), enumerator.casting(small(), "C20?", None, Assumptions())
    assert found["not_in_knowledge_base"] == pytest.approx(expected[None], abs=1e-5)
    for match in found["matches"]:
        assert match["probability"] == pytest.approx(expected[match["text"].replace(" ", "")], abs=1e-5)


def test_review_is_the_enumeration() -> None:
    found = printed("review")["changeovers"][0]
    expected = next(c for c in enumerator.review(small(), Assumptions()) if c["component"] == "q-case")
    assert found["first_new"] == expected["serials"][expected["first_new"]]
    assert found["probability"] == pytest.approx(expected["probability"], abs=1e-5)
