"""The picture of a change-over shows the sightings that it was estimated from, each on the side that the answer puts it on."""

import re
from collections import Counter
from pathlib import Path

import pytest

from kb import KnowledgeBase
from kb.words.answers.review import ChangeOver
from tests.web.conftest import Site

DOT = re.compile(r'<circle class="dot (old|new)( odd)?"')
BEYOND = re.compile(r'<text x="0" y="(?P<top>12|52)"[^>]*>[^<]*</text><text x="100%" y="(?P=top)"[^>]*>(?P<said>[^<]*)</text>')


@pytest.fixture(scope="module")
def changeovers(demo_db: Path) -> dict[tuple[str, str], list[ChangeOver]]:
    """The change-overs of the demo in full, by series and component."""
    with KnowledgeBase.open(demo_db) as book:
        pairs = dict.fromkeys((each.series, each.component) for each in book.review().changeovers)
        return {pair: book.review(*pair).changeovers for pair in pairs}


def drawn(picture: str) -> Counter[str]:
    """How many sightings a picture has by side: its dots, and those that it says lie beyond its ends."""
    seen = Counter(side for side, _ in DOT.findall(picture))
    for top, said in BEYOND.findall(picture):
        seen["new" if top == "12" else "old"] += sum(map(int, re.findall(r"(\d+) (?:earlier|later)", said)))
    return seen


def pictures(site: Site, series: str, component: str) -> list[str]:
    """The pictures of a page, one a change-over."""
    page = site.get(f"/changeovers?component={component}" + (f"&series={series}" if series else ""))
    assert page.status_code == 200
    return re.findall(r'<div class="drawing">(.*?)</div>', page.text, re.DOTALL)


def test_all_changeovers_are_drawn_from_the_sightings_that_count(site: Site, changeovers: dict[tuple[str, str], list[ChangeOver]]) -> None:
    compared = 0
    for (series, component), found in changeovers.items():
        for change, picture in zip(found, pictures(site, series, component), strict=True):
            assert change.weighed is not None and len(change.weighed) == change.sightings
            counted = Counter(each.speaks_for for each in change.weighed if each.speaks_for != "neither")
            assert drawn(picture) == counted, f"{series}, {change.name}"
            compared += 1
    assert compared == 35


def test_a_page_of_a_component_in_several_series_draws_all_of_them(site: Site, changeovers: dict[tuple[str, str], list[ChangeOver]]) -> None:
    components = Counter(component for _, component in changeovers)
    for component in components:
        found = [each for (_, of), some in changeovers.items() if of == component for each in some]
        counted = sum((Counter(e.speaks_for for e in each.weighed or () if e.speaks_for != "neither") for each in found), Counter[str]())
        assert sum((drawn(each) for each in pictures(site, "", component)), Counter[str]()) == counted
