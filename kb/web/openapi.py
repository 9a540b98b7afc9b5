"""The JSON interface described in OpenAPI 3.1 (https://spec.openapis.org/oas/v3.1.0), generated from the models of the answers."""

from collections.abc import Sequence
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from kb.words.answers.catalogue import Comparison, Meanings, PartAnswer
from kb.words.answers.fitment import Fit
from kb.words.answers.identification import CastingAnswer, Identification
from kb.words.answers.review import ReadingsReview, ReviewAnswer
from kb.words.answers.trade import Sale
from kb.words.answers.workshop import Guide, MeasureAnswer, NewSighting, Sheet
from kb.words.evidence import WEAR, WHICH_UNITS, WRITTEN
from kb.words.pieces import LONGEST, MOST_PIECES

_REF = "#/components/schemas/{model}"


def _text(name: str, says: str, required: bool = False, choices: Sequence[str] = (), example: str = "") -> dict[str, Any]:
    schema: dict[str, Any] = {"type": "string", **({"enum": list(choices)} if choices else {})}
    return {"name": name, "in": "query", "required": required, "description": says, "schema": schema, **({"example": example} if example else {})}


def _list(name: str, says: str, example: str) -> dict[str, Any]:
    schema = {"type": "array", "items": {"type": "string"}, "maxItems": MOST_PIECES}
    return {"name": name, "in": "query", "description": says, "schema": schema, "style": "form", "explode": True, "example": [example]}


def _step(name: str, says: str, example: str) -> dict[str, Any]:
    return {"name": name, "in": "path", "required": True, "description": says, "schema": {"type": "string", "minLength": 1}, "example": example}


_WHICH_UNITS = [_text(each.name, each.help) for each in WHICH_UNITS]
_WEAR = _text(WEAR.name, WEAR.help, choices=WEAR.choices)
_PIECES = [_list(kind.name, f"{kind.notation}: {kind.help} At most {LONGEST} characters of a reading.", kind.example) for kind in WRITTEN]
_RATE = {
    "name": "replaced_rate", "in": "query", "description": "How often castings were replaced, instead of what is recorded.",
    "schema": {"type": "number", "minimum": 0, "maximum": 1},
}  # fmt: skip
_UNIT = [*_WHICH_UNITS, *_PIECES, _WEAR]
_EVIDENCE = [*_UNIT, _RATE]
_COSTS = [
    {
        "name": name, "in": "query", "description": f"What {what}; both costs in one currency, or none.",
        "schema": {"type": "number", "exclusiveMinimum": 0},
    }
    for name, what in (("return_cost", "a part costs that comes back"), ("sale_value", "a sale brings that is lost by saying no"))
]  # fmt: skip
_PART = _text("part", "The part number, as written or without dashes and spaces.", required=True, example="6104")
_FOR = _text("for", "The unit as it is now, or as it left the works.", choices=("fitted", "as-built"))
_PARTS = [_text("assembly", "Only parts of this assembly."), _text("everything", "Also parts that do not fit.", choices=("no", "yes")), _FOR]

# path, what it answers, its parameters, the model of the answer, whether it is a list of them
_PATHS: tuple[tuple[str, str, list[dict[str, Any]], type[BaseModel], bool], ...] = (
    ("/find.json", "What a text may mean here.", [_text("q", "Anything: a serial, a casting number, a part number, a name.", True)], Meanings, False),
    ("/identify.json", "What a unit is, which castings it carries, what to look at next.", _EVIDENCE, Identification, False),
    ("/fits.json", "Whether a part fits a unit, an entry for each component place.", [_PART, *_EVIDENCE, _FOR, *_COSTS], Fit, True),
    (
        "/sell.json", "A part for a unit as said to a customer: the verdict, the one question to ask, what to order, what goes with it.",
        [_PART, *_EVIDENCE, _FOR, *_COSTS, _text("alone", "Leave out what goes with it.", choices=("no", "yes"))], Sale, False,
    ),
    ("/parts.json", "Which parts fit a unit.", [*_EVIDENCE, *_PARTS, *_COSTS], Fit, True),
    ("/parts/{number}.json", "A part: what it has become, which units it fits.", [_step("number", "The part number.", "6104")], PartAnswer, False),
    (
        "/sheet.json",
        "The work sheet for an assembly of a unit.",
        [_text("assembly", "The assembly to work on.", True, example="pump"), *_EVIDENCE],
        Sheet,
        False,
    ),
    (
        "/measure.json", "Whether a measure is within the limits of a step, and which shims would bring it there.",
        [
            _text("step", "The step, as the work sheet prints it.", True, example="arbor-10"),
            _text("value", "A number with or without unit; without one in that of the step.", True, example="0.35mm"),
            _list("at_hand", "PART=COUNT, shims at hand; without any, what the kits of the step hold.", "6131-10=3"), *_UNIT,
        ],
        MeasureAnswer, False,
    ),
    (
        "/guides/{model}.json", "What to know about a model before going out to look at one.",
        [_step("model", "The model (id).", "wren-30")], Guide, False,
    ),
    ("/sighting.json", "What was read and seen on a unit, as rows for the archivist.", _UNIT, NewSighting, True),
    (
        "/castings.json", "What a loose casting is off.",
        [
            _text("mark", "What can be read of its mark.", True, example="V21?1"), _WHICH_UNITS[0], _WEAR,
            _list("again", "N=CHARACTER: what a second look at its Nth character showed.", "4=8"),
            _text("component", "Only castings of this component (id or name)."), _text("model", "Off a unit of this model (id or name)."),
            _text("serial_from", "Off a unit with this number or a later one."), _text("serial_to", "Off a unit with this number or an earlier one."),
        ], CastingAnswer, False,
    ),
    (
        "/changeovers.json", "When castings changed, by all claims and sightings, and what does not agree.",
        [_text("series", "Only this series (id)."), _text("component", "Only this component (id).")], ReviewAnswer, False,
    ),
    ("/readings.json", "What was learned from confirmed readings.", [], ReadingsReview, False),
    (
        "/compare/{component}.json", "The variants of a component side by side.",
        [_step("component", "The component (id).", "arbor-housing")], Comparison, False,
    ),
)  # fmt: skip


def document(version: str, server: str) -> dict[str, Any]:
    """The whole description."""
    models = list(dict.fromkeys(model for _, _, _, model, _ in _PATHS))
    _, schemas = models_json_schema([(model, "serialization") for model in models], ref_template=_REF)
    problem = {
        "type": "object", "title": "Problem", "description": "What is wrong and how to mend it.",
        "required": ["ok", "error", "remedy", "status"],
        "properties": {"ok": {"const": False}, "error": {"type": "string"}, "remedy": {"type": "string"}, "status": {"type": "integer"}},
    }  # fmt: skip
    health = {
        "type": "object", "title": "Health", "required": ["ok", "build", "version"],
        "properties": {"ok": {"const": True}, "build": {"type": "string"}, "version": {"type": "string"}},
    }  # fmt: skip
    paths: dict[str, Any] = {each[0]: {"get": _operation(*each)} for each in _PATHS}
    paths["/-/health"] = {
        "get": {
            "operationId": "health", "summary": "That the server answers, and from which build.",
            "responses": {"200": {"description": "It does.", "content": {"application/json": {"schema": {"$ref": _REF.format(model="Health")}}}}},
        }
    }  # fmt: skip
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Old machines: what they are and which parts fit",
            "version": version,
            "description": "Read only. Every answer is the one that the pages, the command line and the Python interface give.",
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "servers": [{"url": server}],
        "paths": paths,
        "components": {"schemas": {**schemas["$defs"], "Problem": problem, "Health": health}},
    }


def _operation(path: str, summary: str, parameters: list[dict[str, Any]], model: type[BaseModel], many: bool) -> dict[str, Any]:
    one = {"$ref": _REF.format(model=model.__name__)}
    answer = {"type": "array", "items": one} if many else one
    refused = {"application/json": {"schema": {"$ref": _REF.format(model="Problem")}}}
    says = {"400": "The question cannot be answered as it is put.", "404": "It names something that is not here.", "503": "Busy: try again later."}
    return {
        "operationId": path.strip("/").split(".")[0].replace("/", "_").replace("{", "").replace("}", ""),
        "summary": summary,
        "parameters": parameters,
        "responses": {
            "200": {"description": "The answer.", "content": {"application/json": {"schema": answer}}},
            **{status: {"description": text, "content": refused} for status, text in says.items()},
            "414": {"description": "The address is too long.", "content": {"text/plain": {"schema": {"type": "string"}}}},
        },
    }
