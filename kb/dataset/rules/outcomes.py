"""Outcomes against fitments: what came back although a list says that it fits, what was fitted although a list says that it does not.

One outcome proves little, so it is a doubt about the fitment, which names the row of the list and its source.
"""

from collections import defaultdict
from collections.abc import Iterator

from kb.dataset.rules.problem import RowProblem
from kb.probability.production.layout import Lines, find
from kb.probability.production.limits import stretches
from kb.words.applicability import Limit
from kb.words.dataset import Dataset
from kb.words.errors import DataError
from kb.words.records import Fitment, Outcome


def check(dataset: Dataset, lines: Lines) -> Iterator[RowProblem]:
    """Outcomes that no row of the part agrees with, and some row contradicts."""
    if not dataset.outcomes:
        return
    rows: dict[str, list[Fitment]] = defaultdict(list)
    for fitment in dataset.fitments:
        if not fitment.retracted:
            rows[fitment.part_number].append(fitment)
    alike = {row.variant_id: row.same_function_as for row in dataset.variants if row.same_function_as}
    conditional = {row.fitment_id for row in dataset.fitment_conditions}
    for index, outcome in enumerate(dataset.outcomes):
        if outcome.component_id is None or (outcome.variant_id is None and outcome.serial is None):
            continue  # not said on what
        said = [each for each in rows.get(outcome.part_number, ()) if each.component_id == outcome.component_id]
        holding = [each for each in said if each.fitment_id not in conditional and _holds(each, outcome, lines, alike)]
        fitted = outcome.result == "fitted"
        against = [each for each in holding if each.fits != fitted]
        if against and not any(each.fits == fitted for each in holding):
            names = ", ".join(each.fitment_id for each in against)
            where = f"no. {outcome.serial}" if outcome.serial else f'"{outcome.variant_id}"'
            did = "was fitted to" if fitted else "came back from"
            why = f" ({outcome.reason})" if outcome.reason else ""
            problem = f"{outcome.part_number} {did} {where}{why}, but {names} says that it {'does not fit' if fitted else 'fits'}."
            remedy = "Look up the list; retract or limit the fitment if the outcome is right."
            sources = tuple(dict.fromkeys(each.source_id for each in against))
            yield RowProblem("outcomes", index, "result", problem, remedy, "doubt", "outcome", outcome.part_number, sources)


def _holds(row: Fitment, outcome: Outcome, lines: Lines, alike: dict[str, str]) -> bool:
    """Whether the row surely speaks of that unit; a limit that the outcome does not tell leaves it open."""
    if row.model_id or row.place:
        return False
    if row.variant_id:
        seen = outcome.variant_id
        if seen is None or not (row.variant_id == seen or row.variant_id == alike.get(seen) or seen == alike.get(row.variant_id)):
            return False
    if row.series_id and (row.serial_from or row.serial_to or outcome.series_id != row.series_id):
        if not outcome.serial or outcome.series_id != row.series_id:
            return False
        try:
            place = find(lines, outcome.series_id, outcome.serial)
            stretch = stretches(lines, Limit(row.series_id, row.serial_from, row.serial_to)).get(place.line.line_id)
        except DataError:
            return False
        return stretch is not None and stretch.low <= place.order <= stretch.high
    return True
