"""The three stories of the demo from end to end in a real browser: on a telephone and on a desk, with JavaScript and without.

The browser is Debian's chromium. Nothing may appear on its console, nothing may be fetched from elsewhere, nothing may stick out sideways.
"""

import csv
import io
import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest
from playwright.sync_api import Browser, expect, sync_playwright

from tests.web.test_door import PAGES

ARGUMENTS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
SEEN = {"phone": {"width": 360, "height": 740}, "desk": {"width": 1280, "height": 900}}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playing:
        started = playing.chromium.launch(executable_path=shutil.which("chromium"), headless=True, args=ARGUMENTS)
        yield started
        started.close()


@dataclass
class Visitor:
    """Somebody with a browser, and all that went wrong in it."""

    page: Any
    home: str
    scripts: bool  # JavaScript runs in it; only then can the page be measured
    problems: list[str] = field(default_factory=list)

    def go(self, path: str) -> None:
        """Open an address."""
        self.page.goto(self.home + path)
        self.look()

    def look(self) -> None:
        """What must hold on every page."""
        wider = self.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") if self.scripts else 0
        assert wider <= 0, f"{self.page.url} is {wider} px too wide"

    def press(self, role: str, name: str) -> None:
        """Press a button or follow a link, and look at where it leads."""
        self.page.get_by_role(role, name=name, exact=True).first.click()
        self.page.wait_for_load_state()
        self.look()


@pytest.fixture(params=[("phone", True), ("phone", False), ("desk", True), ("desk", False)], ids=lambda p: f"{p[0]}-{p[1]}")
def visitor(request: pytest.FixtureRequest, browser: Browser, address: str) -> Iterator[Visitor]:
    size, scripts = request.param
    context = browser.new_context(viewport=SEEN[size], java_script_enabled=scripts)
    page = context.new_page()
    page.set_default_timeout(15_000)
    somebody = Visitor(page, address, scripts)
    page.on("console", lambda message: somebody.problems.append(message.text))
    page.on("pageerror", lambda error: somebody.problems.append(str(error)))
    page.on("request", lambda asked: somebody.problems.append(asked.url) if not asked.url.startswith((address, "data:")) else None)
    yield somebody
    context.close()
    assert not somebody.problems


def test_the_restorer(visitor: Visitor) -> None:
    """A barn find: a worn serial and two marks, one of them worn; one look settles which packing to order."""
    page = visitor.page
    visitor.go("/")
    page.get_by_label("Serial number, row 1", exact=True).fill("?1?42")
    page.get_by_label("Mark, row 1", exact=True).fill("18-E25")
    page.get_by_label("On which component, row 1", exact=True).select_option("gear-case")
    visitor.press("button", "More marks")
    assert page.get_by_label("Serial number, row 1", exact=True).input_value() == "?1?42"  # nothing typed is lost
    page.get_by_label("Mark, row 2", exact=True).fill("3?-Q50")
    page.get_by_label("On which component, row 2", exact=True).select_option("base-frame")
    visitor.press("button", "What is it?")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Quince 5")
    assert unquote(page.url).endswith("/identify?serial=?1?42&mark=gear-case=18-E25&mark=base-frame=3?-Q50")
    answer = page.locator("table").first
    expect(answer).to_contain_text("about nine in ten")
    expect(page.locator("main")).to_contain_text("C1042")
    visitor.press("link", "round")
    assert "pump-body.relief-boss=round" in unquote(page.url)
    expect(page.locator(".castings")).to_contain_text("pump body with round boss")
    visitor.press("link", "All parts on one sheet")
    row = page.locator("tr", has=page.get_by_role("link", name="PE-214", exact=True)).first
    expect(row.locator(".verdict").first).to_have_text("fits")


def test_the_seller(visitor: Visitor) -> None:
    """A seal for three mills: fits, check first, does not fit; and what ships is the number of today."""
    page = visitor.page
    visitor.go("/")
    page.locator("#q").fill("6104")
    visitor.press("button", "Look it up")
    expect(page.get_by_role("heading", level=1)).to_have_text("6104")
    expect(page.get_by_role("img", name="What 6104 has become")).to_be_visible()
    expect(page.locator("#sentence")).to_contain_text("Check first")
    for serial, verdict in (("104873", "fits"), ("105112", "check first"), ("106500", "does not fit")):
        visitor.go("/parts/6104")
        page.get_by_label("Serial number, row 1", exact=True).fill(serial)
        visitor.press("button", "Does it fit?")
        expect(page.locator("h2 .verdict").first).to_have_text(verdict)
    visitor.go("/fits?part=6104&serial=104873")
    expect(page.locator("tr", has=page.get_by_role("link", name="6104-2", exact=True)).first).to_contain_text("fits")
    visitor.go("/fits?part=6104&serial=105112")
    visitor.press("link", "V2148")
    expect(page.locator("h2 .verdict").first).to_have_text("does not fit")


def test_the_archivist(visitor: Visitor) -> None:
    """Two sources contradict each other; the sightings decide, and a sighting goes back to whoever keeps the numbers."""
    page = visitor.page
    visitor.go("/changeovers")
    visitor.press("link", "feed cam")
    expect(page.get_by_role("img")).to_have_count(1)
    claims = page.locator("table").first
    expect(claims.locator("tr", has_text="Register of surviving block mills")).to_contain_text("supported")
    expect(claims.locator("tr", has_text="Service Bulletin 17")).to_contain_text("contradicted")
    page.locator("summary").click()
    expect(page.locator("tr", has_text="106420")).to_contain_text("probably replaced since")
    visitor.go("/identify?serial=105112&mark=arbor-housing%40left%3DV2141")
    visitor.press("link", "Send this sighting to the archivist")
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Download the rows").click()
    rows = list(csv.DictReader(io.StringIO(Path(waiting.value.path()).read_text(encoding="utf-8"))))
    assert [(row["series_id"], row["serial"], row["component_id"], row["place"], row["mark_read"]) for row in rows] == [
        ("ov-mill-no", "105112", "arbor-housing", "left", "V2141")
    ]


def test_a_mistake_keeps_what_was_typed(visitor: Visitor) -> None:
    page = visitor.page
    visitor.go("/identify")
    page.get_by_label("Serial number, row 1", exact=True).fill("105112")
    page.get_by_label("Mark, row 1", exact=True).fill("V21(1")
    page.get_by_role("button", name="What is it?").click()
    page.wait_for_load_state()
    expect(page.get_by_role("alert").nth(1)).to_contain_text('contains "("')
    assert page.get_by_label("Serial number, row 1", exact=True).input_value() == "105112"
    assert page.get_by_label("Mark, row 1", exact=True).input_value() == "V21(1"
    visitor.problems[:] = [text for text in visitor.problems if "400 (Bad Request)" not in text]  # the browser's note of the status itself


def test_the_record_prints_on_two_pages(browser: Browser, address: str) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(address + "/identify?serial=%3F1%3F42&mark=gear-case%3D18-E25&mark=base-frame%3D3%3F-Q50")
    page.emulate_media(media="print")
    expect(page.locator(".notes")).to_be_visible()
    expect(page.locator(".again svg")).to_be_visible()
    expect(page.get_by_role("navigation")).not_to_be_visible()
    paper = page.pdf(format="A4", prefer_css_page_size=True)
    context.close()
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", paper)) <= 2


# What a page owes to those who do not see it; axe-core knows more of it and is asked in `make campaign`.
OWED = """() => {
    const all = selector => [...document.querySelectorAll(selector)];
    const silent = e => !e.textContent.trim() && !e.ariaLabel && !e.querySelector("img[alt]");
    const levels = all("h1, h2, h3, h4").map(e => +e.tagName[1]);
    const ids = all("[id]").map(e => e.id);
    return [
        ...all("input:not([type=hidden]), select, textarea").filter(e => !e.labels.length && !e.ariaLabel).map(e => "no label: " + e.name),
        ...all("img").filter(e => !e.alt).map(e => "no text: " + e.src),
        ...all("svg[role=img]").filter(e => !e.querySelector("title") || !e.querySelector("desc")).map(e => "no title: " + e.outerHTML),
        ...all("a, button, summary").filter(silent).map(e => "says nothing: " + e.outerHTML),
        ...(all("h1").length === 1 ? [] : ["not one h1"]),
        ...levels.filter((level, i) => i && level > levels[i - 1] + 1).map(level => "jump to h" + level),
        ...ids.filter((id, i) => ids.indexOf(id) !== i).map(id => "twice: " + id),
    ];
}"""


@pytest.fixture(scope="module")
def axe(campaign: bool, root: Path) -> str:
    """The text of axe-core (MPL-2.0; fetched into build/, never part of this project); "" in a brief run."""
    if not campaign:
        return ""
    folder = root / "build" / "axe"
    subprocess.run(["npm", "install", "--silent", "--no-save", "--prefix", str(folder), "axe-core@4"], check=True, timeout=120)
    return (folder / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")


# The kinds of page that are not in PAGES: complete in themselves, wrong, empty, or Datasette's own in other states.
FURTHER = [
    "/fits",
    "/sell",
    "/castings",
    "/identify?serial=K7712",
    "/identify?serial=105112&mark=arbor-housing%40left%3DV2148&mark=feed-cam%3DV66",
    "/sheet?assembly=pump&serial=C1542",
    "/guides/wren-30",
    "/find?q=K7712",
    "/nothing",
    "/parts/nope",
    "/identify?serial=%21%21&mark=nose%3D12",
    "/kb/parts?_search=seal",
    "/kb/sightings?_facet=original&series_id=ov-mill-no&_sort_desc=serial",
    "/kb/sightings/seen-001",
    "/kb/marks_of_component?component=arbor-housing",
    "/kb/marks_of_component",
    "/kb/parts?_sort=nope",
    "/kb/build_info",
]


@pytest.mark.parametrize("light", ["light", "dark"])
@pytest.mark.parametrize("size", ["phone", "desk"])
def test_pages_owe_nothing_to_those_who_do_not_see_them(browser: Browser, address: str, axe: str, campaign: bool, size: str, light: str) -> None:
    """In a campaign axe-core looks at every page in every light and size; in brief each page is looked at in one of them."""
    context = browser.new_context(viewport=SEEN[size], color_scheme=light)
    page = context.new_page()
    mine = ["phone-light", "desk-dark", "phone-dark", "desk-light"].index(f"{size}-{light}")
    for path in [*PAGES, *FURTHER] if campaign else [*PAGES, *FURTHER][mine::4]:
        page.goto(address + path)
        page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
        assert page.evaluate(OWED) == [], path
        assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0, path
        if axe:
            page.evaluate(axe)
            rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]
            found = page.evaluate("rules => axe.run(document, {runOnly: rules})", rules)["violations"]
            assert [(each["id"], each["help"], [node["html"] for node in each["nodes"]]) for each in found] == [], path
    context.close()
