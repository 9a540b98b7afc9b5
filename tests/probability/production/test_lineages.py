"""Lineages: the order of variants, what each breakpoint claims, copies counted once. Rows follow docs/model.md, section 5."""

from typing import Any

import pytest

from kb.assumptions import Assumptions
from kb.probability.production.claims import Claim
from kb.probability.production.lineages import Lineage, draw_up
from kb.probability.production.serial_lookup import Problem, lay_out
from tests.probability.production.rows import Given, dataset

USUAL = Assumptions()
SOURCES = [
    {"source_id": "list"}, {"source_id": "works", "grade": "A"}, {"source_id": "bulletin", "grade": "A"}, {"source_id": "book", "grade": "C"},
    {"source_id": "reprint", "grade": "C", "copied_from": "works"}, {"source_id": "site", "grade": "D", "copied_from": "reprint;list"},
]  # fmt: skip
BLOCKS = [
    {"first": 1, "last": 100, "model_id": "m", "built_from": "1947-01", "built_to": "1947-12"},
    {"position": 2, "first": 101, "last": 200, "model_id": "n", "built_from": "1948"},
    {"position": 3, "first": 201, "last": 300, "model_id": "m"},
]


def drawn(breakpoints: list[Given], blocks: list[Given] | None = None, **tables: list[Given]) -> tuple[tuple[Lineage, ...], list[Problem]]:
    rows = dataset(series=[{"series_id": "s"}], sources=SOURCES, blocks=blocks or BLOCKS, breakpoints=breakpoints, **tables)
    lines, problems = lay_out(rows)
    assert not problems
    return draw_up(rows, lines, USUAL)


def link(**columns: Any) -> Given:
    return {"old_variant_id": "a", "new_variant_id": "b", **columns}


@pytest.mark.parametrize(("columns", "kind", "low", "high", "width", "why"), [
    ({"first_new": 150}, "exact", 149, 149, None, "first_new alone"),
    ({"first_new": 150, "about": "yes"}, "about", 149, 149, None, "the row says about"),
    ({"first_new": 150, "first_new_to": 160}, "range", 149, 159, None, "a range"),
    ({"first_new": 150, "last_old": 149}, "exact", 149, 149, None, "they meet"),
    ({"first_new": 150, "last_old": 148}, "range", 148, 149, None, "one is missing"),
    ({"first_new": 150, "last_old": 150}, "exact", 149, 149, 1, "both fitted on one"),
    ({"first_new": 150, "last_old": 186}, "exact", 149, 149, 37, "a mixed stretch"),
    ({"last_old": 150}, "range", 150, 300, None, "last_old alone"),
    ({"last_old": 300}, "range", 300, 300, None, "not yet changed"),
    ({"when": "1947-01"}, "range", 0, 8, None, "100 numbers in 365 days: ceil(100 * 31 / 365) = 9 of them"),
    ({"when": "1947-12"}, "range", 91, 99, None, "floor(100 * 334 / 365) = 91"),
    ({"when": "1947-12/1948-01"}, "range", 91, 108, None, "over two blocks; ceil(100 * 31 / 366) = 9"),
])
def test_what_a_breakpoint_claims(columns: Given, kind: str, low: int, high: int, width: int | None, why: str) -> None:
    (lineage,), problems = drawn([link(**columns)])
    (change,) = lineage.changes
    assert not problems
    assert change.claims == (Claim(kind, low, high, 0.95),), why
    assert change.widths == (() if width is None else (width,)), why


@pytest.mark.parametrize(("model_id", "first_new", "order"), [
    ("m", 100, 99),
    ("m", 150, 100),  # a serial of another model is moved up to the next one concerned
    ("m", 201, 100),
    ("n", 150, 49),
    ("n", 50, 0),
    ("n", 250, 100),  # after all of them: not yet changed
])
def test_orders_are_among_the_units_concerned(model_id: str, first_new: int, order: int) -> None:
    (lineage,), _ = drawn([link(model_id=model_id, first_new=first_new)])
    assert lineage.changes[0].claims[0].low == order


@pytest.mark.parametrize(("model_id", "columns", "kind", "low", "high", "width", "why"), [
    ("m", {"first_new": 150, "last_old": 149}, "exact", 100, 100, None, "no unit of the model lies between 100 and 201"),
    ("m", {"first_new": 201, "last_old": 100}, "exact", 100, 100, None, "a block of another model lies between"),
    ("m", {"first_new": 201, "last_old": 120}, "exact", 100, 100, None, "the last old one is down at 100"),
    ("m", {"first_new": 150, "last_old": 160}, "exact", 100, 100, None, "a mixed stretch without a unit of the model is none"),
    ("m", {"first_new": 100, "last_old": 210}, "exact", 99, 99, 11, "100, and 201 to 210"),
    ("m", {"last_old": 150}, "range", 100, 200, None, "last_old alone: after 100"),
    ("n", {"last_old": 50}, "range", 0, 100, None, "before all of them"),
    ("n", {"last_old": 250}, "range", 100, 100, None, "after all of them"),
])  # fmt: skip
def test_a_last_old_one_of_another_model_is_moved_down(
    model_id: str, columns: Given, kind: str, low: int, high: int, width: int | None, why: str
) -> None:
    (lineage,), problems = drawn([link(model_id=model_id, **columns)])
    assert not problems
    assert lineage.changes[0].claims == (Claim(kind, low, high, 0.95),), why
    assert lineage.changes[0].widths == (() if width is None else (width,)), why


def test_serials_and_orders_of_the_units_concerned() -> None:
    (lineage,), _ = drawn([link(model_id="m", first_new=1)])
    assert [lineage.concerned.serial(order) for order in (0, 99, 100, 199, 200)] == ["1", "100", "201", "300", ""]


def test_a_model_with_its_own_breakpoints_leaves_the_general_lineage() -> None:
    lineages, _ = drawn([link(first_new=50), link(model_id="n", first_new=150)], BLOCKS + [{"position": 4, "first": 301, "last": 310}])
    assert [(lineage.model_id, lineage.governed, lineage.concerned.blocks) for lineage in lineages] == [
        ("", frozenset({"m", ""}), (0, 2, 3)), ("n", frozenset({"n"}), (1,)),
    ]  # fmt: skip


def test_a_shared_block_concerns_both_but_its_sightings_neither() -> None:
    shared = [{"block_id": "both", "model_id": "m", "units": 3}, {"block_id": "both", "model_id": "n", "units": 7}]
    lineages, _ = drawn([link(first_new=5), link(model_id="n", first_new=5)], [{"block_id": "both", "first": 1, "last": 10}], block_models=shared)
    assert [lineage.concerned.count for lineage in lineages] == [10, 10]
    assert [lineage.covered() for lineage in lineages] == [[], []]


def test_variants_in_order_whatever_the_order_of_rows() -> None:
    (lineage,), problems = drawn([
        link(old_variant_id="c", new_variant_id="d", first_new=200), link(first_new=50), link(old_variant_id="b", new_variant_id="c", first_new=90),
    ])  # fmt: skip
    assert not problems
    assert lineage.variants == ("a", "b", "c", "d")
    assert [(change.old, change.new) for change in lineage.changes] == [("a", "b"), ("b", "c"), ("c", "d")]


@pytest.mark.parametrize(("starts", "order"), [
    ([], 0),
    ([{"first_new": 20}], 19),
    ([{"first_new": 20, "source_id": "book"}, {"first_new": 30}], 29),  # the better grade
    ([{"first_new": 30}, {"first_new": 20}], 19),  # then the lower order
])
def test_where_a_lineage_starts(starts: list[Given], order: int) -> None:
    (lineage,), problems = drawn([{"new_variant_id": "a", **start} for start in starts] + [link(first_new=50)])
    assert not problems
    assert (lineage.variants, lineage.start_order, len(lineage.changes)) == (("a", "b"), order, 1)


def test_a_lineage_of_one_variant() -> None:
    (lineage,), _ = drawn([{"new_variant_id": "a", "first_new": 11}])
    assert (lineage.variants, lineage.start_order, lineage.changes) == (("a",), 10, ())


@pytest.mark.parametrize(("rows", "claims", "why"), [
    ([("works", 50), ("reprint", 60), ("site", 70)], [(49, 0.99)], "one root: its own claim"),
    ([("reprint", 60), ("site", 70)], [(59, 0.99)], "no claim of the root: the best graded copy, with the root's grade"),
    ([("works", 50), ("list", 60)], [(49, 0.99), (59, 0.95)], "two witnesses"),
    ([("book", 50), ("list", 50)], [(49, 0.95)], "they say the same: once, with the best grade"),
    ([("works", 50), ("list", 50)], [(49, 0.99)], "one of them is grade A"),
    ([("works", 50), ("bulletin", 50), ("list", 50)], [(49, 0.99), (49, 0.99)], "two of grade A count each"),
])
def test_copies_are_no_witnesses(rows: list[tuple[str, int]], claims: list[tuple[int, float]], why: str) -> None:
    (lineage,), _ = drawn([link(source_id=source, first_new=first) for source, first in rows])
    assert [(claim.low, claim.reliability) for claim in lineage.changes[0].claims] == claims, why
    assert len(lineage.changes[0].stated) == len(rows)  # nothing is lost


def test_a_claim_without_a_serial_is_about_every_line_with_others() -> None:
    blocks = [{"line": line, "prefix": line[0], "first": 1, "last": 9, "built_from": "1947"} for line in ("north", "south")]
    lineages, _ = drawn([link(when="1947")], blocks)
    assert [lineage.line_id for lineage in lineages] == ["s/north", "s/south"]
    lineages, _ = drawn([link(when="1947"), link(first_new="s5", source_id="book")], blocks)
    assert [(lineage.line_id, len(lineage.changes[0].claims)) for lineage in lineages] == [("s/south", 2)]


@pytest.mark.parametrize(("breakpoints", "column", "problem", "severity"), [
    ([link(first_new=999)], "first_new", '"999": No block of "s" holds the number 999.', "error"),
    ([link(first_new=9, last_old="X")], "last_old", '"X" does not begin and end as any serial of "s".', "error"),
    ([link(first_new=20, first_new_to=10)], "first_new_to", "The range ends at 10, before it begins at 20.", "error"),
    ([link(first_new=20), link(new_variant_id="c", first_new=9)], "new_variant_id", 'After "a" come both "b" and "c".', "error"),
    ([link(first_new=20), link(old_variant_id="c", first_new=9)], "old_variant_id", 'Before "b" come both "a" and "c".', "error"),
    ([link(first_new=20), link(old_variant_id="b", new_variant_id="a", first_new=9)], "old_variant_id",
     "The claims run in a circle: a to b to a.", "error"),
    ([link(first_new=20), link(old_variant_id="c", new_variant_id="d", first_new=9),
      link(old_variant_id="d", new_variant_id="c", first_new=9)], "old_variant_id", "The claims run in a circle: c to d to c.", "error"),
    ([link(first_new=20), link(old_variant_id="c", new_variant_id="d", first_new=9)], "old_variant_id",
     'Nothing says whether "c" came before "a" or after "b".', "error"),
    ([link(first_new=20), {"new_variant_id": "b", "first_new": 9}], "new_variant_id", 'It starts with "b", but the first variant is "a".', "error"),
    ([link(first_new=20, model_id="x")], "model_id", 'No block of "s" has a unit of the model "x", so the claim is about nothing.', "doubt"),
    ([link(when="1960")], "when", 'No block of "s" that it concerns was built in 1960.', "doubt"),
])  # fmt: skip
def test_claims_that_cannot_be_used_are_reported(breakpoints: list[Given], column: str, problem: str, severity: str) -> None:
    _, problems = drawn(breakpoints)
    assert [(each.table, each.column, each.problem, each.severity) for each in problems] == [("breakpoints", column, problem, severity)]
    assert problems[0].remedy


def test_serials_of_two_lines_make_no_claim() -> None:
    blocks = [{"line": line, "prefix": line[0], "first": 1, "last": 9} for line in ("north", "south")]
    lineages, (problem,) = drawn([link(first_new="n5", last_old="s4")], blocks)
    assert lineages == () and problem.problem == "Its serials stand in several lines: s/north, s/south."


def test_what_is_retracted_is_as_if_it_were_not_there() -> None:
    (lineage,), problems = drawn([link(first_new=20), link(new_variant_id="c", first_new=9, retracted="misread")])
    assert not problems and lineage.variants == ("a", "b")
