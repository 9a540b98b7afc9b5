"""What re-reading a character is expected to tell, against docs/model.md written a second time: every outcome entered, every serial walked.

Tolerance 1e-9 on every gain and probability; nothing is left out for being improbable.
"""

import os
from collections.abc import Iterator
from typing import Any

import pytest

from kb import KnowledgeBase
from kb.desk.advice import rereading_unit as rereadunit
from kb.desk.advice.checks import rank_checks
from kb.desk.advice.unit_targets import UnitTarget, VariantTarget
from kb.desk.sentences.numbers import ordinal
from kb.probability.channel.reading import Reading
from kb.store.build import build
from kb.words.answers.identification import Check
from loaders.folder import load
from tests.desk.test_against_enumerator import ASSUMPTIONS, TABLES, evidence
from tests.enumerator import looks
from tests.small import write

MARKS = [("q-head", "left", "H41?7", None), ("q-case", "", "C 208", None)]
CASES: dict[str, tuple[dict[str, Any], str, int, int]] = {  # evidence; which reading of it, and which token
    "one reading": ({"serials": [(None, "01?4", None)]}, "serials", 0, 2),
    "a check digit": ({"serials": [(None, "A0?7?", "worn")]}, "serials", 0, 4),
    "the check digit's neighbour, two readings": ({"serials": [(None, "A0?[17]4", None), (None, "A01?4", "worn")]}, "serials", 0, 2),
    "two engine numbers read": ({"serials": [(None, "B00?8", None), ("o-engine", "E[23]?", None), ("o-engine", "E?4", None)]}, "serials", 1, 2),
    "a mark somewhere": ({"model": "q2", "marks": [(None, "", "C20[80]", None)]}, "marks", 0, 3),
}
MORE: dict[str, tuple[dict[str, Any], str, int, int]] = {
    "of two readings": ({"serials": [(None, "01?4", None), (None, "0[19]04", "badly-worn")]}, "serials", 1, 1),
    "upside down": ({"serials": [(None, "0?6?1", None), (None, "?69", None)]}, "serials", 1, 1),
    "an export letter": ({"serials": [(None, "01?4X", "worn")]}, "serials", 0, 4),
    "a broken corner": ({"serials": [(None, "0*?4", None), (None, "01?*", None)]}, "serials", 0, 3),
    "of either maker": ({"serials": [(None, "*?1", None)]}, "serials", 0, 2),
    "a series named": ({"serials": [("o-no", "?01??", None)]}, "serials", 0, 4),
    "nobody's number": ({"serials": [(None, "ZZ9?914", None)]}, "serials", 0, 3),
    "an engine number, one reading": ({"serials": [(None, "A0?7?", None), ("o-engine", "E2?", None)]}, "serials", 1, 2),
    "beside a mark": ({"serials": [(None, "01??", None)], "marks": MARKS}, "serials", 0, 2),
    "a mark": ({"serials": [(None, "01??", None)], "marks": MARKS}, "marks", 0, 3),
    "two marks at one place": ({"model": "q2", "marks": [("q-head", "right", "H4[17]01", None), ("q-head", "right", "H41?7", None)]}, "marks", 1, 3),
    "a mark somewhere, of either maker": ({"serials": [(None, "*?1", None)], "marks": [(None, "", "?C1[17]", None)]}, "marks", 0, 3),
    "two marks somewhere": ({"model": "q2", "marks": [(None, "", "C20[80]", None), (None, "", "H4[17]01", None)]}, "marks", 1, 2),
    "a foundry mark": ({"maker": "quenby", "marks": [("q-case", "", "V?", None)]}, "marks", 0, 1),
}  # fmt: skip
CAMPAIGN = bool(os.environ.get("KB_CAMPAIGN"))
ALL = {**CASES, **MORE} if CAMPAIGN else CASES
FITS = [
    ("1408", ("q-case", "", "seal"), "of two readings"),
    ("1800", ("o-case", "", "bush"), "two engine numbers read"),
    ("1500", ("q-head", "left", "gasket"), "a mark"),
    ("1600", ("q-hub", "", "bearing"), "of either maker"),
][: None if CAMPAIGN else 1]


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[KnowledgeBase]:
    folder = tmp_path_factory.mktemp("small")
    build(load([write(TABLES, folder / "data")]).dataset, folder / "kb.db", assumptions=ASSUMPTIONS)
    with KnowledgeBase.open(folder / "kb.db", ASSUMPTIONS) as opened:
        yield opened


@pytest.fixture(autouse=True)
def nothing_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rereadunit, "LEFT_OUT", 0.0)
    monkeypatch.setattr(rereadunit, "FAINT", 0.0)


@pytest.mark.parametrize("name", ALL)
def test_which_unit(book: KnowledgeBase, name: str) -> None:
    question, *look = ALL[name]
    found = book._examine(evidence(question), None)
    checks = rank_checks(found.weighing, found.posterior, UnitTarget(found), most=500)
    compare(checks, question, *look, looks.which_unit(TABLES, question, *look, ASSUMPTIONS))


@pytest.mark.parametrize(("part", "entry", "name"), FITS)
def test_does_it_fit(book: KnowledgeBase, part: str, entry: tuple[str, str, str], name: str) -> None:
    question, *look = {**CASES, **MORE}[name]
    counter = book._counter(evidence(question), "fitted", None, None, 500)
    (fit,) = [each for each in counter.fits(book._the_one(part)) if (each.component, each.place, each.role) == entry]
    compare(fit.check_next, question, *look, looks.does_it_fit(TABLES, question, part, entry, *look, ASSUMPTIONS))


@pytest.mark.parametrize("name", ["of two readings", "a mark", "a mark somewhere"][: None if CAMPAIGN else 1])
def test_which_casting(book: KnowledgeBase, name: str) -> None:
    question, *look = {**CASES, **MORE}[name]
    found = book._examine(evidence(question), None)
    checks = rank_checks(found.weighing, found.posterior, VariantTarget(found), most=500)
    ask = looks.for_the_best_place if look[0] == "serials" else looks.which_casting
    compare(checks, question, *look, ask(TABLES, question, "quenby", *look, ASSUMPTIONS))


def compare(checks: list[Check], question: dict[str, Any], kind: str, which: int, token: int, expected: looks.Joint) -> None:
    """The check for one character of a reading against what telling each outcome leaves."""
    bits, reading = looks.gain(expected), question[kind][which][1 if kind == "serials" else 2]
    named = f"the {ordinal(token + 1)} character of {Reading.parse(reading)} ("
    said = [check for check in checks if named in check.check]
    assert len(said) == (bits >= 0.01), (bits, [check.check for check in checks])
    for check in said:
        assert check.gain_bits == pytest.approx(bits, abs=1e-9)
        for outcome in check.outcomes:
            if len(outcome.outcome) == 1:
                column = expected[outcome.outcome]
                assert outcome.probability == pytest.approx(sum(column.values()), abs=1e-9)
                after = max(column.values()) / sum(column.values())
                assert outcome.then_probability == pytest.approx(after, abs=1e-9), outcome
