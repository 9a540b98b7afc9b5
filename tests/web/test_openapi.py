"""The description of the JSON interface: valid by an outside validator, and what the site answers is what it describes."""

from typing import Any

import pytest
from jsonschema import Draft202012Validator
from openapi_spec_validator import validate
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

from kb.web.routes import PAGES
from tests.web.conftest import Site

EXAMPLES = {
    "/find.json": "/find.json?q=6104",
    "/identify.json": "/identify.json?serial=%3F1%3F42&mark=gear-case%3D18-E25&saw=pump-body.relief-boss%3Dround",
    "/fits.json": "/fits.json?part=6104&serial=105112",
    "/parts.json": "/parts.json?serial=105112&assembly=arbor&everything=yes",
    "/parts/{number}.json": "/parts/6104.json",
    "/sheet.json": "/sheet.json?assembly=pump&serial=C1542",
    "/sell.json": "/sell.json?part=6104&serial=105112&return_cost=40&sale_value=20",
    "/measure.json": "/measure.json?step=arbor-10&value=0.35mm&at_hand=6131-10%3D1",
    "/guides/{model}.json": "/guides/wren-30.json",
    "/sighting.json": "/sighting.json?serial=105112&mark=arbor-housing%40left%3DV2141",
    "/castings.json": "/castings.json?mark=V21%3F1",
    "/changeovers.json": "/changeovers.json?component=feed-cam",
    "/readings.json": "/readings.json",
    "/compare/{component}.json": "/compare/arbor-housing.json",
    "/-/health": "/-/health",
}


@pytest.fixture(scope="module")
def document(site: Site) -> dict[str, Any]:
    found: dict[str, Any] = site.get("/openapi.json").json()
    return found


def test_it_is_valid(document: dict[str, Any]) -> None:
    validate(document)


def test_it_describes_every_page_that_has_an_answer(document: dict[str, Any]) -> None:
    answering = sum(page.answer is not None for page in PAGES)
    assert len(document["paths"]) == answering + 1 == len(EXAMPLES)  # and the health of the server
    assert set(document["paths"]) == set(EXAMPLES)


@pytest.mark.parametrize("path", EXAMPLES)
def test_the_answers_are_as_described(site: Site, document: dict[str, Any], path: str) -> None:
    registry: Registry[Any] = Registry().with_resource("urn:site", Resource.from_contents(document, DRAFT202012))
    schema = document["paths"][path]["get"]["responses"]["200"]["content"]["application/json"]["schema"]
    whole = {"$id": "urn:site", **document, "allOf": [schema]}
    answer = site.get(EXAMPLES[path])
    assert answer.status_code == 200
    Draft202012Validator(whole, registry=registry).validate(answer.json())


def test_a_wrong_answer_would_be_noticed(document: dict[str, Any]) -> None:
    whole = {**document, "$ref": "#/components/schemas/Identification"}
    assert not Draft202012Validator(whole).is_valid({"units": []})


def test_an_error_is_as_described(site: Site, document: dict[str, Any]) -> None:
    whole = {**document, "$ref": "#/components/schemas/Problem"}
    Draft202012Validator(whole).validate(site.get("/fits.json?serial=105112").json())
