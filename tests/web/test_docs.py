"""docs/api.md: every example is sent, and the answer contains what the page shows."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.web.conftest import Site

PAGE = Path(__file__).parents[2] / "docs" / "api.md"
EXAMPLES = re.findall(r"^```\nGET (\S+)\n```\n```json\n(.*?)\n```$", PAGE.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)


def holds(whole: Any, shown: Any) -> bool:
    """What is shown is in the whole: fields of objects, entries of lists in any order; "..." is any text."""
    if isinstance(shown, dict):
        return isinstance(whole, dict) and all(key in whole and holds(whole[key], value) for key, value in shown.items())
    if isinstance(shown, list):
        return isinstance(whole, list) and all(any(holds(one, each) for one in whole) for each in shown)
    return isinstance(whole, str) if shown == "..." else bool(whole == shown)


@pytest.mark.parametrize(("address", "shown"), EXAMPLES, ids=[address for address, _ in EXAMPLES])
def test_the_examples_are_true(site: Site, address: str, shown: str) -> None:
    answer = site.get(address)
    assert holds(answer.json(), json.loads(shown)), answer.text[:2000]


def test_no_example_escapes_the_test() -> None:
    assert len(EXAMPLES) == PAGE.read_text(encoding="utf-8").count("\nGET ") > 10


def test_every_kind_of_answer_has_its_example(site: Site) -> None:
    described = {re.sub(r"\{.*?\}", "", path).split(".json")[0].rstrip("/") for path in site.get("/openapi.json").json()["paths"]}
    asked = {re.sub(r"/[^/]*\.json$", "", address.split("?")[0]) if address.count("/") > 1 and "health" not in address else address.split(".json")[0]
             for address, _ in EXAMPLES}  # fmt: skip
    assert described <= asked, described - asked


@pytest.mark.parametrize(("whole", "shown"), [({"a": [1, 2]}, {"a": [3]}), ({"a": 1}, {"b": 1}), ([{"a": 1}], [{"a": 2}]), ({"a": 1}, {"a": "..."})])
def test_a_wrong_example_would_be_noticed(whole: Any, shown: Any) -> None:
    assert not holds(whole, shown)
