"""Every column refuses what it should, in words that say how to mend it."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from kb.probability.channel.reading import Reading
from kb.words.dataset import Dataset
from kb.words.errors import DataError
from kb.words.records import TABLES
from kb.words.records.columns import columns
from kb.words.records.explain import explain

GOOD: dict[str, dict[str, Any]] = {
    "sources": {"source_id": "list-1948", "title": "Parts list", "kind": "parts list", "grade": "B", "copied_from": "a;b"},
    "makers": {"maker_id": "orlop", "name": "Orlop"},
    "models": {"model_id": "m-1", "maker_id": "orlop", "name": "M1", "built_from": "1948"},
    "series": {"series_id": "frame", "maker_id": "orlop", "name": "Frame numbers", "stamped_on": "headstock", "check": "luhn"},
    "affixes": {"series_id": "frame", "affix": "E", "at": "suffix", "means": "export"},
    "blocks": {"block_id": "b-1", "series_id": "f", "position": "1", "first": "1", "last": "500", "width": "5", "source_id": "x", "prefix": "B"},
    "block_models": {"block_id": "b-1", "model_id": "m-1", "units": "40"},
    "components": {"component_id": "cover", "maker_id": "o", "assembly": "drive", "name": "Cover", "places": "left;right", "safety_critical": "no"},
    "variants": {"variant_id": "cover-1", "component_id": "cover", "name": "early", "how_to_tell": "three holes", "service_share": "0"},
    "options": {"option_id": "o-1", "component_id": "cover", "variant_id": "cover-1", "share": "0.25", "source_id": "x"},
    "marks": {"mark_id": "k-1", "variant_ids": "cover-1", "text": "H41-20 B", "kind": "casting number"},
    "features": {"feature_id": "holes", "component_id": "cover", "question": "How many holes?", "effort": "1"},
    "feature_values": {"variant_id": "cover-1", "feature_id": "holes", "value": "three"},
    "breakpoints": {"breakpoint_id": "p-1", "series_id": "frame", "component_id": "cover", "old_variant_id": "cover-1", "new_variant_id": "cover-2",
                    "first_new": "B00100", "source_id": "x"},
    "sightings": {"sighting_id": "s-1", "series_id": "f", "serial": "B0?[38]*", "component_id": "c", "variant_id": "cover-1", "original": "believed"},
    "parts": {"part_number": "1407-A", "description": "Seal", "kind": "original", "unit": "each", "available": "no", "safety_critical": "no"},
    "dimensions": {"part_number": "1407-A", "dimension": "inner", "value": "35", "unit": "mm"},
    "contents": {"kit_number": "900", "part_number": "1407-A", "quantity": "2"},
    "fitments": {"fitment_id": "f-1", "part_number": "1407-A", "component_id": "cover", "role": "seal", "quantity": "1", "source_id": "x"},
    "fitment_conditions": {"fitment_id": "f-1", "component_id": "cover", "feature_id": "holes", "value": "three"},
    "supersessions": {"supersession_id": "u-1", "old_part": "1407", "new_part": "1407-A", "direction": "one-way", "source_id": "x"},
    "date_codes": {"date_code_id": "d-1", "maker_id": "orlop", "layout": "M D Y", "century_from": "1930"},
    "procedures": {"procedure_id": "pr-1", "assembly": "drive", "title": "Refit the cover"},
    "steps": {"step_id": "st-1", "procedure_id": "pr-1", "position": "1", "text": "Clean it.", "source_id": "x"},
    "step_parts": {"step_id": "st-1", "part_number": "1407-A", "quantity": "1"},
    "pictures": {"picture_id": "pic-1", "file": "cover.png", "shows": "variant", "shows_id": "cover-1", "caption": "Cover", "alt": "3 holes."},
    "readings": {"reading_id": "r-1", "reading": "B0?1", "truth": "B001", "wear": "worn"},
    "offers": {"offer_id": "of", "part_number": "1407-A", "supplier": "S", "condition": "used", "price": "4.50", "currency": "EUR", "as_of": "2024"},
    "outcomes": {"outcome_id": "oc-1", "part_number": "1407-A", "result": "returned", "on": "2024-05-03"},
}  # fmt: skip


@pytest.mark.parametrize("table", TABLES)
def test_a_good_row_is_a_record(table: str) -> None:
    record = TABLES[table].model_validate(GOOD[table])
    assert record.key_text == "/".join(GOOD[table][name] for name in record.key)


def test_every_table_has_a_place_in_the_dataset() -> None:
    assert [table for table, _ in Dataset().tables()] == list(TABLES)


@pytest.mark.parametrize(("table", "column"), [(table, c.name) for table in TABLES for c in columns(table)])
def test_every_column_is_described(table: str, column: str) -> None:
    described = next(c for c in columns(table) if c.name == column)
    assert described.description.endswith("."), f"{table}.{column}"


@pytest.mark.parametrize(("table", "column"), [(table, c.name) for table in TABLES for c in columns(table) if c.required])
def test_a_required_column_is_missed(table: str, column: str) -> None:
    with pytest.raises(ValidationError) as refused:
        TABLES[table].model_validate({k: v for k, v in GOOD[table].items() if k != column})
    assert column in [p.column for p in explain(table, refused.value)]
    assert all(p.problem and p.remedy for p in explain(table, refused.value))


@pytest.mark.parametrize(
    ("table", "change", "column", "problem", "remedy"),
    [
        ("sources", {"source_id": "List 1948"}, "source_id", "Not an id", 'Perhaps "list-1948"'),
        ("sources", {"source_id": "list\n1948"}, "source_id", "line break", "on one line"),
        ("sources", {"grade": "E"}, "grade", "Not one of the words", "A, B, C, D"),
        ("sources", {"kind": "Parts List"}, "kind", "Not one of the words", 'Perhaps "parts list"'),
        ("sources", {"issued": "1948-13"}, "issued", "impossible date", "Months run"),
        ("sources", {"copied_from": "a;B c"}, "copied_from", "Not an id", "lower-case"),
        ("makers", {"nmae": "x"}, "nmae", "Unknown column", 'Perhaps "name"'),
        ("series", {"check": "luhm"}, "check", "Not one of the words", 'Perhaps "luhn"'),
        ("blocks", {"first": "1_0"}, "first", "Not a whole number", "without separators"),
        ("blocks", {"first": "1.0"}, "first", "Not a whole number", "without separators"),
        ("blocks", {"last": "1,500"}, "last", "Not a whole number", "Write 1500"),
        ("blocks", {"first": "1.2E+05"}, "first", "No longer the number", "spreadsheet"),
        ("blocks", {"first": "600"}, "last", "ends (500) before it begins (600)", "Swap"),
        ("blocks", {"units": "501"}, "units", "only 500 numbers", "Leave units empty"),
        ("blocks", {"width": "19"}, "width", "from 1 to 18", "from 1 to 18"),
        ("blocks", {"prefix": "B*"}, "prefix", 'contains "*"', "Use only letters"),
        ("blocks", {"built_from": "1949", "built_to": "1948-05"}, "built_to", "ends (1948-05) before it begins (1949)", "Swap"),
        ("models", {"built_from": "1949", "built_to": "194"}, "built_to", "not a date", "1948-05"),
        ("models", {"built_from": "1949", "built_to": "1947/1948"}, "built_to", "before it begins", "Swap"),
        ("components", {"places": "left;left"}, "places", "in the list twice", "once"),
        ("components", {"safety_critical": "maybe"}, "safety_critical", "Neither yes nor no", "Write yes or no"),
        ("components", {"replaced_rate": "3%"}, "replaced_rate", "Not a number from 0 to 1", "0.25"),
        ("components", {"replaced_rate": "0,25"}, "replaced_rate", "Not a number from 0 to 1", "Write 0.25"),
        ("components", {"replaced_rate": "nan"}, "replaced_rate", "Not a number", "decimal point"),
        ("options", {"share": "1.5"}, "share", "from 0 to 1", "0.25"),
        ("marks", {"text": "★"}, "text", "contains", "Use only letters"),
        ("marks", {"text": "- -"}, "text", "no letter and no digit", "as it is stamped"),
        ("features", {"effort": "0"}, "effort", "above 0", "above 0"),
        ("feature_values", {"low": "1"}, "", "Neither or both", "value for a choice"),
        ("feature_values", {"value": None, "low": "9", "high": "3"}, "high", "below the least", "Swap"),
        ("breakpoints", {"new_variant_id": "cover-1"}, "new_variant_id", "Old and new variant are the same", "leave old_variant_id empty"),
        ("breakpoints", {"first_new": None}, "", "neither a serial nor a date", "first_new"),
        ("breakpoints", {"first_new": None, "when": "1948", "about": "yes"}, "about", "about without first_new", "leave about empty"),
        ("breakpoints", {"first_new": "1.23E+05"}, "first_new", "No longer the number", "spreadsheet"),
        ("sightings", {"serial": "B0(1)"}, "serial", "is not a reading", "letters, digits"),
        ("sightings", {"serial": "B0[3-8]"}, "serial", "dash inside", "[345678]"),
        ("sightings", {"serial": "B" * 65}, "serial", "64 characters", "one number"),
        ("sightings", {"mark_read": "H4?"}, "", "Neither or both", "exactly one"),
        ("sightings", {"variant_id": None}, "", "Neither or both", "exactly one"),
        ("parts", {"part_number": "1407\nA"}, "part_number", "line break", "on one line"),
        ("parts", {"available": "perhaps"}, "available", "Not one of the words", "yes, no, unknown"),
        ("contents", {"part_number": "900"}, "part_number", "contains itself", "inside the kit"),
        ("contents", {"quantity": "0"}, "quantity", "above 0", "above 0"),
        ("fitment_conditions", {"variant_id": "v"}, "", "Neither or both", "exactly one"),
        ("fitment_conditions", {"value": None}, "", "Neither or both of value", "value for a choice"),
        ("fitment_conditions", {"feature_id": None, "variant_id": "v"}, "", "no feature", "Name the feature_id"),
        ("supersessions", {"new_part": "1407"}, "new_part", "replaces itself", "delete the row"),
        ("pictures", {"file": "../secret.png"}, "file", "leads out of the folder", "pictures/"),
        ("pictures", {"file": "/etc/x.png"}, "file", "leads out of the folder", "pictures/"),
        ("offers", {"currency": "Euro"}, "currency", "Not a currency code", "EUR"),
        ("offers", {"price": "-1"}, "price", "at least 0", "decimal point"),
    ],
)
def test_a_bad_value_is_refused_with_a_remedy(table: str, change: dict[str, Any], column: str, problem: str, remedy: str) -> None:
    with pytest.raises(ValidationError) as refused:
        TABLES[table].model_validate({**GOOD[table], **change})
    found = explain(table, refused.value)
    assert [p.column for p in found] == [column]
    assert problem in found[0].problem
    assert remedy in found[0].remedy


@pytest.mark.parametrize(
    ("table", "change", "column", "value"),
    [
        ("blocks", {"first": "007"}, "first", 7),
        ("blocks", {"first": 7}, "first", 7),
        ("blocks", {"prefix": "1M8GDM9A#KP"}, "prefix", "1M8GDM9A#KP"),
        ("blocks", {"kind": "rebuilt"}, "kind", "rebuilt"),
        ("breakpoints", {"first_new": "00412"}, "first_new", "00412"),
        ("parts", {"part_number": "1E5"}, "part_number", "1E5"),  # a part number may look like that; with a plus sign it may not
        ("models", {"built_from": "1948-05", "built_to": "1948"}, "built_to", "1948"),
        ("components", {"places": ""}, "places", ()),
        ("components", {"safety_critical": "Yes"}, "safety_critical", True),
        ("sources", {"copied_from": ["a", "b"]}, "copied_from", ("a", "b")),
        ("fitments", {"quantity": "2.5"}, "quantity", 2.5),
    ],
)
def test_a_value_is_what_was_written(table: str, change: dict[str, Any], column: str, value: object) -> None:
    assert getattr(TABLES[table].model_validate({**GOOD[table], **change}), column) == value


@pytest.mark.parametrize(
    ("table", "column", "default"),
    [("blocks", "kind", "new"), ("fitments", "fits", True), ("fitments", "per", "place"), ("supersessions", "carries_fitment", True),
     ("supersessions", "quantity", 1.0), ("features", "kind", "choice"), ("breakpoints", "about", False), ("features", "error", None)],
)  # fmt: skip
def test_an_empty_cell_means_the_default(table: str, column: str, default: object) -> None:
    assert getattr(TABLES[table].model_validate(GOOD[table]), column) == default


@given(st.text(alphabet="A38?[]* -./é#", max_size=12))
def test_a_record_takes_exactly_the_readings_that_can_be_read(text: str) -> None:
    try:
        Reading.parse(text)
    except DataError:
        with pytest.raises(ValidationError):
            TABLES["readings"].model_validate({**GOOD["readings"], "reading": text})
    else:
        assert TABLES["readings"].model_validate({**GOOD["readings"], "reading": text})
