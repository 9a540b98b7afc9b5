"""A dataset of one maker, so small that every probability is worked out in the head.

Quill stamped 1 to 10 on its frames: 1 to 6 are model qa, 7 to 10 are qb. Its engines are numbered E1 to E10 and its gearboxes G1 to G4, and which
went into which frame nobody recorded. Frames 1 to 4 left the works with plain heads, 5 to 10 with ribbed ones; no head was ever replaced.
With nothing known but the maker the unit is recorded with probability .95, and then each frame, engine and gearbox is as likely as any other.
"""

import re
from pathlib import Path
from typing import Any

from kb import Assumptions, KnowledgeBase
from kb.desk.posterior.examination import Examination
from kb.store.build import build
from loaders.folder import load
from tests.enumerator import Tables
from tests.small import write

ASSUMPTIONS = Assumptions().override(cell_tolerance=0.0)
KNOWN = 0.95
LEFT, RIGHT = ("q-head", "left"), ("q-head", "right")
ENGINE, BOX = ("q-engine", ""), ("q-box", "")


def quill(**more: list[dict[str, Any]]) -> Tables:
    """The dataset. more: table -> further rows."""
    said = {"source_id": "book"}
    tables: dict[str, list[dict[str, Any]]] = {
        "sources": [
            {"source_id": "book", "title": "Parts book", "kind": "parts list", "grade": "A"},
            {"source_id": "rumour", "title": "Hearsay", "kind": "hearsay", "grade": "D"},
        ],
        "makers": [{"maker_id": "quill", "name": "Quill"}],
        "models": [{"model_id": model, "maker_id": "quill", "name": model.upper()} for model in ("qa", "qb")],
        "series": [
            {"series_id": "q-no", "maker_id": "quill", "name": "Frame number", "stamped_on": "frame"},
            {"series_id": "q-e", "maker_id": "quill", "name": "Engine number", "stamped_on": "crankcase", "component_id": "q-engine"},
            {"series_id": "q-g", "maker_id": "quill", "name": "Gearbox number", "stamped_on": "gearbox", "component_id": "q-box"},
        ],
        "blocks": [
            {"block_id": "a", "series_id": "q-no", "position": 1, "first": 1, "last": 6, "model_id": "qa", **said},
            {"block_id": "b", "series_id": "q-no", "position": 2, "first": 7, "last": 10, "model_id": "qb", **said},
            {"block_id": "e", "series_id": "q-e", "position": 1, "prefix": "E", "first": 1, "last": 10, **said},
            {"block_id": "g", "series_id": "q-g", "position": 1, "prefix": "G", "first": 1, "last": 4, **said},
        ],
        "components": [
            {"component_id": component, "maker_id": "quill", "assembly": assembly, "name": name, "places": places, "safety_critical": "no",
             "replaced_rate": 0}
            for component, assembly, name, places in (
                ("q-head", "top", "Head", "left;right"), ("q-engine", "engine", "Crankcase", ""), ("q-box", "drive", "Gearbox", ""),
            )
        ],
        "variants": [
            {"variant_id": variant, "component_id": "q-head", "name": name, "how_to_tell": name}
            for variant, name in (("plain", "plain head"), ("ribbed", "ribbed head"))
        ],
        "options": [
            {"option_id": "o1", "component_id": "q-head", "variant_id": "plain", "share": 1, "series_id": "q-no", "serial_to": "4", **said},
            {"option_id": "o2", "component_id": "q-head", "variant_id": "ribbed", "share": 1, "series_id": "q-no", "serial_from": "5", **said},
        ],
    }  # fmt: skip
    rows = {table: [*tables.get(table, ()), *more.get(table, ())] for table in dict.fromkeys((*tables, *more))}
    return {table: [{column: str(value) for column, value in row.items()} for row in each] for table, each in rows.items()}


def part(number: str, **more: Any) -> dict[str, Any]:
    """A row of parts.csv."""
    return {"part_number": number, "description": "Seal", "kind": "original", "unit": "each", "available": "yes", "safety_critical": "no", **more}


def fitment(number: str, spot: tuple[str, str] = ENGINE, **more: Any) -> dict[str, Any]:
    """A row of fitments.csv: a seal at every place of the component."""
    identity = re.sub("[^a-z0-9]+", "-", " ".join([number, *spot, *map(str, more.values())]).lower()).strip("-")
    return {"fitment_id": identity, "part_number": number, "component_id": spot[0], "role": "seal", "quantity": 1, "source_id": "book", **more}


def opened(tables: Tables, folder: Path) -> KnowledgeBase:
    """The dataset, built and opened."""
    loaded = load([write(tables, folder / "data")])
    assert not [each for each in loaded.findings if each.severity == "error"], loaded.findings
    build(loaded.dataset, folder / "kb.db", assumptions=ASSUMPTIONS)
    return KnowledgeBase.open(folder / "kb.db", ASSUMPTIONS)


def examined(book: KnowledgeBase, **evidence: Any) -> Examination:
    """A unit examined; of which nothing is known but the maker, unless more is said."""
    return book._examine({"maker": "quill", **evidence}, None)
