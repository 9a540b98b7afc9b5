"""The queries that the table pages offer by name, and the look-up of what a row is called there."""

from typing import Any

QUERIES: dict[str, dict[str, Any]] = {
    "marks_of_component": {
        "title": "Marks of a component",
        "description": "Every casting mark recorded for the variants of one component.",
        "sql": 'select m.text, m.kind, m."where", v.name as variant, m.source_id, m.page from mark_variants mv join marks m using (mark_id)'
        " join variants v using (variant_id) where v.component_id = :component order by v.rowid, m.text",
        "params": ["component"],
    },
    "sightings_of_serial": {
        "title": "Sightings of a serial",
        "description": "What was seen on one unit.",
        "sql": "select sighting_id, series_id, component_id, place, variant_id, mark_read, original, casting_date, seen_on from sightings"
        " where serial = :serial and retracted is null order by component_id, place",
        "params": ["serial"],
    },
    "contradicted_claims": {
        "title": "Contradicted claims",
        "description": "Breakpoints that the evidence as a whole speaks against.",
        "sql": "select c.breakpoint_id, b.source_id, b.first_new, round(c.probability, 4) as probability, o.first_new as estimated, o.low, o.high"
        " from changeover_claims c join breakpoints b using (breakpoint_id) join changeovers o using (changeover_id)"
        " where c.standing = 'contradicted' order by c.probability",
    },
    "replaced_by": {
        "title": "Numbers that lead to a part",
        "description": "All part numbers that one part has replaced, over any number of steps.",
        "sql": "select from_part, p.description from supersession_closure s join parts p on p.part_number = s.from_part"
        " where to_part = :part order by from_part",
        "params": ["part"],
    },
}


def label_of(table: str, key: str, label: str) -> str:
    """The query for what a row of a table is called; its parameter is the key. All three are names from the schema."""
    return f"select [{label}] from [{table}] where [{key}] = ?"
