"""The list of disputes in the built file: everything in one list, worst first, with its sources, and nothing private in a public file."""

import json
import sqlite3
from pathlib import Path

import pytest

from kb.store.build import build
from kb.store.disputes import WORST_FIRST
from tests.probability.production.rows import Given, dataset

ROWS: dict[str, list[Given]] = {
    "makers": [{}], "models": [{"model_id": "m"}], "series": [{"series_id": "s"}],
    "sources": [{"source_id": "bulletin"}, {"source_id": "register"}, {"source_id": "works", "grade": "A"}],
    "blocks": [
        {"block_id": "one", "first": 1, "last": 400, "model_id": "m", "built_from": "1948", "source_id": "works"},
        {"block_id": "rival", "first": 1, "last": 380, "rival_of": "one", "source_id": "register"},
    ],
    "components": [{"component_id": "head"}], "variants": [{"variant_id": "a"}, {"variant_id": "b"}],
    "date_codes": [{"maker_id": "marl", "layout": "M D YYYY"}],
    "breakpoints": [
        {"breakpoint_id": "early", "old_variant_id": "a", "new_variant_id": "b", "first_new": 100, "source_id": "bulletin"},
        {"breakpoint_id": "late", "old_variant_id": "a", "new_variant_id": "b", "first_new": 200, "source_id": "works"},
    ],
    "sightings": [
        *({"serial": serial, "variant_id": "a", "original": "believed", "source_id": "register"} for serial in (120, 150, 199)),
        {"sighting_id": "young", "serial": 210, "variant_id": "b", "casting_date": "C 14 1951", "source_id": "register"},
        {"serial": 999, "variant_id": "b", "source_id": "register"},
    ],
    "parts": [{"part_number": "1407", "description": "seal", "kind": "original", "unit": "each", "available": "yes", "safety_critical": "no"}],
    "fitments": [{"source_id": "bulletin"}],
    "outcomes": [{"part_number": "1407", "component_id": "head", "variant_id": "a", "result": "returned", "reason": "too wide for him"}],
}  # fmt: skip


def disputes(path: Path) -> list[tuple[str, str, list[str], str]]:
    connection = sqlite3.connect(path)
    rows = connection.execute("select kind, subject, sources, text from disputes order by rowid").fetchall()
    connection.close()
    return [(kind, subject, json.loads(sources), text) for kind, subject, sources, text in rows]


@pytest.mark.parametrize("public", [False, True])
def test_disputes_stand_in_one_list_worst_first(tmp_path: Path, public: bool) -> None:
    build(dataset(**ROWS), tmp_path / "kb.db", public=public)
    found = disputes(tmp_path / "kb.db")
    kinds = [kind for kind, *_ in found]
    expected = ["outcome", "claim against evidence", "casting date", "unknown serial", "rival block"]
    assert kinds == expected[public:]
    assert kinds == sorted(kinds, key=WORST_FIRST.index)
    assert "too wide for him" not in str(found) or not public
    assert all(sources for _, _, sources, _ in found)


def test_a_claim_against_evidence_names_who_says_otherwise(tmp_path: Path) -> None:
    build(dataset(**ROWS), tmp_path / "kb.db")
    (found,) = [each for each in disputes(tmp_path / "kb.db") if each[0] == "claim against evidence"]
    _, subject, sources, text = found
    assert subject == "s|head||a|b"
    assert sources == ["bulletin", "works", "register"]
    assert text.startswith('"a" to "b": early (100) is contradicted; 4 sightings and all claims together put the first new one at 200.')


def test_a_contradiction_that_evidence_settles_is_one_dispute_with_every_source(tmp_path: Path) -> None:
    third = {"breakpoint_id": "between", "old_variant_id": "a", "new_variant_id": "b", "first_new": 201, "source_id": "register"}
    for further, expected in (([], ["claim against evidence"]), ([third], ["claim against evidence", "contradiction"])):
        build(dataset(**{**ROWS, "breakpoints": [*ROWS["breakpoints"], *further]}), tmp_path / "kb.db")
        found = [each for each in disputes(tmp_path / "kb.db") if each[1] == "s|head||a|b"]
        assert [kind for kind, *_ in found] == expected
        assert not any("contradicts early" in text or "early," in text for *_, text in found)
        assert {source for _, _, sources, _ in found for source in sources} == {"bulletin", "works", "register"}


def test_a_contradiction_that_evidence_does_not_settle_stays(tmp_path: Path) -> None:
    open_one = [{**row, "first_new": first, "source_id": "bulletin"} for row, first in zip(ROWS["breakpoints"], (200, 201), strict=True)]
    open_one[1]["source_id"] = "works"
    sources = [{**row, "grade": "B"} for row in ROWS["sources"]]
    build(dataset(**{**ROWS, "sources": sources, "breakpoints": open_one, "sightings": ROWS["sightings"][:3]}), tmp_path / "kb.db")
    assert [kind for kind, subject, *_ in disputes(tmp_path / "kb.db") if subject == "s|head||a|b"] == ["contradiction"]


def test_no_claim_is_called_contradicted_without_a_sighting(tmp_path: Path) -> None:
    build(dataset(**{**ROWS, "sightings": []}), tmp_path / "kb.db")
    assert [kind for kind, *_ in disputes(tmp_path / "kb.db")] == ["outcome", "contradiction", "rival block"]
