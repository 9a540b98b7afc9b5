"""Connections that keep others waiting: whoever opens one has so many seconds to send the whole head of a request.

Without that limit half-open connections are held for ever, each a file handle; a few hundred from one machine would close the site.
"""

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_SECONDS = 15.0  # a telephone with one bar of signal needs less


class Punctual(H11Protocol):
    """uvicorn's protocol, with a clock that runs while no request is being answered."""

    seconds = HEAD_SECONDS
    _late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """A visitor is there: the clock runs."""
        super().connection_made(transport)
        self._late = self.loop.call_later(self.seconds, self._close)

    def data_received(self, data: bytes) -> None:
        """Once the head is whole the request is answered, and the clock stops; a piece of one does not wind it up again."""
        super().data_received(data)
        if self.cycle is not None and not self.cycle.response_complete:
            self._stop()
        elif self._late is None and not self.transport.is_closing():
            self._late = self.loop.call_later(self.seconds, self._close)

    def connection_lost(self, exc: Exception | None) -> None:
        """The visitor is gone."""
        self._stop()
        super().connection_lost(exc)

    def _stop(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None

    def _close(self) -> None:
        self._late = None
        if self.cycle is None or self.cycle.response_complete:
            self.transport.close()
