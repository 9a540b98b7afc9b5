"""Between which serials a unit left the works with a variant: the answer read backwards, from casting to units."""

from dataclasses import dataclass, replace

import numpy as np

from kb.desk.posterior.maker_model import MakerModel
from kb.probability.production.cell_table import CellTable
from kb.probability.production.serial_search import printed


@dataclass(frozen=True)
class Stretch:
    """Serials of one block and model, first..last in numbers. variants: what a unit may have been built with; sure: one, almost certainly."""

    block: int
    model: str
    first: int
    last: int
    variants: frozenset[str]
    sure: bool


def stretches(frame: MakerModel, component_id: str, sure_at: float | None = None) -> tuple[CellTable, list[Stretch]]:
    """The cells a component goes by (units, or own numbers), and what it was built with along them.

    sure_at: the probability at which one variant is sure; by default the one at which a part for it is said to fit.
    """
    own = frame.own.get(frame.components[component_id].assembly)
    cells = own.x if own is not None and frame.by_own_number(component_id) else frame.u
    names = [v.variant_id for v in frame.book.variants_of.get(component_id, [])] + [""]
    critical = frame.components[component_id].safety_critical
    at = sure_at or (frame.assumptions.verdict_at_safety if critical else frame.assumptions.verdict_at)
    built = frame.as_built(component_id)
    found: list[Stretch] = []
    for cell in np.lexsort((cells.first, cells.model, cells.block)):
        row, block, model = built[cell], int(cells.block[cell]), cells.models[cells.model[cell]]
        first, last = int(cells.first[cell]), int(cells.last[cell])
        best = int(row.argmax())
        sure = bool(row[best] >= at)
        variants = frozenset([names[best]]) if sure else frozenset(names[i] for i in np.flatnonzero(row >= frame.assumptions.built_with_at))
        before = found[-1] if found else None
        if before is not None and (before.block, before.model, before.variants, before.sure, before.last + 1) == (
            block,
            model,
            variants,
            sure,
            first,
        ):
            found[-1] = Stretch(block, model, before.first, last, variants, sure)
        else:
            found.append(Stretch(block, model, first, last, variants, sure))
    return cells, _smoothed(found)


def _smoothed(found: list[Stretch]) -> list[Stretch]:
    """Without single serials that differ from both neighbours: those were sighted, and their own sighting is left out of what is said of them.

    Of all units together it need not be left out.
    """
    whole: list[Stretch] = []
    for stretch in found:
        alone = len(whole) > 1 and whole[-1].first == whole[-1].last and _one(whole[-2], whole[-1]) and _one(whole[-1], stretch)
        if alone and (whole[-2].variants, whole[-2].sure) == (stretch.variants, stretch.sure):
            whole[-2:] = [replace(whole[-2], last=stretch.last)]
        else:
            whole.append(stretch)
    return whole


def _one(before: Stretch, after: Stretch) -> bool:
    """The second goes on where the first ends."""
    return (before.block, before.model, before.last + 1) == (after.block, after.model, after.first)


def built_with(frame: MakerModel, component_id: str, variants: list[str]) -> tuple[list[str], str, str]:
    """The models that left the works with one of these variants, and the first and last serial in the line that has most of them."""
    cells, found = stretches(frame, component_id)
    mine = [s for s in found if s.variants & set(variants)]
    if not mine:
        return [], "", ""
    span: dict[str, int] = {}
    for s in mine:
        line_id = cells.blocks[s.block][0].line_id
        span[line_id] = span.get(line_id, 0) + s.last - s.first + 1
    line_id = max(span, key=lambda name: span[name])
    of_line = sorted((s for s in mine if cells.blocks[s.block][0].line_id == line_id), key=lambda s: (cells.blocks[s.block][1], s.first))
    first, last = of_line[0], max(of_line, key=lambda s: (cells.blocks[s.block][1], s.last))
    return sorted({s.model for s in mine if s.model}), printed(cells, first.block, first.first), printed(cells, last.block, last.last)
