"""Rows of a dataset for the tests of this room: only what a test is about is written out, what must be filled is filled."""

from typing import Any

from kb.words.dataset import Dataset
from kb.words.records import TABLES

Given = dict[str, Any]

FILLED: dict[str, Given] = {
    "sources": {"title": "A list", "kind": "parts list", "grade": "B"},
    "makers": {"maker_id": "marl", "name": "Marl & Co"},
    "models": {"maker_id": "marl", "name": "Model"},
    "series": {"maker_id": "marl", "name": "Numbers", "stamped_on": "plate"},
    "affixes": {"series_id": "s", "at": "prefix", "means": "export"},
    "blocks": {"series_id": "s", "position": 1, "source_id": "list"},
    "components": {"maker_id": "marl", "assembly": "engine", "name": "Component", "safety_critical": "no"},
    "variants": {"component_id": "head", "name": "Variant", "how_to_tell": "look"},
    "options": {"component_id": "head", "source_id": "list"},
    "marks": {"kind": "casting number"},
    "breakpoints": {"series_id": "s", "component_id": "head", "source_id": "list"},
    "sightings": {"series_id": "s", "component_id": "head", "original": "unknown"},
    "fitments": {"part_number": "1407", "component_id": "head", "role": "seal", "quantity": 1, "source_id": "list"},
}


def texts(**tables: list[Given]) -> dict[str, list[dict[str, str]]]:
    """The same rows as cells of text, as a file holds them. A row without its key gets one: blocks-1, blocks-2, ..."""
    filled = {}
    for table, rows in tables.items():
        key = TABLES[table].key[0]
        filled[table] = [
            {column: str(value) for column, value in {key: f"{table}-{number}", **FILLED.get(table, {}), **given}.items()}
            for number, given in enumerate(rows, start=1)
        ]
    return filled


def dataset(**tables: list[Given]) -> Dataset:
    """A dataset of the tables given."""
    rows = texts(**tables)
    return Dataset.of({table: [TABLES[table].model_validate(row) for row in rows[table]] for table in rows})
