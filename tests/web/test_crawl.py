"""No link is dead, with or without a path prefix, whether the proxy leaves it on or strips it."""

import re
from collections import deque
from html import unescape
from urllib.parse import urljoin

import pytest

from tests.web.conftest import Site

STARTS = ["/", "/identify?serial=%3F1%3F42&mark=gear-case%3D18-E25", "/parts/6104", "/changeovers?component=arbor-housing", "/kb", "/kb/sightings"]
LINK = re.compile(r"""(?:href|src|action|formaction)="([^"#]*)(?:#[^"]*)?\"""")


def links(text: str) -> list[str]:
    return [unescape(found) for found in LINK.findall(text) if found and not found.startswith(("mailto:", "data:"))]


def kind_of(path: str) -> str:
    """Which pages are alike: /parts/6104 and /parts/6118; a table sorted by this and by that."""
    path, _, query = path.partition("?")
    names = sorted(re.sub(r"(^|&)([^=&]*)=[^&]*", r"\1\2", query).split("&"))
    return re.sub(r"(?<=/)[^/.]+(?=(\.\w+)?$)", "*", path) + "?" + "&".join(dict.fromkeys(names))


@pytest.mark.parametrize("prefixed", [False, True])
def test_every_link_leads_somewhere(site: Site, behind_proxy: Site, campaign: bool, prefixed: bool) -> None:
    """Walk the site; of pages that are alike only some are opened, as all would take minutes."""
    opened, prefix = (behind_proxy, "/old/iron") if prefixed else (site, "")
    alike, most = (12, 2000) if campaign else (1, 70)
    waiting, seen, kinds, bad = deque((prefix + start, "start") for start in STARTS), set(), {}, []
    while waiting and len(seen) < most:
        url, origin = waiting.popleft()
        kind = kind_of(url)
        if url in seen or kinds.get(kind, 0) >= alike:
            continue
        seen.add(url)
        kinds[kind] = kinds.get(kind, 0) + 1
        page = opened.get(url.removeprefix(prefix))  # the client of the tests puts the prefix on
        if page.status_code in (301, 302):
            waiting.append((page.headers["location"], url))
        elif page.status_code != 200:
            bad.append((page.status_code, url, origin))
        elif page.headers["content-type"].startswith("text/html"):
            for link in links(page.text):
                there = urljoin(url, link).replace("http://localhost", "")
                if (
                    there.startswith(("http:", "https:"))
                    or not there.startswith(prefix + "/")
                    or there.startswith(f"{prefix}{prefix}/" if prefix else "//")
                ):
                    bad.append((0, link, url))
                else:
                    waiting.append((there, url))
    assert not bad, "\n".join(f"{status} {url} linked from {origin}" for status, url, origin in bad[:40])
    assert len(seen) > 40
    assert prefix == "" or all(url.startswith(prefix) for url in seen)


def test_a_prefix_may_be_left_on_or_taken_off(behind_proxy: Site) -> None:
    """The same page for both ways in which proxies are set up."""

    def raw(path: str) -> str:
        sent: list[dict[str, object]] = []

        async def receive() -> dict[str, object]:
            return {"type": "http.request", "body": b""}

        async def send(message: dict[str, object]) -> None:
            sent.append(message)

        scope = {"type": "http", "method": "GET", "path": path, "raw_path": path.encode(), "query_string": b"", "headers": [], "scheme": "http",
                 "server": ("localhost", 80), "http_version": "1.1"}  # fmt: skip
        behind_proxy.loop.run_until_complete(behind_proxy.served.app()(scope, receive, send))
        assert sent[0]["status"] == 200
        return b"".join(message.get("body", b"") for message in sent[1:]).decode()  # type: ignore[misc]

    assert raw("/parts/6104") == raw("/old/iron/parts/6104")
    assert raw("/kb/parts/6104") == raw("/old/iron/kb/parts/6104")
