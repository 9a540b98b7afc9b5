"""At the door: only GET and HEAD, no address of absurd length, headers that browsers obey, nothing sent twice.

What the site shows depends on the file, the program and its set-up alone, so that one ETag serves every page (RFC 9110, 8.8.3).
"""

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

from kb.web.hooks import hook
from kb.web.site import Site, site_of

LONGEST_QUERY = 16_000  # bytes; the longest evidence anybody filled in by hand is a tenth of it
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    b"content-security-policy": _POLICY.encode(),
    b"x-content-type-options": b"nosniff",
    b"referrer-policy": b"same-origin",
    b"x-frame-options": b"DENY",
    b"cross-origin-opener-policy": b"same-origin",
}
Scope = dict[str, Any]
Receive = Callable[[], Awaitable[Any]]
Send = Callable[[Any], Awaitable[None]]


@hook
def asgi_wrapper(datasette: Any) -> Callable[[Any], Any]:
    """Datasette's hook: what stands between the server and everything else."""
    site = site_of(datasette)

    def wrap(app: Any) -> Any:
        return app if site is None else _Guard(app, site)

    return wrap


async def _left(receive: Receive) -> None:
    """Until the visitor is gone; what a GET carries in its body is of no interest."""
    while (await receive())["type"] != "http.disconnect":
        await asyncio.sleep(0.01)  # numeric: a body in many pieces, or a server that says the same for ever, leaves others their turn


async def _nothing_more() -> Any:
    """What the application receives: an empty body."""
    return {"type": "http.request", "body": b"", "more_body": False}


class _Guard:
    """The ASGI application around Datasette's."""

    def __init__(self, app: Any, site: Site) -> None:
        self.app, self.site = app, site
        self.prefix = site.prefix.encode()
        self.tag = f'"{site.tag}"'.encode()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        scope = self._without_prefix(scope)
        if scope["method"] not in ("GET", "HEAD"):
            await self._refuse(send, 405, b"This site is read-only: it answers GET and HEAD.\n", [(b"allow", b"GET, HEAD")])
        elif len(scope.get("query_string", b"")) > LONGEST_QUERY:
            await self._refuse(send, 414, b"The address is too long. Give less evidence at a time.\n")
        elif self._known(scope):
            await send({"type": "http.response.start", "status": 304, "headers": self._completed(304, [], scope["path"])})
            await send({"type": "http.response.body", "body": b""})
        else:
            await self._answer(scope, receive, self._sending(scope, send))

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Have the application answer, and give it up when the visitor leaves before it has."""
        complete = False

        async def sending(message: Any) -> None:
            nonlocal complete
            complete = message["type"] == "http.response.body" and not message.get("more_body", False)
            await send(message)

        answering = asyncio.ensure_future(self.app(scope, _nothing_more, sending))
        leaving = asyncio.ensure_future(_left(receive))
        try:
            await asyncio.wait((answering, leaving), return_when=asyncio.FIRST_COMPLETED)
            if not answering.done() and not complete:  # with a complete answer out, only the tidying up is left
                answering.cancel()
            await asyncio.wait((answering,))
            if not answering.cancelled():
                answering.result()  # raises what it raised
        finally:
            answering.cancel()
            leaving.cancel()

    def _without_prefix(self, scope: Scope) -> Scope:
        """A proxy may leave the prefix on or take it off; behind this door it is off."""
        raw = scope.get("raw_path") or scope["path"].encode()
        if self.prefix and raw.startswith(self.prefix + b"/"):
            return {**scope, "raw_path": raw[len(self.prefix) :], "path": scope["path"][len(self.site.prefix) :]}
        return scope

    def _known(self, scope: Scope) -> bool:
        """The visitor has this very page already."""
        asked = next((value for name, value in scope["headers"] if name == b"if-none-match"), b"")
        return not scope["path"].startswith("/-/") and self.tag in [each.strip().removeprefix(b"W/") for each in asked.split(b",")]

    async def _refuse(self, send: Send, status: int, body: bytes, headers: list[tuple[bytes, bytes]] | None = None) -> None:
        headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode()), *(headers or [])]
        await send({"type": "http.response.start", "status": status, "headers": self._completed(status, headers, "")})
        await send({"type": "http.response.body", "body": body})

    def _sending(self, scope: Scope, send: Send) -> Send:
        async def sending(message: Any) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": self._completed(message["status"], message.get("headers", []), scope["path"])}
            await send(message)

        return sending

    def _completed(self, status: int, headers: list[tuple[bytes, bytes]], path: str) -> list[tuple[bytes, bytes]]:
        """The headers of an answer with ours; those that an answer sets itself stay, but for how long it may be kept."""
        given = [(name.lower(), self._located(name.lower(), value)) for name, value in headers]
        has = {name for name, _ in given}
        given = [(name, value) for name, value in given if name != b"cache-control" or path.startswith("/static/")]
        given += [(name, value) for name, value in _HEADERS.items() if name not in has]
        if status in (200, 304) and not path.startswith("/-/"):
            given.append((b"etag", self.tag))
            if not path.startswith("/static/"):
                given.append((b"cache-control", b"no-cache"))
        else:
            given.append((b"cache-control", b"no-store"))
        return given

    def _located(self, name: bytes, value: bytes) -> bytes:
        """Where a redirection leads, behind the prefix."""
        inside = name == b"location" and value.startswith(b"/") and not value.startswith((b"//", self.prefix + b"/"))
        return self.prefix + value if self.prefix and inside else value
