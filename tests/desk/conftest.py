"""The demo knowledge base, built once."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from kb import KnowledgeBase
from kb.store.build import build
from loaders.folder import load


@pytest.fixture(scope="session")
def mills(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[KnowledgeBase]:
    """demo_data/mills-and-pumps, opened."""
    loaded = load([root / "demo_data" / "mills-and-pumps"])
    path = tmp_path_factory.mktemp("mills") / "kb.db"
    build(loaded.dataset, path, pictures=loaded.pictures, problems=loaded.problems)
    with KnowledgeBase.open(path) as book:
        yield book
