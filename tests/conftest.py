"""What the tests of several rooms share: how random tests run, and where the project stands."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

os.environ.setdefault("KB_ID_SEED", "")  # ids that are given are the same in every run, here and in the programs that tests start

from kb.store.build import build
from loaders.folder import load

ROOT = Path(__file__).resolve().parent.parent

# Brief runs give the same cases every time, so that a failure is a change and not luck; a campaign (`make campaign`) looks for new ones.
settings.register_profile("brief", max_examples=100, deadline=None, derandomize=True)
settings.register_profile("campaign", max_examples=2000, deadline=None)
settings.load_profile("campaign" if os.environ.get("KB_CAMPAIGN") else "brief")


@pytest.fixture(scope="session")
def root() -> Path:
    """The project's folder."""
    return ROOT


@pytest.fixture(scope="session")
def campaign() -> bool:
    """Whether to take the time for the long version of a test."""
    return bool(os.environ.get("KB_CAMPAIGN"))


@pytest.fixture(scope="session")
def demo_folder(root: Path) -> Path:
    """The dataset folder of the demo."""
    return root / "demo_data" / "mills-and-pumps"


@pytest.fixture(scope="session")
def demo_db(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo built into a file, once for all tests; it is read-only."""
    target = tmp_path_factory.mktemp("demo") / "kb.db"
    loaded = load([demo_folder])
    assert not loaded.wrong, [str(finding) for finding in loaded.findings]
    build(loaded.dataset, target, extras=loaded.extras, pictures=loaded.pictures, problems=loaded.problems)
    return target
