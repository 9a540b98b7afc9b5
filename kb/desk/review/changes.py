"""What changed between two knowledge bases, in trade words: change-overs that moved and why, supersessions, parts, fitments, rows.

A row that is retracted counts as gone. What is compared is what the files say; nothing is estimated again.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import NamedTuple, TypeVar

from kb.desk.review.changeover_detail import built_under
from kb.desk.sentences import changes as say
from kb.store.book import Book
from kb.store.changes import Cells, InForce, StoredTable
from kb.store.rows import TABLE_OF, BlockRow, BreakpointRow, ChangeoverRow, FitmentRow, PartRow, SightingRow, SourceRow, SupersessionRow
from kb.words.answers.review import Change

R = TypeVar("R", bound=NamedTuple)
_TOLD = ("supersessions", "parts", "fitments", "sources")  # in words of their own; all others by their columns
_MANY = 5  # rows of one table that are named; more are counted


def changes(old: Book, new: Book) -> list[Change]:
    """Everything that differs, change-overs first."""
    before, after = InForce(old), InForce(new)
    found = [*_change_overs(before, after)]
    found += _told(SupersessionRow, before, after, _supersession)
    found += _told(PartRow, before, after, _part)
    found += _told(FitmentRow, before, after, _fitment)
    found += _told(SourceRow, before, after, _source)
    for kind, table in TABLE_OF.items():
        if table not in _TOLD and table in before.tables and table in after.tables:
            found += _plainly(table, before.table(kind).cells, after.table(kind).cells)
    if built_under(old) != built_under(new):  # a file of an older program may name fewer; those it does not name are as they are by default
        found.append(Change(kind="assumptions", subject="assumptions", text=say.OTHER_ASSUMPTIONS))
    return found


def _columns(one: Cells, other: Cells) -> list[str]:
    """The columns in which two rows differ."""
    return [name for name in dict.fromkeys((*one, *other)) if one.get(name) != other.get(name)]


# Change-overs


def _change_overs(before: InForce, after: InForce) -> Iterator[Change]:
    was, now = before.changeovers(), after.changeovers()
    for key, row in now.items():
        name = _name(after.book, row)
        if key not in was:
            yield Change(kind="change-over", subject=key, text=say.recorded_now(name, _place(row), _because(row, before, after)))
            continue
        earlier = was[key]
        if row.first_new != earlier.first_new:
            text = say.moved(name, _first(earlier), _first(row), _because(row, before, after))
        elif (row.low, row.high) != (earlier.low, earlier.high):
            narrower = row.high_order - row.low_order < earlier.high_order - earlier.low_order
            text = say.narrowed(name, narrower, _stretch(earlier), _stretch(row), _because(row, before, after))
        else:
            continue
        yield Change(kind="change-over", subject=key, text=text)
    for key, row in was.items():
        if key not in now:
            yield Change(kind="change-over", subject=key, text=say.no_longer_recorded(_name(before.book, row), _place(row)))


def _name(book: Book, row: ChangeoverRow) -> str:
    where = [book.series[row.series_id].name, f"line {row.line}" if row.line else "", book.models[row.model_id].name if row.model_id else ""]
    name = book.components[row.component_id].name
    old, new = (book.variants[each].name for each in (row.old_variant_id, row.new_variant_id))
    return f"Change-over of the {name}, {old} to {new} ({', '.join(filter(None, where))}),".removesuffix(",")


def _first(row: ChangeoverRow) -> str:
    return row.first_new or "not yet changed"


def _stretch(row: ChangeoverRow) -> str:
    if row.low == row.high:
        return _first(row)
    return f"{row.low} to {row.high}" if row.high else f"{row.low} or later"


def _place(row: ChangeoverRow) -> str:
    return f"first new {_first(row)}" if row.low == row.high else f"first new in {_stretch(row)}"


def _because(row: ChangeoverRow, before: InForce, after: InForce) -> str:
    """The rows behind the change: sightings and claims of this component in this series, grades of their sources, blocks of the series."""
    reasons = [*_counted("sighting", *(_about(side.table(SightingRow), row) for side in (before, after)))]
    reasons += _counted("breakpoint", *(_about(side.table(BreakpointRow), row) for side in (before, after)))
    claims = [each for side in (before, after) for each in side.table(BreakpointRow).rows.values()]
    cited = {each.source_id for each in claims if (each.series_id, each.component_id) == (row.series_id, row.component_id)}
    was, now = before.table(SourceRow).rows, after.table(SourceRow).rows
    graded = [key for key in cited & set(was) & set(now) if was[key].grade != now[key].grade]
    reasons += [f'"{now[key].title}" being graded {now[key].grade}' for key in sorted(graded)]
    blocks = [{key: cells for key, cells in side.table(BlockRow).cells.items() if cells["series_id"] == row.series_id} for side in (before, after)]
    reasons += _counted("block", *blocks)
    if not reasons:
        return say.OTHER_REASONS
    return f" because of {' and '.join([', '.join(reasons[:-1]), reasons[-1]] if len(reasons) > 1 else reasons)}"


def _about(rows: StoredTable[SightingRow] | StoredTable[BreakpointRow], change: ChangeoverRow) -> Mapping[str, Cells]:
    about = [key for key, each in rows.rows.items() if (each.series_id, each.component_id) == (change.series_id, change.component_id)]
    return {key: rows.cells[key] for key in about}


def _counted(one: str, old: Mapping[str, Cells], new: Mapping[str, Cells]) -> Iterator[str]:
    added = sum(key not in old for key in new)
    gone = sum(key not in new for key in old)
    corrected = sum(key in old and bool(_columns(old[key], row)) for key, row in new.items())
    for count, how in ((added, ""), (gone, " withdrawn"), (corrected, " corrected")):
        if count:
            yield f"{count} {one}{'' if count == 1 else 's'}{how}"


# Rows in words of their own


def _told(kind: type[R], old: InForce, new: InForce, tell: Callable[[R | None, R | None, "_Differences"], str]) -> Iterator[Change]:
    was, now = old.table(kind), new.table(kind)
    for key in dict.fromkeys((*now.rows, *was.rows)):
        differences = _Differences(was.cells.get(key, {}), now.cells.get(key, {}))
        if key not in was.rows or key not in now.rows or differences.columns:
            name = kind.__name__.removesuffix("Row").lower()
            yield Change(kind=name, subject=key, text=tell(was.rows.get(key), now.rows.get(key), differences))


class _Differences:
    """What differs in two rows, column by column.

    >>> str(_Differences({"grade": "C", "page": None}, {"grade": "B", "page": "12"}))
    'grade B instead of C, page 12 instead of nothing'
    """

    def __init__(self, before: Cells, after: Cells) -> None:
        self._before, self._after = before, after
        self.columns = _columns(before, after)

    def __str__(self) -> str:
        return ", ".join(f"{name} {_cell(self._after, name)} instead of {_cell(self._before, name)}" for name in self.columns)


def _cell(cells: Cells, name: str) -> str:
    value = cells.get(name)
    return "nothing" if value in (None, "") else str(value)


def _supersession(before: SupersessionRow | None, after: SupersessionRow | None, differences: _Differences) -> str:
    if after is None:
        assert before is not None
        return say.supersedes_no_longer(before.new_part, before.old_part)
    if before is None or (before.old_part, before.new_part) != (after.old_part, after.new_part):
        return say.supersedes(after.new_part, after.old_part, after.direction == "both-ways", after.condition or "")
    return say.supersession_differs(after.old_part, after.new_part, str(differences))


def _part(before: PartRow | None, after: PartRow | None, differences: _Differences) -> str:
    if after is None:
        assert before is not None
        return say.part_listed(before.part_number, before.description, now=False)
    if before is None:
        return say.part_listed(after.part_number, after.description, now=True)
    if differences.columns == ["available"]:
        return say.part_available(after.part_number, after.description, after.available)
    return f"Part {after.part_number}: {differences}."


def _fitment(before: FitmentRow | None, after: FitmentRow | None, differences: _Differences) -> str:
    row = after or before
    assert row is not None
    what = f"Part {row.part_number} as {row.role} of the {row.component_id}"
    if after is None:
        return say.fitment_gone(what, row.fitment_id)
    if before is None:
        return say.fitment_new(what, row.fitment_id, bool(row.fits))
    return say.fitment_differs(what, row.fitment_id, str(differences))


def _source(before: SourceRow | None, after: SourceRow | None, differences: _Differences) -> str:
    row = after or before
    assert row is not None
    if after is None or before is None:
        return say.source_listed(row.title, now=after is not None)
    return f'Source "{row.title}": {differences}.'


def _plainly(table: str, old: Mapping[str, Cells], new: Mapping[str, Cells]) -> Iterator[Change]:
    """Other tables: what came, what went, what was corrected."""
    added, gone = [key for key in new if key not in old], [key for key in old if key not in new]
    corrected = {key: differences for key in new if key in old and (differences := _columns(old[key], new[key]))}
    for keys, how in ((added, "added"), (gone, "withdrawn")):
        if keys:
            yield Change(kind=table, subject=table, text=f"{_listed(table, keys)} {how}.")
    for key in list(corrected)[:_MANY]:
        yield Change(kind=table, subject=key, text=f"{table} {key}: {_Differences(old[key], new[key])}.")
    if len(corrected) > _MANY:
        yield Change(kind=table, subject=table, text=say.more_corrected(table, len(corrected) - _MANY))


def _listed(table: str, keys: Iterable[str]) -> str:
    named = list(keys)
    return f"{table}: {', '.join(named)}" if len(named) <= _MANY else f"{table}: {len(named)} rows"
