"""Every rule across rows: one row of the table per mistake, and what is said about it. Source: the rules of docs/data.md."""

from typing import Any

import pytest

from kb.dataset.rules import Known, check
from kb.words.records import TABLES
from tests.dataset.rows import dataset

Rows = dict[str, list[dict[str, Any]]]


def block(block_id: str, **more: Any) -> dict[str, Any]:
    return {"block_id": block_id, "series_id": "frame", "position": 9, "source_id": "list", **more}


def claim(breakpoint_id: str, **more: Any) -> dict[str, Any]:
    link = {"series_id": "frame", "component_id": "cover", "old_variant_id": "cover-early", "new_variant_id": "cover-late", "source_id": "works"}
    return {"breakpoint_id": breakpoint_id, **link, **more}


def seen(sighting_id: str, **more: Any) -> dict[str, Any]:
    row = {"series_id": "frame", "serial": "B00300", "component_id": "cover", "variant_id": "cover-early", "original": "believed"}
    return {"sighting_id": sighting_id, **row, **more}


def part(part_number: str, **more: Any) -> dict[str, Any]:
    return {"part_number": part_number, "description": "x", "kind": "original", "unit": "each", "available": "no", "safety_critical": "no", **more}


def follows(supersession_id: str, old: str, new: str, **more: Any) -> dict[str, Any]:
    return {"supersession_id": supersession_id, "old_part": old, "new_part": new, "direction": "one-way", "source_id": "list", **more}


def option(option_id: str, **more: Any) -> dict[str, Any]:
    return {"option_id": option_id, "component_id": "cover", "variant_id": "cover-late", "share": 0.2, "source_id": "list", **more}


def when(**more: Any) -> dict[str, Any]:
    return {"fitment_id": "f-1", **more}


MISTAKES: list[tuple[Rows, str, str, str, str, str, str]] = [
    # rows added or changed, severity, table, key, column, problem, remedy
    ({"models": [{"model_id": "m-1", "maker_id": "orlob"}]}, "error", "models", "m-1", "maker_id", "is not in makers.csv", 'Write "orlop"'),
    ({"sources": [{"source_id": "copy", "copied_from": "list;ist"}]}, "error", "sources", "copy", "copied_from", '"ist" is not in', 'Write "list"'),
    ({"contents": [{"kit_number": "900", "part_number": "1407A", "quantity": 1}]}, "error", "contents", "900/1407A", "part_number",
     "not in parts.csv",
     'Write "1407-A"'),
    ({"pictures": [{"picture_id": "x", "file": "x.png", "shows": "mark", "shows_id": "k", "caption": "c", "alt": "a"}]}, "error", "pictures", "x",
     "shows_id", "is not in marks.csv", "Add it to marks.csv"),
    ({"variants": [{"variant_id": "head_early", "component_id": "head", "name": "x", "how_to_tell": "x"}]}, "doubt", "variants", "head_early",
     "variant_id", 'looks like "head-early"', "one spelling"),
    # of another component
    ({"options": [option("o", component_id="head")]}, "error", "options", "o",
     "variant_id", 'variant of "cover", not of "head"', 'variant of "head"'),
    ({"breakpoints": [claim("p-1", old_variant_id="head-early")]}, "error", "breakpoints", "p-1", "old_variant_id", 'variant of "head"',
     "component_id"),
    ({"sightings": [seen("s", variant_id="head-early", place="left")]}, "error", "sightings", "s", "variant_id", 'variant of "head"', "component_id"),
    ({"fitments": [when(variant_id="head-early")]}, "error", "fitments", "f-1", "variant_id", 'variant of "head"', "component_id"),
    ({"fitments": [when(place="top")]}, "error", "fitments", "f-1", "place", '"top" is no place of "cover"', "left, right"),
    ({"sightings": [seen("s", component_id="head", variant_id="head-early", place="left")]}, "error", "sightings", "s", "place", "is no place",
     "there once"),
    ({"feature_values": [{"variant_id": "head-early", "feature_id": "holes", "value": "three"}]}, "error", "feature_values", "head-early/holes",
     "feature_id", 'feature of "cover"', 'feature of "head"'),
    ({"feature_values": [{"variant_id": "head-early", "feature_id": "bore", "value": "wide"}]}, "error", "feature_values", "head-early/bore", "value",
     "is a measure", "low and high"),
    ({"feature_values": [{"variant_id": "cover-late", "feature_id": "holes", "value": None, "low": 3}]}, "error", "feature_values",
     "cover-late/holes", "value", "is a choice", "Write the value"),
    ({"fitment_conditions": [when(component_id="head", feature_id="holes", value="three")]}, "error", "fitment_conditions", "f-1/head", "feature_id",
     'feature of "cover"', 'feature of "head"'),
    ({"fitment_conditions": [when(component_id="cover", feature_id="holes", value="five")]}, "error", "fitment_conditions", "f-1/cover", "value",
     "can never hold", "four, three"),
    ({"fitment_conditions": [when(component_id="head", variant_id="cover-late")]}, "error", "fitment_conditions", "f-1/head", "variant_id",
     'variant of "cover"', "component_id"),
    ({"variants": [{"variant_id": "cover-late", "same_function_as": "head-early"}]}, "error", "variants", "cover-late", "same_function_as",
     'variant of "head"', 'variant of "cover"'),
    ({"variants": [{"variant_id": "cover-late", "same_function_as": "cover-late"}]}, "error", "variants", "cover-late", "same_function_as",
     "with itself", "leave it empty"),
    ({"options": [option("o-1", share=0.7), option("o-2", share=0.4, variant_id="cover-early")]}, "error", "options", "o-2", "share", "add up to 1.1",
     "1 at most"),
    ({"variants": [{"variant_id": "head-early", "service_share": 0}]}, "error", "variants", "head-early", "service_share", "nothing could replace",
     "Leave it empty"),
    # part numbers
    ({"parts": [part("14-07a")]}, "error", "parts", "14-07a", "part_number", "are one number", "made_by"),
    ({"parts": [part("14O7")]}, "doubt", "parts", "14O7", "part_number", 'looks like "1407"', "keep the right one"),
    ({"supersessions": [follows("u-2", "1407-A", "1407")]}, "error", "supersessions", "u-2", "new_part", "circle: 1407 to 1407-A to 1407",
     "from_date"),
    ({"supersessions": [follows("u-2", "1407-A", "1407", from_date="1960")]}, "error", "supersessions", "u-1", "new_part", "circle",
     "in all of them"),
    ({"contents": [{"kit_number": "1407-A", "part_number": "900", "quantity": 1}]}, "error", "contents", "1407-A/900", "part_number",
     "contains itself", "Delete"),
    # serials
    ({"blocks": [block("b-4", prefix="B", first=400, last=450)]}, "error", "blocks", "b-4", "first", "both hold the numbers 400 to 450", "rival_of"),
    ({"blocks": [block("b-4", prefix="C", first=400)]}, "error", "blocks", "b-4", "last", "Nothing says where the block ends", "units"),
    ({"blocks": [block("b-4", prefix="C", first=1, last=9, position=2)]}, "doubt", "blocks", "b-4", "position", "position 2 too", "in the order"),
    ({"blocks": [block("b-4", prefix="B", first=1, last=490, rival_of="b-1")]}, "doubt", "blocks", "b-4", "rival_of", 'version of "b-1"', "retract"),
    ({"blocks": [block("b-4", prefix="C", first=1, last=9, rival_of="b-4")]}, "error", "blocks", "b-4", "rival_of", "its own rival",
     "leave it empty"),
    ({"blocks": [block("b-4", prefix="C#", first=1, last=9)]}, "error", "blocks", "b-4", "prefix", "no such check character", "Leave it out"),
    ({"block_models": [{"block_id": "b-3", "model_id": "m-1", "units": 120}]}, "doubt", "block_models", "b-3/m-1", "units", "120 units",
     "first and last"),
    ({"block_models": [{"block_id": "b-1", "model_id": "m-1", "units": 20}]}, "doubt", "block_models", "b-1/m-1", "block_id",
     "names the model", "empty"),
    ({"fitments": [when(serial_to="B00050")]}, "error", "fitments", "f-1", "serial_to", "before it begins at B00100", "Swap"),
    ({"fitments": [when(serial_to="L50")]}, "error", "fitments", "f-1", "serial_to", 'of "frame/leeds"', "one row for each line"),
    ({"fitments": [when(serial_to="B00901")]}, "error", "fitments", "f-1", "serial_to", "holds the number 901", "B00501 to B00900"),
    ({"fitments": [when(series_id=None)]}, "error", "fitments", "f-1", "serial_from", "no series", "series_id"),
    ({"options": [option("o", series_id="frame", serial_from="Q1")]}, "error", "options", "o", "serial_from", "does not begin and end", "look like"),
    ({"supersessions": [follows("u-1", "1407", "1407-A", series_id="frame", serial_to="B1000")]}, "error", "supersessions", "u-1", "serial_to",
     "holds the number 1000", "Known near it"),
    ({"breakpoints": [claim("p-1", first_new="B00901")]}, "error", "breakpoints", "p-1", "first_new", "holds the number 901", "B00501 to B00900"),
    ({"breakpoints": [claim("p-1", first_new="B00500", first_new_to="B00400")]}, "error", "breakpoints", "p-1", "first_new_to", "before it begins",
     "Swap"),
    ({"breakpoints": [claim("p-1", last_old="L5")]}, "error", "breakpoints", "p-1", "last_old", "several lines", "for each line"),
    ({"sightings": [seen("s", serial="B00950")]}, "doubt", "sightings", "s", "serial", "not used in estimates", "may be a discovery"),
    ({"sightings": [seen("s", serial="B00300R")]}, "doubt", "sightings", "s", "serial", "not used in estimates", "affixes.csv"),
    # casting dates
    ({"date_codes": [{"date_code_id": "d", "maker_id": "orlop", "layout": "M Q Y"}]}, "error", "date_codes", "d", "layout", "no layout", "M D Y"),
    ({"date_codes": [{"date_code_id": "d", "maker_id": "orlop", "layout": "M Y", "month_letters": "ABC"}]}, "error", "date_codes", "d",
     "month_letters", "twelve different", "January"),
    ({"date_codes": [{"date_code_id": "d", "maker_id": "orlop", "layout": "M Y", "century_from": 9950}]}, "error", "date_codes", "d",
     "century_from", "no year to count", "1925"),
    # sources and claims
    ({"sources": [{"source_id": "list", "copied_from": "copy"}]}, "error", "sources", "copy", "copied_from", "in a circle", "original empty"),
    ({"breakpoints": [claim("p-2", first_new="B00450")]}, "doubt", "breakpoints", "p-2", "first_new", "contradicts p-1", "kb review"),
    ({"breakpoints": [claim("p-2", first_new=None, last_old="B00420")]}, "doubt", "breakpoints", "p-2", "last_old", "contradicts p-1", "kb review"),
    ({"breakpoints": [claim("p-2", first_new="B00413", source_id="copy")]}, "doubt", "breakpoints", "p-2", "first_new",
     '"copy" says otherwise than "list" (p-1)', "correct the slip"),
]  # fmt: skip


@pytest.mark.parametrize(("rows", "severity", "table", "key", "column", "problem", "remedy"), MISTAKES)
def test_a_mistake_is_one_finding(rows: Rows, severity: str, table: str, key: str, column: str, problem: str, remedy: str) -> None:
    data = dataset(**rows)
    found = check(data)
    assert [(each.severity, each.table, getattr(data, each.table)[each.index].key_text, each.column) for each in found] == [
        (severity, table, key, column)
    ]
    assert problem in found[0].problem
    assert remedy in found[0].remedy


RIGHT: list[tuple[str, Rows]] = [
    ("nothing is wrong in the base", {}),
    ("two makers may use one number", {"parts": [part("14-07a", made_by="A copyist")]}),
    ("dated supersessions may lead back", {"supersessions": [follows("u-1", "1407", "1407-A", from_date="1950"),
                                                             follows("u-2", "1407-A", "1407", from_date="1960")]}),
    ("the latest dated row holds", {"supersessions": [follows("u-2", "1407-A", "1407", from_date="1950"),
                                                      follows("u-3", "1407-A", "900", from_date="1960")]}),
    ("parts may interchange", {"supersessions": [follows("u-1", "1407", "1407-A", direction="both-ways"), follows("u-2", "1407-A", "1407")]}),
    ("a retracted row makes no circle", {"supersessions": [follows("u-2", "1407-A", "1407", retracted="misread")]}),
    ("a retracted block overlaps nothing", {"blocks": [block("b-4", prefix="B", first=1, last=490, retracted="misread")]}),
    ("lines may hold the same numbers", {"blocks": [block("b-4", line="hull", prefix="B", first=1, last=90)]}),
    ("a worn serial is no discovery", {"sightings": [seen("s", serial="B009?0")]}),
    ("zeros may be left out, an affix may be there", {"sightings": [seen("s-1", serial="b 300"), seen("s-2", serial="B00300-X")]}),
    ("a retracted sighting is not looked up", {"sightings": [seen("s", serial="Q1", retracted="a hoax")]}),
    ("an open block ends before the next", {"blocks": [block("b-4", prefix="C", first=1), block("b-5", prefix="C", first=50, last=60, position=10)]}),
    ("an about claim contradicts nobody", {"breakpoints": [claim("p-2", first_new="B00450", about="yes")]}),
    ("a copy may say the same", {"breakpoints": [claim("p-2", first_new="B00412", source_id="copy")]}),
    ("a range may hold the other claim", {"breakpoints": [claim("p-2", first_new="B00400", first_new_to="B00500")]}),
    ("a mixed stretch is no contradiction", {"breakpoints": [claim("p-1", last_old="B00430")]}),
    ("shares under other conditions are apart", {"options": [option("o-1", share=0.7), option("o-2", share=0.7, model_id="m-2")]}),
    ("a mark may stand on no variant", {"marks": [{"mark_id": "k", "text": "F7", "kind": "foundry"}]}),
    ("a layout of casting dates", {"date_codes": [{"date_code_id": "d", "maker_id": "orlop", "layout": "M Y", "century_from": 1920}]}),
    ("feature conditions name a recorded value", {"fitment_conditions": [when(component_id="cover", feature_id="holes", value="three")]}),
]  # fmt: skip


@pytest.mark.parametrize(("why", "rows"), RIGHT)
def test_what_is_right_is_not_found_fault_with(why: str, rows: Rows) -> None:
    assert check(dataset(**rows)) == [], why


def test_a_missing_file_is_one_finding_however_many_rows_refer_to_it() -> None:
    whole = dataset()
    parts_gone = type(whole).of({table: () if table == "parts" else rows for table, rows in whole.tables()})
    found = check(parts_gone, Known(absent=frozenset({"parts"})))
    assert [(each.table, each.index) for each in found] == [("parts", None)]


def test_a_key_given_twice_is_found() -> None:
    whole = dataset()
    twice = type(whole).of({table: rows * 2 if table == "affixes" else rows for table, rows in whole.tables()})
    found = check(twice)
    assert [(each.table, each.index, each.column) for each in found] == [("affixes", 1, "series_id")]
    assert 'key "frame/X" is given twice' in found[0].problem


@pytest.mark.parametrize("table", ["makers", "sources", "components", "variants", "parts"])
def test_nothing_is_said_about_rows_that_point_at_a_wrong_row(table: str) -> None:
    whole = dataset()
    keys = {row.key_text for row in getattr(whole, table)}
    empty = type(whole).of({name: () if name == table else rows for name, rows in whole.tables()})
    assert [each for each in check(empty, Known(keys={table: keys})) if each.column in ("maker_id", "source_id", "part_number")] == []
    assert check(empty)  # without that knowledge every reference is wrong


def test_circles_are_found_in_long_chains() -> None:
    numbers = [str(number) for number in range(5000)]
    chain = [follows(f"u-{old}", old, new) for old, new in zip(numbers, [*numbers[1:], "0"], strict=True)]
    whole = dataset()
    data = type(whole).of({
        **dict(whole.tables()),
        "parts": [*whole.parts, *(TABLES["parts"].model_validate(part(number)) for number in numbers if number != "900" and number != "1407")],
        "supersessions": [TABLES["supersessions"].model_validate(row) for row in chain],
    })  # fmt: skip
    assert [(each.table, each.column) for each in check(data)] == [("supersessions", "new_part")]
