"""`kb review` of one change-over in full: the weights agree with the file, what the next sighting would mean, where both were fitted."""

from pathlib import Path

import pytest

from kb.api import KnowledgeBase
from kb.assumptions import Assumptions
from kb.store.build import build
from kb.words.answers.review import ChangeOver
from tests.probability.production.rows import Given, dataset

ROWS: dict[str, list[Given]] = {
    "makers": [{}], "models": [{"model_id": "m"}], "series": [{"series_id": "s"}],
    "sources": [{"source_id": "list"}, {"source_id": "book", "grade": "C"}],
    "blocks": [{"first": 1, "last": 600, "model_id": "m"}], "components": [{"component_id": "head"}],
    "variants": [{"variant_id": "a", "name": "flat"}, {"variant_id": "b", "name": "domed"}],
    "marks": [{"variant_ids": "a", "text": "H410"}, {"variant_ids": "b", "text": "H527"}],
    "breakpoints": [
        {"breakpoint_id": "early", "old_variant_id": "a", "new_variant_id": "b", "first_new": 208, "about": "yes", "source_id": "list"},
        {"breakpoint_id": "late", "old_variant_id": "a", "new_variant_id": "b", "first_new": 300, "source_id": "book"},
    ],
    "sightings": [
        {"sighting_id": "old-195", "serial": 195, "variant_id": "a", "original": "believed"},
        {"sighting_id": "mark-210", "serial": 210, "mark_read": "H52?", "original": "believed"},
        {"sighting_id": "old-205", "serial": 205, "variant_id": "a"},
        {"sighting_id": "gone", "serial": 230, "variant_id": "a", "original": "replaced"},
    ],
}  # fmt: skip


def reviewed(path: Path, assumptions: Assumptions | None = None, **tables: list[Given]) -> tuple[ChangeOver, KnowledgeBase]:
    build(dataset(**{**ROWS, **tables}), path, assumptions=assumptions)
    book = KnowledgeBase.open(path)
    (found,) = book.review(series="s", component="head").changeovers
    return found, book


def test_every_claim_and_sighting_has_its_weight(tmp_path: Path) -> None:
    found, book = reviewed(tmp_path / "kb.db")
    assert {claim.breakpoint_id: claim.says for claim in found.claims} == {"early": "new from about 208 on", "late": "new from 300 on"}
    by_claim = {claim.breakpoint_id: claim.weight_bits for claim in found.claims}
    assert by_claim["early"] is not None and by_claim["early"] > 0 > (by_claim["late"] or 0)
    assert found.weighed is not None
    assert {entry.sighting_id: (entry.serial, entry.saw, entry.speaks_for) for entry in found.weighed} == {
        "old-195": ("195", "flat", "old"), "mark-210": ("210", "H52?", "new"), "old-205": ("205", "flat", "old"),
    }  # fmt: skip
    (plain,) = book.review(series="s").changeovers  # not asked in full
    assert plain.weighed is None and [claim.weight_bits for claim in plain.claims] == [None, None]
    assert plain.model_dump(exclude={"weighed", "claims", "seek"}) == found.model_dump(exclude={"weighed", "claims", "seek"})
    assert found.units == 600 and found.sightings == 3


@pytest.mark.parametrize("outcome", ["old", "new"])
def test_what_the_next_sighting_would_mean_is_what_it_does_mean(tmp_path: Path, outcome: str) -> None:
    found, _ = reviewed(tmp_path / "kb.db")
    assert found.seek is not None and found.seek.serial not in {"195", "210", "205", "230"}
    expected = next(each for each in found.seek.outcomes if each.outcome == outcome)
    assert sum(each.probability for each in found.seek.outcomes) == pytest.approx(1)
    more = {"sighting_id": "next", "serial": found.seek.serial, "variant_id": "a" if outcome == "old" else "b"}
    then, _ = reviewed(tmp_path / "then.db", sightings=[*ROWS["sightings"], more])
    assert (then.low, then.high) == (expected.low, expected.high)


def test_both_were_fitted_where_the_evidence_says_so(tmp_path: Path) -> None:
    found, _ = reviewed(tmp_path / "kb.db")
    assert (found.both_from, found.both_to) == ("", "")
    stated = [{"old_variant_id": "a", "new_variant_id": "b", "first_new": 200, "last_old": 230}]
    mixed = [{"serial": serial, "variant_id": "ab"[serial % 2], "original": "believed"} for serial in range(200, 230, 3)]
    both, _ = reviewed(tmp_path / "both.db", breakpoints=stated, sightings=mixed)
    assert (both.first_new, both.both_from, both.both_to) == ("200", "200", "230")


def test_it_is_weighed_under_the_assumptions_of_the_build(tmp_path: Path) -> None:
    changed = Assumptions().override(mixed_width={0: 0.5, 30: 0.5}, replaced_when_unknown=0.3)
    one, _ = reviewed(tmp_path / "kb.db")
    other, book = reviewed(tmp_path / "other.db", changed)
    assert {each.width for each in other.mixed} == {0, 30}
    weights = [{e.sighting_id: e.weight_bits for e in each.weighed or ()} for each in (one, other)]
    assert weights[0]["old-205"] != pytest.approx(weights[1]["old-205"])
    rate = book.review().replaced_rate
    assert rate is not None and rate.assumed == 0.3 and rate.low <= rate.likeliest <= rate.high
