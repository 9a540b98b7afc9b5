"""Values from the data and from strangers show as text; no request, however odd, breaks a page or changes the file."""

import hashlib
import random
import string
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import quote, urlencode

import pytest

from kb.store.build import build
from kb.web.site import Setup
from loaders.folder import load
from tests.web.conftest import Server, Site

SCRIPT = "<script>alert(1)</script>"
NASTY = {
    "script": SCRIPT,
    "quotes": "\"'`><img src=x onerror=alert(1)>",
    "right to left": "\u202eabc\u2066\u2069 \u05e9\u05dc\u05d5\u05dd",
    "long": "x" * 10_000,
    "formula": "=cmd|' /C calc'!A0",
    "template": "{{ 7*7 }}{% for x in y %}",
    "percent": "100% of %s &amp; %3Cb%3E",
}


@pytest.fixture(scope="module", params=NASTY)
def nasty(request: pytest.FixtureRequest, demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Site, str]]:
    """The demo with one nasty text in everything that a person may write freely."""
    text = NASTY[request.param]
    loaded = load([demo_folder])
    found = loaded.dataset

    def spoil(table: str, **fields: str) -> object:
        return tuple(row.model_copy(update=fields) for row in getattr(found, table))

    spoilt = replace(
        found,
        makers=spoil("makers", note=text),
        models=spoil("models", note=text),
        components=spoil("components", where_to_look=text, note=text),
        variants=spoil("variants", how_to_tell=text, note=text),
        features=spoil("features", question=text),
        sources=spoil("sources", title=text),
        parts=spoil("parts", description=text, note=text),
        pictures=spoil("pictures", alt=text, caption=text),
        sightings=spoil("sightings", note=text),
    )
    target = tmp_path_factory.mktemp("nasty") / "kb.db"
    build(spoilt, target, extras=loaded.extras, pictures=loaded.pictures, problems=loaded.problems)
    site = Site(Setup(str(target)))
    yield site, text
    site.close()


PAGES = [
    "/identify?serial=105112",
    "/fits?part=6104&serial=105112",
    "/sell?part=6104&serial=105112",
    "/parts/6104",
    "/compare/arbor-housing",
    "/browse",
    "/models/wren-30",
    "/changeovers?component=arbor-housing",
    "/kb/variants",
    "/kb/parts/6104",
]


@pytest.mark.parametrize("url", PAGES)
def test_texts_of_the_data_show_as_text(nasty: tuple[Site, str], url: str) -> None:
    site, text = nasty
    page = site.get(url)
    assert page.status_code == 200
    assert SCRIPT not in page.text
    assert "<img src=x" not in page.text
    assert text != NASTY["template"] or "{{ 7*7 }}" in page.text  # shown, not worked out
    assert page.text.count("<script") == 1  # our own, by address


@pytest.mark.parametrize("text", NASTY.values(), ids=NASTY)
def test_texts_of_a_question_show_as_text(site: Site, text: str) -> None:
    for name in ("serial", "mark", "saw", "maker", "model", "wear", "cast_date", "q", "part", "step"):
        for path in ("/identify", "/fits", "/sell", "/measure", "/parts", "/castings", "/find", "/changeovers"):
            page = site.get(f"{path}?{urlencode({name: text[:3000]})}")
            assert page.status_code < 500, (path, name)
            assert SCRIPT not in page.text and "<img src=x" not in page.text, (path, name)
    for path in ("parts", "compare", "guides", "models", "series", "procedures", "pictures", "kb/parts", "kb"):
        page = site.get(f"/{path}/{quote(text[:500], safe='')}")
        assert page.status_code < 500, path
        assert SCRIPT not in page.text, path


PIECES = [
    "/", "identify", "fits", "sell", "measure", "guides", "sheet",
    "parts", "castings", "changeovers", "compare", "browse", "models", "series", "find", "sighting", "kb", "_internal",
    "-", "health", "openapi", ".json", ".csv", ".db", "..", "%2e%2e", "%00", "~2F", "~", "%ff", "%F0%9F%94%A7", "6104", "arbor-housing", "sightings",
    "mark_index", "build_info", "static", "kb.css", "pictures", "'", "\"", ";", "\\", " ",
]  # fmt: skip
NAMES = [
    "step", "value", "at_hand", "shim", "count", "return_cost", "sale_value", "alone",
    "serial", "mark", "saw", "maker", "model", "wear", "cast_date", "part", "assembly", "everything", "for", "replaced_rate", "q", "series",
    "component", "more", "serial_is", "serial_of", "mark_is", "mark_on", "measure_is", "measure_of", "_sort", "_sort_desc", "_facet", "_size",
    "_next", "_search", "_where", "_through", "_shape", "_nl", "_labels", "_col", "_nocol", "_trace", "_timelimit", "_ttl", "_facet_array", "sql",
    "_searchmode", "_json", "_stream", "_dl", "kind__in", "note__contains", "_filter_column", "_filter_op", "_filter_value", "_extra",
]  # fmt: skip
VALUES = [
    "", "?", "*", "[", "]", "[]", "[38]", "105112", "?1?42", "*?*?*?*?*", "?" * 64, "*" * 64, "[0123456789]" * 5,
    "6" * 64, "9" * 30, "-1", "1e309", "nan",
    "0.5", "true", "none", "arbor-housing=none", "arbor-housing@left=V2148", "arbor-housing.housing-face=wide", "a=b=c", "=", "@", ".", "@=.", "null",
    "' or 1=1 --", "\"", "{", "[1,2", '{"a":1}', "\x00", "\ud83d".encode("utf-16", "surrogatepass").decode("utf-16", "replace"), "é" * 100,
    "\u202e", "<b>", "%", "%s%s%n", "array", "objects", "part_number", "x" * 5000, "crankcase=C 14 8", "arbor-10", "6131-10=999", "0.35mm",
    "ombrecht-vay", "wren-30", "fitted", "worn",
    "NEAR(", "(", "*a",
]  # fmt: skip


KNOWN = [
    "/identify",
    "/fits",
    "/sell",
    "/measure",
    "/sheet",
    "/parts",
    "/castings",
    "/find",
    "/sighting",
    "/changeovers",
    "/kb/parts",
    "/kb/sightings",
    "/kb/marks",
]


def odd_request(dice: random.Random) -> str:
    """An address as somebody may make it who means no good."""
    path = "/" + "/".join(dice.choice(PIECES) for _ in range(dice.randrange(4))) + dice.choice(["", "", ".json"])
    if dice.random() < 0.5:
        path = dice.choice(KNOWN)
        path += dice.choice(["", "", ".json"])
    pairs = []
    for _ in range(dice.randrange(7)):
        value = dice.choice(VALUES) if dice.random() < 0.8 else "".join(dice.choices(string.printable, k=dice.randrange(30)))
        pairs.append((dice.choice(NAMES), value))
    return path + ("?" + urlencode(pairs) if pairs else "")


MOST_GROWTH = 48  # MB after warming up; a leak of 10 kB a request is as much in a campaign


def test_no_request_breaks_a_page_fills_the_memory_or_changes_the_file(server: Server, demo_db: Path, campaign: bool) -> None:
    """No answer is a failure of ours, nothing of the inside is shown, memory is steady once warm, the file is what it was."""
    before, dice = hashlib.sha256(demo_db.read_bytes()).digest(), random.Random(None if campaign else 6)
    warming, more = (1000, 5000) if campaign else (100, 200)
    warm = 0.0
    with closing(HTTPConnection(server.home.removeprefix("http://"), timeout=60)) as connection:
        for number in range(warming + more):
            if number == warming:
                warm = server.memory
            url = quote(odd_request(dice), safe=string.punctuation)
            connection.request("GET", url)
            page = connection.getresponse()
            text = page.read().decode("utf-8", "replace")
            assert page.status < 500 or page.status == 503, url
            assert "Traceback" not in text and "site-packages" not in text, url
    grown = server.memory - warm
    assert grown < MOST_GROWTH, f"{grown:.0f} MB more than the {warm:.0f} MB after {warming} requests"
    assert hashlib.sha256(demo_db.read_bytes()).digest() == before
    assert "Something went wrong" not in server.log.read_text(encoding="utf-8")
