"""A small dataset of an invented maker in which nothing is wrong, to be changed row by row."""

from typing import Any

from kb.words.dataset import Dataset
from kb.words.records import TABLES

BASE: dict[str, list[dict[str, Any]]] = {
    "sources": [
        {"source_id": "list", "title": "Parts list", "kind": "parts list", "grade": "B"},
        {"source_id": "copy", "title": "Club list", "kind": "club register", "grade": "C", "copied_from": "list"},
        {"source_id": "works", "title": "Works card", "kind": "factory record", "grade": "A"},
    ],
    "makers": [{"maker_id": "orlop", "name": "Orlop"}],
    "models": [{"model_id": "m-1", "maker_id": "orlop", "name": "M1"}, {"model_id": "m-2", "maker_id": "orlop", "name": "M2"}],
    "series": [
        {"series_id": "frame", "maker_id": "orlop", "name": "Frames", "stamped_on": "headstock"},
        {"series_id": "engine", "maker_id": "orlop", "name": "Engines", "stamped_on": "crankcase", "component_id": "cover"},
    ],
    "affixes": [{"series_id": "frame", "affix": "X", "at": "suffix", "means": "export"}],
    "blocks": [
        {"block_id": "b-1", "series_id": "frame", "position": 1, "prefix": "B", "first": 1, "last": 500, "width": 5, "model_id": "m-1",
         "source_id": "list"},
        {"block_id": "b-2", "series_id": "frame", "position": 2, "prefix": "B", "first": 501, "last": 900, "width": 5, "model_id": "m-2",
         "source_id": "list"},
        {"block_id": "b-3", "series_id": "frame", "line": "leeds", "position": 1, "prefix": "L", "first": 1, "last": 100, "source_id": "list"},
        {"block_id": "e-1", "series_id": "engine", "position": 1, "prefix": "E", "first": 1, "last": 900, "source_id": "list"},
    ],
    "components": [
        {"component_id": "cover", "maker_id": "orlop", "assembly": "drive", "name": "Cover", "places": "left;right", "safety_critical": "no"},
        {"component_id": "head", "maker_id": "orlop", "assembly": "engine", "name": "Head", "safety_critical": "no"},
    ],
    "variants": [
        {"variant_id": "cover-early", "component_id": "cover", "name": "early", "how_to_tell": "three holes"},
        {"variant_id": "cover-late", "component_id": "cover", "name": "late", "how_to_tell": "four holes"},
        {"variant_id": "head-early", "component_id": "head", "name": "early", "how_to_tell": "thin fins"},
    ],
    "features": [
        {"feature_id": "holes", "component_id": "cover", "question": "How many holes?", "effort": 1},
        {"feature_id": "bore", "component_id": "head", "question": "How wide is the bore?", "kind": "measure", "unit": "mm", "effort": 5},
    ],
    "feature_values": [
        {"variant_id": "cover-early", "feature_id": "holes", "value": "three"},
        {"variant_id": "cover-late", "feature_id": "holes", "value": "four"},
    ],
    "breakpoints": [
        {"breakpoint_id": "p-1", "series_id": "frame", "component_id": "cover", "old_variant_id": "cover-early", "new_variant_id": "cover-late",
         "first_new": "B00412", "source_id": "list"},
    ],
    "parts": [
        {"part_number": "1407", "description": "Seal", "kind": "original", "unit": "each", "available": "no", "safety_critical": "no"},
        {"part_number": "1407-A", "description": "Seal", "kind": "original", "unit": "each", "available": "yes", "safety_critical": "no"},
        {"part_number": "900", "description": "Kit", "kind": "original", "unit": "set", "available": "yes", "safety_critical": "no"},
    ],
    "contents": [{"kit_number": "900", "part_number": "1407-A", "quantity": 1}],
    "fitments": [
        {"fitment_id": "f-1", "part_number": "1407", "component_id": "cover", "role": "seal", "quantity": 1, "series_id": "frame",
         "serial_from": "B00100", "serial_to": "B00600", "variant_id": "cover-early", "place": "left", "source_id": "list"},
    ],
    "supersessions": [{"supersession_id": "u-1", "old_part": "1407", "new_part": "1407-A", "direction": "one-way", "source_id": "list"}],
}  # fmt: skip


def dataset(**more: list[dict[str, Any]]) -> Dataset:
    """The base with rows added; a row whose key is there already changes that row instead."""
    rows = {table: [dict(row) for row in given] for table, given in BASE.items()}
    for table, given in more.items():
        keys = TABLES[table].key
        for new in given:
            same = [row for row in rows.get(table, []) if all(row[key] == new[key] for key in keys)]
            if same:
                same[0].update(new)
            else:
                rows.setdefault(table, []).append(new)
    return Dataset.of({table: [TABLES[table].model_validate(row) for row in given] for table, given in rows.items()})
