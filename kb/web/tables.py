"""Datasette's own pages: titles and column descriptions from the records, facets, canned queries, and what stays shut."""

from collections.abc import Mapping, Sequence
from copy import deepcopy
from functools import cache
from typing import Any

from datasette.utils import tilde_encode
from markupsafe import Markup

from kb.store.queries import QUERIES, label_of
from kb.web.hooks import hook
from kb.web.site import Site, site_of
from kb.words.records import TABLES
from kb.words.records.columns import columns

_TITLES = {"block_models": "Models of shared blocks", "feature_values": "Values of features", "fitment_conditions": "Further conditions of fitments",
           "date_codes": "Casting-date codes", "step_parts": "Parts of steps", "readings": "Confirmed readings"}  # fmt: skip
_FACETS = {
    "blocks": ["series_id", "kind"],
    "components": ["maker_id", "assembly"],
    "marks": ["kind"],
    "features": ["kind"],
    "breakpoints": ["series_id", "source_id"],
    "sightings": ["series_id", "component_id", "original"],
    "parts": ["kind", "available"],
    "fitments": ["component_id", "source_id"],
    "supersessions": ["direction"],
    "sources": ["grade", "kind"],
    "pictures": ["shows"],
}
_LABELS = {"sources": "title", "parts": "description", "features": "question", "marks": "text", "pictures": "caption", "steps": "text",
           "fitments": "role", "procedures": "title"}  # fmt: skip
_DERIVED = {
    "changeovers": ("Change-overs", "When a casting changed in a line of serials, estimated from all claims and sightings."),
    "changeover_claims": ("Claims about change-overs", "How each source's claim stands against all the evidence."),
    "changeover_odd_sightings": ("Odd sightings", "Sightings that are probably replaced castings."),
    "disputes": ("Disputes", "Where what is recorded does not agree."),
    "mark_variants": ("Variants of marks", "Which mark is found on which variant, one row a pair."),
    "lines": ("Lines", "Every run of serials with a production order of its own."),
    "line_blocks": ("Blocks in production order", "The used blocks with their ends worked out."),
    "line_block_models": ("Models of blocks", "How many units of each model a block holds."),
    "supersession_closure": ("What leads to what", "Every number that another one leads to, over any number of steps."),
    "build_info": ("About this file", "Digest, versions and assumptions of the build."),
}
_HIDDEN = ("cells", "as_built", "text_models", "mark_index")
@cache
def _described(database: str) -> dict[str, Any]:
    tables: dict[str, Any] = {}
    for name, record in TABLES.items():
        doc = (record.__doc__ or "").split(": ", 1)[-1].strip()
        tables[name] = {
            "title": _TITLES.get(name, name.replace("_", " ").capitalize()),
            "description": doc[:1].upper() + doc[1:],
            "columns": {column.name: column.description for column in columns(name)},
            "facets": _FACETS.get(name, []),
            **({"label_column": _LABELS[name]} if name in _LABELS else {}),
        }
    for name, (title, description) in _DERIVED.items():
        tables[name] = {"title": title, "description": description}
    for name in _HIDDEN:
        tables[name] = {"hidden": True}
    return {"title": "The tables", "databases": {database: {"title": "The tables", "tables": tables, "queries": QUERIES}}}


@hook
def get_metadata(datasette: Any, key: Any, database: Any, table: Any) -> dict[str, Any] | None:
    """Datasette's hook: it writes into what it gets, so it gets a copy."""
    site = getattr(datasette, "kb_site", None)
    return deepcopy(_described(site.database)) if site is not None else None


@hook
def permission_allowed(datasette: Any, action: str) -> bool | None:
    """Datasette's hook: free SQL is shut whatever the settings say, the download unless it was asked for."""
    site = site_of(datasette)
    if site is None:
        return None
    if action == "execute-sql" or (action == "view-database-download" and not site.setup.download):
        return False
    return None


async def _named_keys(database: Any, table: str) -> list[tuple[str, str, str, str]]:
    """The foreign keys of a table as (column, other table, its key, what it calls its rows), where it calls them anything. The file never changes,
    so that they are looked up once."""
    kept: dict[str, list[tuple[str, str, str, str]]] = database.__dict__.setdefault("kb_named_keys", {})
    if table not in kept:
        keys = await database.foreign_keys_for_table(table)
        labels = {key["other_table"]: await database.label_column_for_table(key["other_table"]) for key in keys}
        kept[table] = [(k["column"], k["other_table"], k["other_column"], labels[k["other_table"]]) for k in keys if labels[k["other_table"]]]
    return kept[table]


@hook
def extra_template_vars(datasette: Any) -> dict[str, Any]:
    """Datasette's hook: what our frame needs around its pages."""
    site: Site | None = site_of(datasette)
    tables = _described(site.database)["databases"][site.database]["tables"] if site else {}

    async def references(table: str, cells: Sequence[Mapping[str, Any]]) -> dict[str, Markup]:
        """What the columns of a row refer to, by name and as a link; Datasette does so for tables, not for single rows."""
        found: dict[str, Markup] = {}
        database = datasette.databases.get(site.database if site else "")
        if database is None:
            return found
        values = {cell["column"]: cell["raw"] for cell in cells if cell["raw"] not in (None, "")}
        for column, other, key, label in await _named_keys(database, table):
            if column in values:
                row = (await database.execute(label_of(other, key, label), [values[column]])).first()
                if row and row[0]:
                    link = datasette.urls.row(database.name, other, tilde_encode(str(values[column])))
                    found[column] = Markup('<a href="{}">{}</a> <em>{}</em>').format(link, row[0], values[column])
        return found

    return {"site": site, "table_metadata": lambda name: tables.get(name, {}), "references": references}
