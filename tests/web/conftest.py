"""A site that serves the demo, in this process."""

import asyncio
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from kb.web.server import Served
from kb.web.site import Setup


class Site:
    """A served file, asked from tests without a network."""

    def __init__(self, setup: Setup) -> None:
        self.loop = asyncio.new_event_loop()
        self.served = Served(setup)
        self.loop.run_until_complete(self.served.invoke_startup())

    def get(self, url: str, **more: Any) -> Any:
        """The answer to GET."""
        return self.loop.run_until_complete(self.served.client.get(url, **more))

    def request(self, method: str, url: str, **more: Any) -> Any:
        """The answer to another method."""
        return self.loop.run_until_complete(getattr(self.served.client, method.lower())(url, **more))

    def close(self) -> None:
        """End threads and loop."""
        self.served.close()
        self.loop.close()


@pytest.fixture(scope="session")
def site(demo_db: Path) -> Iterator[Site]:
    """The demo served."""
    opened = Site(Setup(str(demo_db)))
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def behind_proxy(demo_db: Path) -> Iterator[Site]:
    """The demo served under a path prefix, with JSON open to other sites and the file for download."""
    opened = Site(Setup(str(demo_db), base_url="/old/iron/", cors=True, download=True))
    yield opened
    opened.close()
