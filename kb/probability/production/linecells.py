"""The cells of every line of a dataset: which components its units carry, and where they are cut.

A line of units carries all components of its maker; a line of a component's own numbers those of its assembly that change by such
numbers. Rules: docs/model.md, sections 6 and 8.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from kb.assumptions import Assumptions
from kb.probability.production.cells import Cells, Contents, Estimated, Offered, cells_of
from kb.probability.production.layout import Lines
from kb.probability.production.limits import EVERY_SERIAL, stretches
from kb.probability.production.serial_lookup import Problem
from kb.words.applicability import Applicability, Limit
from kb.words.errors import DataError

if TYPE_CHECKING:
    from kb.words.dataset import Dataset
    from kb.words.records import Fitment, Step, Supersession

    Cutting = Fitment | Supersession | Step


def cells_of_lines(
    dataset: "Dataset", lines: Lines, estimated: Sequence[Estimated], service: Mapping[str, Mapping[str, float]],
    assumptions: Assumptions, problems: list[Problem],
) -> dict[str, Cells]:  # fmt: skip
    """The cells of all lines, by line_id.

    Args:
        dataset: options, and what has limits by serial.
        lines: all of them.
        estimated: the lineages of all lines.
        service: by component_id, the share of each variant among replacements.
        assumptions: for the tolerance of cells.
        problems: what is found wrong with options is added.
    """
    variants: dict[str, tuple[str, ...]] = defaultdict(tuple)
    for row in dataset.variants:
        variants[row.component_id] += (row.variant_id,)
    by_line: dict[tuple[str, str], dict[str, Estimated]] = defaultdict(dict)
    for each in estimated:
        by_line[each.lineage.line_id, each.lineage.component_id][each.lineage.model_id] = each
    options = _options(dataset, lines, problems)
    cuts = _cuts(dataset, lines)
    series = {row.series_id: row for row in dataset.series}
    changing = {row.component_id for row in dataset.breakpoints if not row.retracted}
    in_own = {row.component_id for row in dataset.breakpoints if not row.retracted and series[row.series_id].component_id}
    assembly = {row.component_id: (row.maker_id, row.assembly) for row in dataset.components}
    cells = {}
    for line in lines:
        numbered = series[line.series_id].component_id
        if numbered:
            carried = [c for c in assembly if c in in_own and assembly[c] == assembly.get(numbered)]
        else:
            carried = [c for c, (maker_id, _) in assembly.items() if maker_id == series[line.series_id].maker_id]
        contents = [
            Contents(c, variants[c], by_line.get((line.line_id, c), {}), c in changing, service.get(c, {}), options.get((line.line_id, c), ()))
            for c in carried
        ]
        cells[line.line_id] = cells_of(line, contents, cuts[line.line_id], assumptions.cell_tolerance)
        problems += _too_many(contents, cells[line.line_id])
    return cells


def _options(dataset: "Dataset", lines: Lines, problems: list[Problem]) -> dict[tuple[str, str], list[Offered]]:
    """By (line_id, component_id)."""
    options: dict[tuple[str, str], list[Offered]] = defaultdict(list)
    for row in dataset.options:
        applies = Applicability.of_row(row, None)
        try:
            left = stretches(lines, next(iter(applies.limits), EVERY_SERIAL))
        except DataError as error:
            problems.append(Problem("options", row.option_id, "serial_from" if row.serial_from else "serial_to", error.problem, error.remedy))
            continue
        for line_id, orders in left.items():
            options[line_id, row.component_id].append(Offered(row.option_id, row.variant_id, row.share, applies, orders))
    return options


def _too_many(contents: Sequence[Contents], cells: Cells) -> list[Problem]:
    """Options whose shares add up to more than all units of a model somewhere."""
    found = []
    for component in contents:
        for model_id in cells.models:
            open_here = [option for option in component.options if option.applies.of_model(model_id)]
            for low in {option.orders.low for option in open_here}:
                there = [option for option in open_here if option.orders.low <= low <= option.orders.high]
                if sum(option.share for option in there) > 1 + 1e-9:  # numeric
                    names = ", ".join(option.option_id for option in there)
                    problem = f"The shares of {names} make more than 1 of the same units; they count in proportion."
                    found.append(Problem("options", there[-1].option_id, "share", problem, "Correct a share or a limit.", "doubt"))
    return found


def _cuts(dataset: "Dataset", lines: Lines) -> dict[str, set[int]]:
    """By line_id, the limits of fitments, supersessions and steps; what stands nowhere is reported by the rules of the dataset."""
    cuts: dict[str, set[int]] = defaultdict(set)
    rows: tuple[Cutting, ...] = (
        *(fitment for fitment in dataset.fitments if not fitment.retracted),
        *(supersession for supersession in dataset.supersessions if not supersession.retracted),
        *dataset.steps,
    )
    for row in rows:
        for limit in Limit.of(row):
            if limit.serial_from is None and limit.serial_to is None:
                continue
            try:
                left = stretches(lines, limit)
            except DataError:
                continue
            for line_id, orders in left.items():
                cuts[line_id] |= {orders.low, orders.high + 1}
    return cuts
