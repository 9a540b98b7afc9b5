"""What the tests of several rooms share: how random tests run, and where the project stands."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

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
