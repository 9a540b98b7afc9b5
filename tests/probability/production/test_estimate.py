"""Change-overs and cells of whole datasets against the oracle, which walks every serial; and what must hold of any of them."""

import random
from typing import Any

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.probability.production.estimate import Production, derive
from tests.enumerator import review
from tests.enumerator.built import Built
from tests.enumerator.places import UNRECORDED, Castings
from tests.enumerator.serials import lay_out
from tests.probability.production.rows import Given, dataset, texts

USUAL = Assumptions()
EXACT = USUAL.override(cell_tolerance=0.0, mixed_width={0: 0.7, 3: 0.2, 8: 0.1})


def no_marks(component_id: str, reading: str) -> dict[str, float]:
    raise AssertionError(f"no mark was read, but asked for {reading} of {component_id}")


def derived(assumptions: Assumptions = EXACT, **tables: list[Given]) -> Production:
    return derive(dataset(**tables), assumptions, no_marks)


class Invented:
    """A random small dataset: up to four blocks in two lines, three models, sources that copy, options, sightings of two components."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.spans: list[tuple[int, int, str]] = []
        self.tables: dict[str, list[Given]] = {
            "makers": [{}], "models": [{"model_id": model} for model in "mno"], "series": [{"series_id": "s"}],
            "sources": [
                {"source_id": source, "grade": grade, **({"copied_from": copied} if copied else {})}
                for source, grade, copied in [("list", "B", ""), ("works", "A", ""), ("bulletin", "A", ""), ("reprint", "C", "works"),
                                              ("site", "D", "reprint"), ("hearsay", "D", ""), ("copy", "A", "list")]
            ],
            "components": [{"component_id": "head", **self.maybe(replaced_rate=[0.05, 0.3])}, {"component_id": "cover"}, {"component_id": "bare"}],
            "variants": [{"variant_id": f"v{k}", **self.maybe(service_share=[0.5, 1, 3])} for k in range(3)]
            + [{"variant_id": f"c{k}", "component_id": "cover"} for k in range(2)],
            "block_models": [],
        }  # fmt: skip
        self.tables["blocks"] = [self.block(number) for number in range(self.random.randint(1, 4))]
        links = [("v0", "v1", "head"), ("v1", "v2", "head")]
        self.tables["breakpoints"] = [self.link(*self.random.choice(links)) for _ in range(self.random.randint(0, 5))]
        if self.random.random() < 0.4:
            self.tables["breakpoints"].append({"new_variant_id": "v0", "first_new": self.serial()})
        if self.random.random() < 0.5:
            self.tables["breakpoints"].append(self.link("c0", "c1", "cover"))
        self.tables["sightings"] = [self.sighting() for _ in range(self.random.randint(0, 6))]
        self.tables["options"] = [self.option() for _ in range(self.random.randint(0, 2))]

    def maybe(self, **columns: list[Any]) -> Given:
        return {column: self.random.choice(values) for column, values in columns.items() if self.random.random() < 0.5}

    def block(self, number: int) -> Given:
        first = self.spans[-1][1] + self.random.choice([1, 1, 6]) if self.spans else 1
        row = {"block_id": f"b{number}", "position": number, "first": first, "last": first + self.random.randint(1, 13), "width": 4}
        row |= self.maybe(line=["north"])
        if self.random.random() < 0.6:
            row["model_id"] = self.random.choice("mno")
        elif self.random.random() < 0.6:
            shares = [{"block_id": f"b{number}", "model_id": model, "units": self.random.randint(1, 9)} for model in self.random.sample("mno", 2)]
            self.tables["block_models"] += shares
        if self.random.random() < 0.7:
            year = 1920 + 2 * number
            row |= {"built_from": f"{year}-0{self.random.randint(1, 9)}", "built_to": f"{year + 1}-0{self.random.randint(1, 9)}"}
        self.spans.append((first, row["last"], row.get("line", "")))
        return row

    def serial(self, line: str | None = None) -> str:
        first, last, _ = self.random.choice([span for span in self.spans if line is None or span[2] == line])
        return f"{self.random.randint(first, last):04}"

    def link(self, old: str, new: str, component: str) -> Given:
        line = self.random.choice(self.spans)[2]
        row = {"old_variant_id": old, "new_variant_id": new, "component_id": component, **self.maybe(model_id=list("mno"))}
        row["source_id"] = self.random.choice(self.tables["sources"])["source_id"]
        kind = self.random.choice(["exact", "about", "range", "both", "last", "when"])
        if kind in ("exact", "about", "range", "both"):
            row["first_new"] = self.serial(line)
        if kind == "about":
            row["about"] = "yes"
        if kind == "range":
            row["first_new_to"] = max(self.serial(line), row["first_new"])
        if kind in ("both", "last"):
            row["last_old"] = self.serial(line)
        if kind == "when":
            row["when"] = self.random.choice(["1920", "1921-05", "1922/1923", "1924", "1926-03"])
        return row

    def sighting(self) -> Given:
        component, variant = self.random.choice([("head", "v0"), ("head", "v1"), ("head", "v2"), ("cover", "c0"), ("cover", "c1")])
        original = self.random.choice(["believed", "unknown", "unknown", "replaced"])
        more = self.maybe(place=["left", "right"], seen_on=["1990", "1995-02", "2001"])
        return {"component_id": component, "variant_id": variant, "serial": self.serial(), "original": original, **more}

    def option(self) -> Given:
        limits = self.random.choice([{}, {"serial_from": self.serial()}, {"serial_to": self.serial()}])
        share = self.random.choice([0.1, 0.3, 0.5])
        return {"variant_id": self.random.choice(["v0", "v1", "v2"]), "share": share, **limits, **self.maybe(model_id=list("mno"), series_id=["s"])}


@pytest.mark.parametrize("seed", range(40))
def test_small_datasets_agree_with_the_oracle(seed: int) -> None:
    tables = Invented(seed).tables
    plain, found = texts(**tables), derived(**tables)
    try:
        expected = review(plain, EXACT)
    except ValueError:
        assert found.problems  # what the oracle refuses is reported
        return
    assert not [problem for problem in found.problems if problem.severity == "error"]
    agree_on_change_overs(found, [each for each in expected if each["n"]])
    agree_on_cells(found, plain)


def agree_on_change_overs(found: Production, expected: list[dict[str, Any]]) -> None:
    by_id = {each.changeover_id: each for each in found.changeovers}
    assert len(by_id) == len(expected)
    for each in expected:
        line_id = "/".join(part for part in each["line"] if part)
        mine = by_id["|".join((line_id, each["component"], each["model"], each["old"], each["new"]))]
        assert (mine.units_concerned, mine.sightings) == (each["n"], len(each["sightings"]))
        assert (mine.first_new_order, mine.low_order, mine.high_order) == (each["first_new"], each["low"], each["high"])
        assert [mine.first_new, mine.low, mine.high] == [each["serials"][each[name]] for name in ("first_new", "low", "high")]
        assert mine.probability == pytest.approx(each["probability"], abs=1e-10)
        assert dict(mine.mixed) == pytest.approx(each["mixed"], abs=1e-10)
        assert dict(mine.odd) == pytest.approx({key: p for key, p in each["sightings"].items() if p > 0.5}, abs=1e-10)
        standings = {(claim.standing, round(claim.probability, 9)) for claim in mine.claims}
        assert {(standing, round(p, 9)) for *_, standing, p in each["claims"]} <= standings
        order, bits = each["seek"] or (0, 0.0)
        assert mine.seek_gain_bits == pytest.approx(bits, abs=1e-9)
        assert mine.seek_serial == each["serials"][order] if bits > 1e-9 else mine.seek_gain_bits < 1e-9


def agree_on_cells(found: Production, plain: dict[str, list[dict[str, str]]]) -> None:
    works = lay_out(plain, EXACT)
    built = Built(plain, works, Castings(plain, EXACT), EXACT)
    for key in works.lines:
        line = found.lines.by_id["/".join(part for part in key if part)]
        cells = found.cells[line.line_id]
        block_ids = [block.block_id for block in line.blocks]
        for unit in works.units(key):
            of_unit = (cells.block == block_ids.index(unit.block_id)) & (cells.model == cells.models.index(unit.model))
            (row,) = np.flatnonzero(of_unit & (cells.first <= unit.number) & (unit.number <= cells.last))
            assert cells.units[row] / (cells.last[row] - cells.first[row] + 1) == pytest.approx(unit.units)
            assert set(cells.as_built) == {"head", "cover", "bare"}
            for component_id, (variants, chances) in cells.as_built.items():
                expected = built.as_built(unit, component_id)
                if sum(expected.values()) < 1 + 1e-9:  # shares of options above 1 are a finding and count in proportion
                    assert dict(zip([*variants, UNRECORDED], chances[row], strict=True)) == pytest.approx(expected, abs=1e-9)


PLAIN: dict[str, list[Given]] = {
    "makers": [{}], "sources": [{"source_id": "list"}], "series": [{"series_id": "s"}], "blocks": [{"first": 1, "last": 2000}],
    "components": [{"component_id": "head"}], "variants": [{"variant_id": variant} for variant in "abc"],
    "breakpoints": [{"old_variant_id": "a", "new_variant_id": "b", "first_new": 1000, "about": "yes"},
                    {"old_variant_id": "b", "new_variant_id": "c", "first_new": 1500, "last_old": 1520}],
    "sightings": [{"serial": 990, "variant_id": "b", "original": "believed"}, {"serial": 1010, "variant_id": "b"},
                  {"serial": 700, "variant_id": "c"}],
}  # fmt: skip


@pytest.mark.parametrize("tolerance", [0.3, 0.01, 0.001])
def test_inside_a_cell_little_changes(tolerance: float) -> None:
    exact = derived(USUAL.override(cell_tolerance=0.0), **PLAIN)
    coarse = derived(USUAL.override(cell_tolerance=tolerance), **PLAIN)
    one, many = coarse.cells["s"], exact.cells["s"]
    assert len(one.first) < len(many.first)
    assert one.first[0] == 1 and one.last[-1] == 2000 and (one.first[1:] == one.last[:-1] + 1).all()
    own = {990, 1010, 700}
    for number in range(1, 2001):
        mine, true = (cells.as_built["head"][1][np.searchsorted(cells.last, number)] for cells in (one, many))
        assert np.abs(mine - true).max() <= (1e-9 if number in own else tolerance + 1e-9)
    assert np.allclose(one.as_built["head"][1].sum(axis=1), 1)


def test_cells_end_where_something_is_known_to_change() -> None:
    limits = {"series_id": "s", "serial_from": 300, "serial_to": 400}
    cells = derived(
        USUAL, **PLAIN, parts=[{"part_number": "1407", "description": "seal", "kind": "original", "unit": "each", "available": "yes",
                                "safety_critical": "no"}], fitments=[limits]
    ).cells["s"]  # fmt: skip
    begins = set(cells.first.tolist())
    assert {1, 300, 401, 1000, 1001, 1500, 1501, 700, 701, 990, 991, 1010, 1011} <= begins


def test_a_sighted_unit_does_not_vouch_for_itself() -> None:
    """Serial 700 was seen with the last variant; as built it is what the other 1,999 say of it."""
    others = {**PLAIN, "sightings": PLAIN["sightings"][:2]}
    for tolerance, near in ((0.0, 1e-9), (0.01, 0.01)):
        assumptions = USUAL.override(cell_tolerance=tolerance)
        all_cells, of_others = derived(assumptions, **PLAIN).cells["s"], derived(assumptions, **others).cells["s"]
        own, other = (cells.as_built["head"][1][np.searchsorted(cells.last, 700)] for cells in (all_cells, of_others))
        assert own == pytest.approx(other, abs=near)


def test_a_mark_read_counts_by_its_likelihood() -> None:
    rows = {**PLAIN, "breakpoints": PLAIN["breakpoints"][:1], "sightings": [{"serial": 1200, "mark_read": "H4?"}]}

    def reader(component_id: str, reading: str) -> dict[str, float]:
        assert (component_id, reading) == ("head", "H4?")
        return {"a": 0.9, "b": 0.1}

    by_mark = derive(dataset(**rows), USUAL, reader).changeovers[0]
    unseen = derived(USUAL, **{**rows, "sightings": []}).changeovers[0]
    assert by_mark.sightings == 1
    assert by_mark.high_order > unseen.high_order  # an old casting beyond the claim speaks for a later change


def test_own_numbers_carry_what_changes_by_them() -> None:
    found = derived(
        makers=[{}], sources=[{"source_id": "list"}],
        series=[{"series_id": "frame"}, {"series_id": "engine", "component_id": "block"}],
        blocks=[{"series_id": "frame", "first": 1, "last": 10}, {"series_id": "engine", "prefix": "E", "first": 1, "last": 10}],
        components=[{"component_id": "block"}, {"component_id": "head"}, {"component_id": "fork", "assembly": "frame"}],
        variants=[{"variant_id": "a"}, {"variant_id": "b"}, {"variant_id": "x", "component_id": "block"}],
        breakpoints=[{"series_id": "engine", "old_variant_id": "a", "new_variant_id": "b", "first_new": "E5"}],
    )  # fmt: skip
    assert set(found.cells["frame"].as_built) == {"block", "head", "fork"}
    assert set(found.cells["engine"].as_built) == {"head"}
    assert found.cells["frame"].as_built["head"][1].tolist() == [[0, 0, 1]]  # the frame number does not say
    assert found.cells["frame"].as_built["block"][1].tolist() == [[1, 0]]
    assert found.cells["frame"].as_built["fork"][1].tolist() == [[1]]
    assert found.cells["engine"].as_built["head"][1][0, 0] > 0.9 > 0.1 > found.cells["engine"].as_built["head"][1][-1, 0]


@pytest.mark.parametrize(("tables", "table", "column", "problem", "severity"), [
    ({"sightings": [{"serial": 2001, "variant_id": "a"}]}, "sightings", "serial", '"2001": No block of "s" holds the number 2001.', "doubt"),
    ({"sightings": [{"serial": "Q7", "variant_id": "a"}]}, "sightings", "serial", '"Q7" does not begin and end as any serial of "s".', "doubt"),
    ({"options": [{"variant_id": "a", "share": 0.5, "serial_from": 2001}]}, "options", "serial_from",
     '"2001": No block of "s" holds the number 2001.', "error"),
    ({"options": [{"variant_id": "a", "share": 0.5, "serial_from": 20, "serial_to": 10}]}, "options", "serial_from",
     "The serials run from 20 back to 10.", "error"),
    ({"options": [{"variant_id": "a", "share": 0.6}, {"variant_id": "b", "share": 0.6, "serial_from": 10}]}, "options", "share",
     "The shares of options-1, options-2 make more than 1 of the same units; they count in proportion.", "doubt"),
])  # fmt: skip
def test_rows_that_cannot_be_used_are_reported(tables: dict[str, list[Given]], table: str, column: str, problem: str, severity: str) -> None:
    found = derived(USUAL, **{**PLAIN, **tables})
    assert [(each.table, each.column, each.problem, each.severity) for each in found.problems] == [(table, column, problem, severity)]
    for _, chances in found.cells["s"].as_built.values():
        assert np.allclose(chances.sum(axis=1), 1)


def test_worn_serials_and_replaced_castings_estimate_nothing() -> None:
    sightings = [
        {"serial": "1?00", "variant_id": "a"}, {"serial": 1990, "variant_id": "a", "original": "replaced"},
        {"serial": 1980, "variant_id": "a", "retracted": "another machine"},
        {"serial": 1970, "variant_id": "a", "seen_on": "1990"}, {"serial": 1970, "variant_id": "b", "seen_on": "1995", "original": "replaced"},
    ]  # fmt: skip
    found = derived(USUAL, **{**PLAIN, "sightings": sightings})
    assert not found.problems and [each.sightings for each in found.changeovers] == [0, 0]


def test_the_latest_of_several_sightings_counts() -> None:
    sightings = [{"serial": 1970, "variant_id": "a", "seen_on": "1995"}, {"serial": 1970, "variant_id": "c", "seen_on": "1990-05"}]
    found = derived(USUAL, **{**PLAIN, "sightings": sightings})
    only = derived(USUAL, **{**PLAIN, "sightings": sightings[:1]})
    assert [each.sightings for each in found.changeovers] == [1, 1]
    assert [each.odd for each in found.changeovers] == [each.odd for each in only.changeovers]
    assert found.changeovers[1].odd[0][0] == "sightings-1"
