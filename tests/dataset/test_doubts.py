"""Doubts that become disputes: casting dates, outcomes, parts listed in two ways. Dates are by the layouts of docs/data.md."""

import pytest

from kb.dataset.rules import check
from tests.probability.production.rows import Given, dataset

PLAIN: dict[str, list[Given]] = {
    "makers": [{}], "sources": [{"source_id": "list"}, {"source_id": "register"}], "series": [{"series_id": "s"}],
    "blocks": [{"first": 1, "last": 100, "built_from": "1948-01", "built_to": "1948-06", "dates_are": "built"}],
    "components": [{"component_id": "head"}], "variants": [{"variant_id": "a"}, {"variant_id": "b"}],
    "date_codes": [{"maker_id": "marl", "layout": "M D YYYY"}],
    "parts": [{"part_number": "1407", "description": "seal", "kind": "original", "unit": "each", "available": "yes", "safety_critical": "no"}],
}  # fmt: skip


def doubts(**tables: list[Given]) -> list[tuple[str, str, tuple[str, ...]]]:
    found = check(dataset(**{**PLAIN, **tables}))
    assert not [each for each in found if each.severity == "error"], found
    return [(each.kind, each.subject, each.sources) for each in found]


@pytest.mark.parametrize(("columns", "doubted", "why"), [
    ({"casting_date": "C 14 1948"}, False, "14 March 1948, within the time of the block"),
    ({"casting_date": "G 1 1948"}, True, "1 July 1948, the day after the last unit"),
    ({"casting_date": "F 30 1948"}, False, "30 June 1948, the last day of the block"),
    ({"casting_date": "C 14 1930"}, False, "long before: from stock"),
    ({"casting_date": "C 14 1951", "original": "replaced"}, False, "known to be replaced"),
    ({"casting_date": "C 14 1951", "retracted": "misread"}, False, "withdrawn"),
    ({"casting_date": "Q 14 1951"}, False, "no date in this layout"),
    ({"casting_date": "C 14 1951", "serial": "?5"}, False, "not a whole serial"),
])  # fmt: skip
def test_a_casting_younger_than_its_unit(columns: Given, doubted: bool, why: str) -> None:
    found = doubts(sightings=[{"serial": 50, "variant_id": "a", "source_id": "register", **columns}])
    assert found == ([("casting date", "head", ("register", "list"))] if doubted else []), why


@pytest.mark.parametrize(("fitment", "outcome", "doubted", "why"), [
    ({}, {"result": "returned", "serial": 50, "series_id": "s"}, True, "listed for all, came back"),
    ({}, {"result": "fitted", "serial": 50, "series_id": "s"}, False, "as listed"),
    ({"fits": "no"}, {"result": "fitted", "serial": 50, "series_id": "s"}, True, "listed as not fitting, fitted"),
    ({"variant_id": "a"}, {"result": "returned", "variant_id": "b"}, False, "another variant"),
    ({"variant_id": "a"}, {"result": "returned", "variant_id": "a"}, True, "that variant"),
    ({"variant_id": "a"}, {"result": "returned", "serial": 50, "series_id": "s"}, False, "nobody says which variant"),
    ({"series_id": "s", "serial_to": 40}, {"result": "returned", "serial": 50, "series_id": "s"}, False, "beyond the limit"),
    ({"series_id": "s", "serial_to": 40}, {"result": "returned", "serial": 40, "series_id": "s"}, True, "at the limit"),
    ({"retracted": "slip"}, {"result": "returned", "serial": 50, "series_id": "s"}, False, "withdrawn"),
    ({}, {"result": "returned"}, False, "nobody says from what"),
])  # fmt: skip
def test_an_outcome_against_the_lists(fitment: Given, outcome: Given, doubted: bool, why: str) -> None:
    rows = [{"part_number": "1407", "component_id": "head", **outcome}]
    found = doubts(fitments=[fitment], outcomes=rows)
    assert found == ([("outcome", "1407", ("list",))] if doubted else []), why


def test_an_outcome_is_no_doubt_where_another_row_agrees() -> None:
    rows = [{"part_number": "1407", "component_id": "head", "result": "returned", "variant_id": "a"}]
    assert doubts(fitments=[{}, {"variant_id": "a", "fits": "no"}], outcomes=rows) == []


@pytest.mark.parametrize(("one", "other", "doubted", "why"), [
    ({"quantity": 1}, {"quantity": 2}, True, "how many"),
    ({"role": "seal, outer"}, {"role": "Seal, outer"}, False, "written otherwise"),
    ({"role": "seal"}, {"role": "gasket"}, True, "what it is there"),
    ({"variant_id": "a"}, {"variant_id": "b", "quantity": 2}, False, "of another variant"),
    ({"quantity": 1}, {"quantity": 2, "source_id": "list"}, False, "one source, two lines of a table"),
    ({"quantity": 1}, {"quantity": 2, "retracted": "slip"}, False, "withdrawn"),
])  # fmt: skip
def test_a_part_listed_in_two_ways(one: Given, other: Given, doubted: bool, why: str) -> None:
    found = doubts(fitments=[one, {"source_id": "register", **other}])
    assert found == ([("description", "1407", ("list", "register"))] if doubted else []), why
