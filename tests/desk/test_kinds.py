"""A kind of evidence is a row of KINDS and two modules of its name; the posterior itself knows no kind."""

import ast
import re
from importlib import import_module
from pathlib import Path

import pytest

from kb.desk.evidence.resolve import resolver_of
from kb.desk.evidence.resolved import RESOLVERS
from kb.desk.posterior.factor import FACTORS, factors_of
from kb.words.evidence import KINDS, EvidenceKind


def test_words_evidence_and_posterior_have_the_same_kinds(root: Path) -> None:
    for room in ("evidence", "posterior"):
        for module in (root / "kb" / "desk" / room).glob("[a-z]*.py"):
            import_module(f"kb.desk.{room}.{module.stem}")
    assert {kind.name for kind in KINDS} == set(RESOLVERS) == set(FACTORS)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_both_halves_stand_in_modules_of_its_name(kind: EvidenceKind) -> None:
    name = kind.name
    assert resolver_of(name).__module__ == f"kb.desk.evidence.{name}"
    assert factors_of(name).__module__ == f"kb.desk.posterior.{name}"


@pytest.mark.parametrize("module", ["kb/desk/posterior/unit_posterior.py", "kb/desk/posterior/factor.py", "kb/desk/posterior/castings.py"])
def test_what_multiplies_factors_knows_no_kind_by_name(root: Path, module: str) -> None:
    tree = ast.parse((root / module).read_text(encoding="utf-8"))
    imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and node.module}
    texts = {node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    for kind in KINDS:
        assert f"kb.desk.posterior.{kind.name}" not in imported and f"kb.desk.evidence.{kind.name}" not in imported
        assert kind.name not in texts and not any(re.fullmatch(rf"{kind.name}s?", text) for text in texts)
