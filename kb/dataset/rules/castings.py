"""Casting dates of sighted units: a casting cannot be younger than the machine it left the works with.

The dates are read by the maker's layouts (`kb.probability.dating.layout`); a date that is "later" in every meaning is a doubt: the casting was
replaced, the code misread, or the block's dates are wrong. Castings marked as replaced are ignored.
"""

from collections import defaultdict
from collections.abc import Iterator

from kb.dataset.rules.problem import RowProblem
from kb.probability.dating.layout import Layout, decode
from kb.probability.dating.order import relation
from kb.probability.production.layout import Lines, find
from kb.words.dataset import Dataset
from kb.words.dates import cast_beside
from kb.words.edtf import Span
from kb.words.errors import DataError

_WORN = frozenset("?[]*")


def check(dataset: Dataset, lines: Lines) -> Iterator[RowProblem]:
    """Sightings whose casting date is later than their unit."""
    dated = [(index, row) for index, row in enumerate(dataset.sightings) if row.casting_date and not row.retracted and row.original != "replaced"]
    if not dated:
        return
    makers = {row.component_id: row.maker_id for row in dataset.components}
    layouts: dict[tuple[str, str | None], list[Layout]] = defaultdict(list)
    for code in dataset.date_codes:
        try:
            layouts[code.maker_id, code.component_id].append(Layout.parse(code.layout, code.month_letters, code.century_from))
        except DataError:
            continue  # reported where the layouts are checked
    for index, row in dated:
        if _WORN.intersection(row.serial):
            continue
        try:
            place = find(lines, row.series_id, row.serial)
        except DataError:
            continue  # reported as an unknown serial
        block = place.line.blocks[place.block_index]
        maker = makers.get(row.component_id, "")
        read = layouts.get((maker, row.component_id)) or layouts.get((maker, None), [])
        meanings = [meaning for layout in read for meaning in _meanings(row.casting_date or "", layout)]
        if block.built is None or not meanings:
            continue
        stands = relation(meanings, block.built)
        if stands.order == "later":
            problem = f'No. {row.serial}, "{row.component_id}": {cast_beside(stands.order, stands.cast, block.built, block.dates_are or "")}'
            remedy = "Mark the sighting replaced if it is, or correct the code or the dates of the block."
            sources = tuple(dict.fromkeys(each for each in (row.source_id, block.source_id) if each))
            yield RowProblem("sightings", index, "casting_date", problem, remedy, "doubt", "casting date", row.component_id, sources)


def _meanings(code: str, layout: Layout) -> tuple[Span, ...]:
    try:
        return decode(code, layout)
    except DataError:
        return ()
