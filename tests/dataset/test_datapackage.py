"""datapackage.json says what the records say. Source: Table Schema, version 2, https://datapackage.org/standard/table-schema/."""

import json

import pytest

from kb.dataset.datapackage import datapackage, dump
from kb.words.records import TABLES
from kb.words.records.columns import columns


def schema(table: str) -> dict[str, object]:
    found: dict[str, object] = next(each for each in datapackage()["resources"] if each["name"] == table)["schema"]
    return found


def field(table: str, name: str) -> dict[str, object]:
    fields = schema(table)["fields"]
    assert isinstance(fields, list)
    return next(each for each in fields if each["name"] == name)  # type: ignore[no-any-return]


@pytest.mark.parametrize("table", TABLES)
def test_every_column_is_a_described_field(table: str) -> None:
    fields = schema(table)["fields"]
    assert isinstance(fields, list)
    assert [each["name"] for each in fields] == [column.name for column in columns(table)]
    assert all(each["description"] for each in fields)


@pytest.mark.parametrize(("table", "name", "kind", "constraints"), [
    ("blocks", "position", "integer", {"required": True}),
    ("blocks", "width", "integer", {"minimum": 1, "maximum": 18}),
    ("blocks", "first", "integer", {"minimum": 0, "maximum": 10**18 - 1}),
    ("options", "share", "number", {"required": True, "minimum": 0, "maximum": 1}),
    ("fitments", "quantity", "number", {"required": True, "exclusiveMinimum": 0}),
    ("sources", "grade", "string", {"required": True, "enum": ["A", "B", "C", "D"]}),
    ("breakpoints", "when", "string", None),
    ("breakpoints", "first_new", "string", None),  # never a number: its zeros are part of it
    ("breakpoints", "about", "boolean", None),
    ("components", "places", "string", None),
])  # fmt: skip
def test_a_field_has_the_type_and_limits_of_its_column(table: str, name: str, kind: str, constraints: object) -> None:
    found = field(table, name)
    assert (found["type"], found.get("constraints")) == (kind, constraints)


def test_keys_and_references() -> None:
    assert schema("block_models")["primaryKey"] == ["block_id", "model_id"]
    keys = schema("variants")["foreignKeys"]
    assert keys == [
        {"fields": ["component_id"], "reference": {"resource": "components", "fields": ["component_id"]}},
        {"fields": ["same_function_as"], "reference": {"resource": "", "fields": ["variant_id"]}},
    ]


def test_only_the_files_that_are_there_are_described() -> None:
    package = datapackage({"models", "makers"}, "club", "Our club's list")
    assert [each["name"] for each in package["resources"]] == ["makers", "models"]
    assert (package["name"], package["title"]) == ("club", "Our club's list")
    alone = datapackage({"models"})["resources"][0]
    assert alone["schema"]["foreignKeys"] == []


def test_the_text_is_json_and_ends_with_a_line_end() -> None:
    assert json.loads(dump(datapackage())) == datapackage()
    assert dump(datapackage()).endswith("}\n")
