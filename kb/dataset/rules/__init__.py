"""Rules across rows: what no single row can know by itself.

Errors, which a build refuses, and doubts, which are reported and shown as disputes. All are found before any is reported.
"""

from kb.dataset.rules import castings, claims, components, date_codes, descriptions, outcomes, parts, references, serials
from kb.dataset.rules.problem import Known, RowProblem
from kb.words.dataset import Dataset

__all__ = ["Known", "RowProblem", "check"]


def check(dataset: Dataset, known: Known | None = None) -> list[RowProblem]:
    """Every problem between the rows of a dataset, in the order of its files and rows."""
    known = known or Known()
    in_serials, lines, lineages = serials.check(dataset, known)
    found = [
        *references.check(dataset, known),
        *components.check(dataset),
        *parts.check(dataset),
        *date_codes.check(dataset),
        *in_serials,
        *claims.check(dataset, lineages),
        *castings.check(dataset, lines),
        *outcomes.check(dataset, lines),
        *descriptions.check(dataset),
    ]
    order = {table: number for number, (table, _) in enumerate(dataset.tables())}
    return sorted(found, key=lambda each: (order[each.table], -1 if each.index is None else each.index))
