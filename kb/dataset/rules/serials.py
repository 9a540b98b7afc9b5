"""Serials: blocks that hold together, limits that name serials of their series, sightings beyond what is known.

Order and look-up are `kb.probability.production`; here its problems get their rows.
"""

from collections.abc import Iterator

from kb.assumptions import Assumptions
from kb.dataset.rules.problem import Known, RowProblem
from kb.probability.production.layout import Lines, find
from kb.probability.production.lineages import Lineage, draw_up
from kb.probability.production.serial_lookup import Problem, lay_out
from kb.words.dataset import Dataset
from kb.words.errors import DataError

_LIMITED = ("options", "fitments", "supersessions", "steps")
_WORN = frozenset("?[]*")


def check(dataset: Dataset, known: Known) -> tuple[list[RowProblem], Lines, tuple[Lineage, ...]]:
    """All problems with serials, and lines and lineages for the other rules."""
    lines, in_blocks = lay_out(dataset)
    lineages, in_claims = draw_up(dataset, lines, Assumptions())
    found = [*_placed(dataset, in_blocks), *_blocks(dataset)]
    in_serials = [*_placed(dataset, in_claims), *_limits(dataset, lines), *_sightings(dataset, lines)]
    if in_serials and "blocks" in known.absent:
        first = in_serials[0]
        problem = f"The file is missing, but {first.table}.csv names serials."
        return [*found, RowProblem("blocks", None, "", problem, "Add blocks.csv; kb template writes an empty one.")], lines, lineages
    if not known.unsure.isdisjoint(("blocks", "affixes", "series")):
        return found, lines, lineages
    unplaced = {dataset.blocks[each.index].series_id for each in found if _leaves_block_out(each) and each.index is not None}
    sound = {row.series_id for row in dataset.series} - known.series_in_doubt - unplaced
    return [*found, *(each for each in in_serials if (series := _series(dataset, each)) is None or series in sound)], lines, lineages


def _leaves_block_out(problem: RowProblem) -> bool:
    """The block cannot be used, so its serials would be looked up in vain."""
    return problem.table == "blocks" and problem.severity == "error" and problem.column in ("last", "prefix", "units")


def _series(dataset: Dataset, problem: RowProblem) -> str | None:
    """The series whose serials a problem is about; None for a limit that names no series."""
    named: str | None = getattr(dataset, problem.table)[problem.index].series_id
    return named


def _placed(dataset: Dataset, problems: list[Problem]) -> Iterator[RowProblem]:
    """Problems of kb.probability.production, which knows keys, at their rows."""
    rows: dict[str, dict[str, int]] = {}
    for each in problems:
        if each.table not in rows:
            rows[each.table] = {record.key_text: index for index, record in enumerate(getattr(dataset, each.table))}
        index = rows[each.table].get(each.key)
        row = None if index is None else getattr(dataset, each.table)[index]
        subject = getattr(row, "series_id", None) or each.key
        yield RowProblem(
            each.table, index, each.column, each.problem, each.remedy, each.severity, each.table, subject, (row.source_id,) if row else ()
        )


def _blocks(dataset: Dataset) -> Iterator[RowProblem]:
    checks = {row.series_id: row.check for row in dataset.series}
    source_of = {row.block_id: row.source_id for row in dataset.blocks}
    numbers = {}
    for index, row in enumerate(dataset.blocks):
        if row.first is not None and row.last is not None:
            numbers[row.block_id] = row.last - row.first + 1
        if row.rival_of == row.block_id:
            yield RowProblem(
                "blocks", index, "rival_of", "The block is its own rival.", "Name the block of which this is another version, or leave it empty."
            )
        elif row.rival_of is not None and not row.retracted:
            problem = f'Another version of "{row.rival_of}"; it is shown as a dispute and not used.'
            sources = tuple(dict.fromkeys((source_of.get(row.rival_of, row.source_id), row.source_id)))
            remedy = "Nothing to do; retract the version that proves wrong."
            yield RowProblem("blocks", index, "rival_of", problem, remedy, "doubt", "rival block", row.series_id, sources)
        holes = (row.prefix or "").count("#")
        wanted = checks.get(row.series_id) == "weighted-11-17"
        if holes != wanted:
            problem = (
                "The prefix does not hold the place of the check character."
                if wanted
                else 'A "#" in the prefix, but the series has no such check character.'
            )
            remedy = 'Write "#" where it stands, once.' if wanted else "Leave it out, or write weighted-11-17 in check of the series."
            yield RowProblem("blocks", index, "prefix", problem, remedy)
    shared: dict[str, int] = {}
    models = {row.block_id: row.model_id for row in dataset.blocks}
    for index, share in enumerate(dataset.block_models):
        shared[share.block_id] = shared.get(share.block_id, 0) + share.units
        if shared[share.block_id] > numbers.get(share.block_id, shared[share.block_id]):
            problem = f"The models of the block have {shared[share.block_id]} units, but it has {numbers[share.block_id]} numbers."
            yield RowProblem(
                "block_models", index, "units", problem, "Correct the units, or first and last of the block.", "doubt", "units", share.block_id
            )
        if models.get(share.block_id) is not None:
            problem = f'The block itself names the model "{models[share.block_id]}", which is not used where block_models has rows.'
            yield RowProblem("block_models", index, "block_id", problem, "Leave model_id of the block empty.", "doubt", "units", share.block_id)


def _limits(dataset: Dataset, lines: Lines) -> Iterator[RowProblem]:
    """serial_from and serial_to must be serials of the series named, in order."""
    for table in _LIMITED:
        for index, row in enumerate(getattr(dataset, table)):
            if (row.serial_from is None and row.serial_to is None) or getattr(row, "retracted", None):
                continue
            if row.series_id is None:
                column = "serial_from" if row.serial_from is not None else "serial_to"
                yield RowProblem(table, index, column, "A serial, but no series.", "Name the series_id that the serial is of.")
                continue
            places = {}
            for column in ("serial_from", "serial_to"):
                if (serial := getattr(row, column)) is not None:
                    try:
                        places[column] = find(lines, row.series_id, serial)
                    except DataError as error:
                        yield RowProblem(table, index, column, error.problem, error.remedy)
            if len(places) < 2:
                continue
            first, last = places["serial_from"], places["serial_to"]
            if first.line is not last.line:
                problem = f'serial_from is of the line "{first.line.line_id}", serial_to of "{last.line.line_id}".'
                yield RowProblem(table, index, "serial_to", problem, "Write one row for each line.")
            elif last.order < first.order:
                problem = f"The range ends at {row.serial_to}, before it begins at {row.serial_from}."
                yield RowProblem(table, index, "serial_to", problem, "Swap serial_from and serial_to, or correct the one that is wrong.")


def _sightings(dataset: Dataset, lines: Lines) -> Iterator[RowProblem]:
    """A whole serial that nobody knows may be a discovery, so it is a doubt."""
    for index, row in enumerate(dataset.sightings):
        if row.retracted or _WORN.intersection(row.serial):
            continue
        try:
            find(lines, row.series_id, row.serial)
        except DataError as error:
            problem = f"{error.problem} The sighting is not used in estimates."
            remedy = f"It may be a discovery: check the photograph, then widen the block. {error.remedy}"
            sources = (row.source_id,) if row.source_id else ()
            yield RowProblem("sightings", index, "serial", problem, remedy, "doubt", "unknown serial", row.series_id, sources)
