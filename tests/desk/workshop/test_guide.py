"""The field guide: its look-up in a browser gives the sets of the Python interface, and both those of trying every serial."""

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page

from kb import KnowledgeBase
from kb.desk.posterior.built_ranges import stretches
from kb.desk.posterior.maker_model import MakerModel
from kb.desk.workshop.print.guide import html
from kb.probability.channel.digits import format_serial
from kb.probability.channel.reading import Reading

READINGS = [
    "?1?42", "C1542", "c 15-42", "1542", "[CS]15?2", "C*", "*99", "?????", "42", "C00?5", "C5", "C1542X",
    "N0[38]41?", "P04000", "P4001", "ZZ", "[AB][01]?*7", "*1*2*",
]  # fmt: skip
MILLS = ["10511?", "1051*", "10[45]???", "?0????", "109501", "99", "100001"]
CASES = [("pellwether", reading) for reading in READINGS] + [("ombrecht-vay", reading) for reading in MILLS]


@pytest.fixture(scope="module")
def pages(demo: KnowledgeBase, browser: BrowserContext, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Page]:
    found = {}
    for maker, model in (("pellwether", "quince-5"), ("ombrecht-vay", "rook-36")):
        path = tmp_path_factory.mktemp("guide") / "guide.html"
        path.write_text(html(demo.guide(model)), encoding="utf-8")
        page = browser.new_page()
        page.set_default_timeout(20_000)
        asked: list[str] = []
        problems: list[str] = []
        page.on("request", lambda request, asked=asked: asked.append(request.url))
        page.on("console", lambda message, problems=problems: problems.append(message.text))
        page.on("pageerror", lambda error, problems=problems: problems.append(str(error)))
        page.goto(path.as_uri())
        assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
        assert problems == []
        found[maker] = page
    return found


def plain(found: list[Any]) -> list[Any]:
    return sorted((b["series"], b["block"], sorted((c["component"], c["variants"]) for c in b["castings"])) for b in found)


@pytest.mark.parametrize(("maker", "reading"), CASES)
def test_the_browser_says_what_the_interface_says(demo: KnowledgeBase, pages: dict[str, Page], maker: str, reading: str) -> None:
    shown = pages[maker].evaluate("(text) => remaining(tokensOf(text))", reading)
    asked = demo.remaining(reading, maker)
    assert plain(shown) == sorted((b.series, b.block, sorted(b.castings.items())) for b in asked)


@pytest.fixture(scope="module")
def frames(demo: KnowledgeBase) -> dict[str, MakerModel]:
    return {maker: demo._frame(maker) for maker in ("pellwether", "ombrecht-vay")}


@pytest.mark.parametrize(("maker", "reading"), [case for case in CASES if case[1] not in ("?????", "C*", "?0????")])
def test_trying_every_serial_gives_the_same_sets(demo: KnowledgeBase, frames: dict[str, MakerModel], maker: str, reading: str) -> None:
    frame, parsed = frames[maker], Reading.parse(reading)
    expected: dict[str, dict[str, set[str]]] = {}
    cells = [frame.u, *(own.x for own in frame.own.values())]
    matching: dict[str, set[int]] = {}
    for each in cells:
        for line, position in each.blocks:
            block, form = line.blocks[position], line.form(position)
            for number in range(block.first, block.last + 1):
                text = format_serial(form, number)
                digits = text[len(form.prefix) : len(text) - len(form.suffix)]
                zeros = len(digits) - len(str(number)) if form.width else 0
                ways = [
                    before + form.prefix + digits[k:] + form.suffix + after
                    for k in range(zeros + 1)
                    for before in ("", *form.affixes_before)
                    for after in ("", *form.affixes_after)
                ]
                if any(parsed.could_be(way) for way in ways):
                    matching.setdefault(block.block_id, set()).add(number)
                    expected.setdefault(block.block_id, {})
    for component in frame.components.values():
        of, parts = stretches(frame, component.component_id)
        for part in parts:
            block_id = of.blocks[part.block][0].blocks[of.blocks[part.block][1]].block_id
            if any(part.first <= number <= part.last for number in matching.get(block_id, ())):
                expected[block_id].setdefault(component.component_id, set()).update(v for v in part.variants if v)
    found = {b.block: {c: set(v) for c, v in b.castings.items() if v} for b in demo.remaining(reading, maker)}
    assert found == {block: {c: v for c, v in castings.items() if v} for block, castings in expected.items()}


def test_a_person_types_a_number_and_reads_the_castings(pages: dict[str, Page]) -> None:
    page = pages["pellwether"]
    page.get_by_label("What can be read of the number").fill("C1[56]42")
    page.keyboard.press("Enter")
    shown = page.inner_text("#remaining")
    assert "Quince 5, 1930 to 1932" in shown and "pump body: pump body with round boss" in shown
    page.get_by_label("What can be read of the number").fill("Q9")
    page.get_by_role("button", name="Look").click()
    assert "needs the full tool" in page.inner_text("#remaining")
    page.get_by_label("What can be read of the number").fill("C15#2")
    page.keyboard.press("Enter")
    assert "Write letters and digits" in page.inner_text("#remaining")


def test_the_guide_shows_every_variant_with_its_marks(demo: KnowledgeBase) -> None:
    guide = demo.guide("Quince 5")
    body = next(component for component in guide.components if component.name == "pump body")
    assert [variant.name for variant in body.variants][:1] == ["pump body without boss"]
    assert "73-J18" in next(v for v in body.variants if "round" in v.name).marks
    assert any("C1" in serials for v in body.variants for serials in v.serials)
    assert guide.checks and guide.series[0].pictures and guide.closing.startswith("Local codes")
    assert [check.gain_bits / check.effort for check in guide.checks] == sorted([c.gain_bits / c.effort for c in guide.checks], reverse=True)


def test_nothing_in_the_data_ends_the_script(tmp_path: Path, demo: KnowledgeBase) -> None:
    guide = demo.guide("quince-5")
    hostile = guide.model_copy(update={"name": "</script><b>x", "look_up": [{**guide.look_up[0], "name": "</script><img src=x>"}]})
    page = html(hostile)
    assert "</script><" not in page.replace("</script>\n", "") and "<img src=x>" not in page
