"""A browser for pages that are files."""

import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, sync_playwright

from kb import KnowledgeBase

# Debian's chromium must not look for anything on the network; nothing in a page does.
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"]


@pytest.fixture(scope="module")
def demo(demo_db: Path) -> KnowledgeBase:
    return KnowledgeBase.open(demo_db)


@pytest.fixture(scope="module")
def browser() -> Iterator[BrowserContext]:
    """Chromium of the system, as wide as a phone."""
    with sync_playwright() as started, tempfile.TemporaryDirectory() as profile:
        context = started.chromium.launch_persistent_context(
            profile, executable_path=shutil.which("chromium"), headless=True, args=ARGUMENTS, viewport={"width": 390, "height": 800}
        )
        yield context
        context.close()
