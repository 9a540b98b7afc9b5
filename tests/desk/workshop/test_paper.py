"""Sheets on paper: nothing wider than the page, on A4 and Letter and on a phone; the PDF can be read by a machine, in order."""

from io import BytesIO
from pathlib import Path

import pytest
from click.testing import CliRunner
from playwright.sync_api import BrowserContext
from pypdf import PdfReader

from kb import Evidence, KnowledgeBase
from kb.cli import main
from kb.desk.workshop.print.sheet import html

UNIT = Evidence(serial="105112", cast_dates=["arbor-housing@left=C 14 8"], marks=["saw-flange=V3301"])
WIDTHS = {"A4": 794 - 113, "Letter": 816 - 113, "phone": 390}  # CSS pixels between margins of 15 mm


@pytest.fixture(scope="module")
def sheet(demo: KnowledgeBase) -> str:
    return html(demo.sheet(UNIT, "arbor"), demo.names, "https://kb.example")


@pytest.mark.parametrize("paper", WIDTHS)
def test_nothing_is_wider_than_the_page(browser: BrowserContext, sheet: str, paper: str) -> None:
    page = browser.new_page()
    page.set_viewport_size({"width": WIDTHS[paper], "height": 900})
    page.emulate_media(media="screen" if paper == "phone" else "print")
    page.set_content(sheet)
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDTHS[paper]
    clipped = page.evaluate(
        "[...document.querySelectorAll('main *')].filter(e => !e.closest('svg') && e.getBoundingClientRect().right > window.innerWidth + 1).length"
    )
    assert clipped == 0
    page.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_steps_are_in_order_in_the_printed_text(browser: BrowserContext, sheet: str, paper: str) -> None:
    page = browser.new_page()
    page.set_content(sheet)
    text = "".join("".join(p.extract_text() for p in PdfReader(BytesIO(page.pdf(format=paper))).pages).split()).lower()
    page.close()
    order = ["Dangers of this job", "Throw off the belt", "Slacken the brake band", "Decide first", "out of the wide recess", "Before anything else"]
    places = [text.index(words.replace(" ", "").lower()) for words in order]
    assert places == sorted(places)


def test_the_picture_is_told_in_words(sheet: str) -> None:
    assert "<title>Time axis</title><desc>unit, built: 1928-" in sheet
    assert "arbor housing (left) cast: 1928-03-14" in sheet


def test_the_code_is_the_address_of_the_unit(sheet: str, demo: KnowledgeBase) -> None:
    assert "https://kb.example/identify?serial=105112" in sheet
    assert 'class="code"' in sheet
    assert 'class="code"' not in html(demo.sheet(UNIT, "arbor"), demo.names)


def test_kb_sheet_writes_a_file_and_a_pdf(demo_db: Path, tmp_path: Path) -> None:
    arguments = ["sheet", "--db", str(demo_db), "--assembly", "pump", "--serial", "C1600"]
    for name, start in (("s.html", b"<!doctype html>"), ("s.pdf", b"%PDF-")):
        target = tmp_path / name
        done = CliRunner().invoke(main, [*arguments, "-o", str(target), *(["--pdf"] if name.endswith("pdf") else [])])
        assert done.exit_code == 0, done.output
        assert target.read_bytes().startswith(start)
    text = " ".join(page.extract_text() for page in PdfReader(tmp_path / "s.pdf").pages)
    assert text.index("Overhaul the pump") < text.index("Draw the old packing") < text.index("Lift the pump onto the base")


@pytest.mark.parametrize(("arguments", "message"), [
    (["--assembly", "pmup", "--serial", "C1600"], 'No procedure is recorded for the assembly "pmup"'),
    (["--assembly", "engine", "--serial", "C1600"], "No procedure is recorded"),
])  # fmt: skip
def test_what_cannot_be_printed_is_said(demo_db: Path, arguments: list[str], message: str) -> None:
    done = CliRunner().invoke(main, ["sheet", "--db", str(demo_db), *arguments])
    assert done.exit_code == 1 and message in done.output


def test_hostile_evidence_is_text(demo: KnowledgeBase) -> None:
    page = html(demo.sheet(Evidence(serial="105112", maker="ombrecht-vay"), "arbor"), demo.names, 'https://x/"><script>alert(1)</script>')
    assert "<script" not in page
