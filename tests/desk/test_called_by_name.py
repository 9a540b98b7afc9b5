"""No id of the demo reaches a person where there is a name: commands, listing sentences, work sheets and pages."""

import csv
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from click.testing import CliRunner

from kb import KnowledgeBase
from kb.cli import main
from kb.desk.workshop.print.sheet import html
from kb.web.site import Setup
from tests.web.conftest import Site

NAMED = {"makers": "maker_id", "models": "model_id", "series": "series_id", "blocks": "block_id", "components": "component_id",
         "variants": "variant_id", "sources": "source_id"}  # fmt: skip
UNIT = ["--serial", "C1542", "--mark", "pump cover@left=80-C36", "--cast-date", "pump body=31 31"]
WORN = ["--serial", "1[03]5?12", "--wear", "badly-worn"]
COMMANDS = [
    ["identify", *UNIT], ["identify", *WORN], ["identify", "--serial", "K7712"], ["identify", "--serial", "engine numbers=P07?00"],
    ["fits", "PE-214", *UNIT], ["fits", "6104", *WORN], ["parts", *UNIT], ["sell", "6104", *WORN], ["review"],
    ["review", "--series", "ov-mill-no", "--component", "arbor-housing"], ["casting", "V21?1"], ["casting", "V21?7", "--component", "arbor housing"],
    ["trace", "6104"], ["units", "6104"], ["units", "PE-214"], ["find", "seal"], ["compare", "arbor housing"],
]  # fmt: skip
PAGES = [
    "/", "/identify?serial=C1542&mark=pump-cover%40left%3D80-C36", "/identify?serial=1%5B03%5D5%3F12", "/fits?part=6104&serial=105112",
    "/sell?part=6104&serial=105112", "/parts?serial=105112", "/castings?mark=V21%3F1", "/changeovers",
    "/changeovers?series=ov-mill-no&component=arbor-housing", "/parts/6104", "/browse", "/series/ov-mill-no", "/models/rook-36",
    "/compare/arbor-housing",
]  # fmt: skip


@pytest.fixture(scope="module")
def served(demo_db: Path) -> Iterator[Site]:
    """The demo served."""
    opened = Site(Setup(str(demo_db)))
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def ids(demo_folder: Path) -> re.Pattern[str]:
    """Every id that somebody gave a name, and that is not a word of the trade anyhow."""
    found = set()
    for table, key in NAMED.items():
        with (demo_folder / f"{table}.csv").open(encoding="utf-8") as rows:
            found |= {row[key] for row in csv.DictReader(rows) if "-" in row[key]}
    with (demo_folder / "breakpoints.csv").open(encoding="utf-8") as rows:  # claims have no name, and some are called like what they claim
        found -= {row["breakpoint_id"] for row in csv.DictReader(rows)}
    return re.compile(rf"(?<![\w-])({'|'.join(sorted(map(re.escape, found), key=len, reverse=True))})(?![\w-])")


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_commands_call_things_by_their_names(words: list[str], demo_db: Path, ids: re.Pattern[str]) -> None:
    done = CliRunner().invoke(main, [*words, "--db", str(demo_db)])
    assert done.exit_code == 0, done.output
    typed = {word for each in words for word in re.findall(r"[\w-]+", each)}
    assert [found for found in ids.findall(done.output) if found not in typed] == []


@pytest.mark.parametrize("assembly", ["pump", "arbor"])
def test_a_work_sheet_calls_things_by_their_names(assembly: str, demo_db: Path, ids: re.Pattern[str]) -> None:
    with KnowledgeBase.open(demo_db) as book:
        page = html(book.sheet({"serial": "C1542" if assembly == "pump" else "105112"}, assembly), book.names)
    assert ids.findall(visible(page)) == []


@pytest.mark.parametrize("address", PAGES)
def test_pages_call_things_by_their_names(address: str, served: Site, ids: re.Pattern[str]) -> None:
    page = served.get(address)
    assert page.status_code == 200
    asked = set(re.findall(r"[\w-]+", address))
    assert [found for found in ids.findall(visible(page.text)) if found not in asked] == []


def visible(page: str) -> str:
    """What a person reads of a page."""
    return unescape(re.sub(r"<[^>]*>", " ", re.sub(r"<(style|script|head).*?</\1>", " ", page, flags=re.DOTALL)))
