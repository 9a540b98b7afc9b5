"""Rows of a dataset for the tests of this room: only what a test is about is written out, the rest is empty."""

from types import SimpleNamespace
from typing import Any

TABLES: dict[str, tuple[str, dict[str, Any]]] = {
    "sources": ("source_id", {"title": "A list", "kind": "parts list", "issued": None, "grade": "B", "copied_from": (), "note": None}),
    "makers": ("maker_id", {"name": "Marl & Co", "left_means": None, "note": None}),
    "models": ("model_id", {"maker_id": "marl", "name": "Model", "built_from": None, "built_to": None, "note": None}),
    "series": ("series_id", {"maker_id": "marl", "name": "Numbers", "stamped_on": "plate", "component_id": None, "check": None, "note": None}),
    "affixes": ("affix", {"series_id": "s", "at": "prefix", "means": "export", "note": None}),
    "blocks": ("block_id", {
        "series_id": "s", "line": None, "position": 1, "prefix": None, "first": None, "last": None, "suffix": None, "width": None,
        "model_id": None, "built_from": None, "built_to": None, "dates_are": None, "units": None, "kind": "new", "rival_of": None,
        "source_id": "list", "page": None, "retracted": None, "note": None,
    }),
    "block_models": ("block_id", {"model_id": None, "units": 0}),
    "components": ("component_id", {
        "maker_id": "marl", "assembly": "engine", "name": "Component", "places": (), "where_to_look": None, "safety_critical": False,
        "replaced_rate": None, "note": None,
    }),
    "variants": ("variant_id", {
        "component_id": "head", "name": "Variant", "how_to_tell": "look", "same_function_as": None, "service_share": None, "note": None,
    }),
    "options": ("option_id", {
        "component_id": "head", "variant_id": None, "share": 0.0, "model_id": None, "series_id": None, "serial_from": None,
        "serial_to": None, "source_id": "list", "page": None,
    }),
    "breakpoints": ("breakpoint_id", {
        "series_id": "s", "component_id": "head", "model_id": None, "old_variant_id": None, "new_variant_id": None, "first_new": None,
        "first_new_to": None, "about": False, "when": None, "last_old": None, "as_printed": None, "source_id": "list", "page": None,
        "retracted": None, "note": None,
    }),
    "sightings": ("sighting_id", {
        "series_id": "s", "serial": None, "component_id": "head", "place": None, "variant_id": None, "mark_read": None,
        "original": "unknown", "casting_date": None, "seen_on": None, "observer": None, "evidence": None, "source_id": None,
        "retracted": None, "note": None,
    }),
    "fitments": ("fitment_id", {"series_id": None, "serial_from": None, "serial_to": None, "retracted": None}),
    "supersessions": ("supersession_id", {"series_id": None, "serial_from": None, "serial_to": None, "retracted": None}),
    "steps": ("step_id", {"series_id": None, "serial_from": None, "serial_to": None}),
}  # fmt: skip


def dataset(**tables: list[dict[str, Any]]) -> Any:
    """A dataset of the tables given. A row without its key gets one: blocks-1, blocks-2, ..."""
    filled = {}
    for table, (key, empty) in TABLES.items():
        rows = []
        for number, given in enumerate(tables.pop(table, []), start=1):
            unknown = set(given) - set(empty) - {key}
            assert not unknown, f"{table} has no column {unknown}"
            rows.append(SimpleNamespace(**{**empty, key: f"{table}-{number}", **given}))
        filled[table] = tuple(rows)
    assert not tables, f"no table {set(tables)}"
    return SimpleNamespace(**filled)
