"""P(mark read | variant): figures worked out by hand from docs/model.md, section 4; the build and the desk have them from the same place."""

import ast
from pathlib import Path

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.probability.inference.mark_likelihood import mark_likelihood, none_there, or_foundry

NONE = np.zeros(0)
USUAL = Assumptions().override(foundry_share=0.05, none_where_marked=0.1, none_where_unmarked=0.9)


@pytest.mark.parametrize(("of_marks", "unrecorded", "foundry", "expected"), [
    ([[0.8, 0.2]], 0.01, [], [0.9 * 0.5]),  # the mean of its marks, and that one is there
    ([[]], 0.01, [], [0.1 * 0.01]),  # no mark is recorded: most bear none, and what is read is unknown
    ([[1.0], [0.0]], 0.5, [0.4, 0.0], [0.9 * (0.95 * 1.0 + 0.05 * 0.2), 0.9 * 0.05 * 0.2]),  # or it is a foundry's, any one as likely
    ([], 0.3, [0.4], []),
])  # fmt: skip
def test_by_hand(of_marks: list[list[float]], unrecorded: float, foundry: list[float], expected: list[float]) -> None:
    found = mark_likelihood([np.array(each) for each in of_marks], unrecorded, np.array(foundry), USUAL)
    assert found.tolist() == pytest.approx(expected, abs=1e-15)


def test_without_foundry_marks_nothing_is_taken_away() -> None:
    assert or_foundry(np.array([0.3, 0.7]), NONE, USUAL).tolist() == [0.3, 0.7]


def test_no_mark_where_one_is_recorded_and_where_none_is() -> None:
    assert none_there([True, False], USUAL).tolist() == [0.1, 0.9]


def test_the_formula_stands_once(root: Path) -> None:
    """`foundry_share` enters in one module: a second implementation would need it, too."""
    users = [
        path.relative_to(root).as_posix()
        for path in sorted((root / "kb").rglob("*.py"))
        if any(isinstance(node, ast.Attribute) and node.attr == "foundry_share" for node in ast.walk(ast.parse(path.read_text("utf-8"))))
    ]
    assert users == ["kb/probability/inference/mark_likelihood.py"]
