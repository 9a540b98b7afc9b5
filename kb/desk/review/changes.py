"""What changed between two knowledge bases, in trade words: change-overs that moved and why, supersessions, parts, fitments, rows.

A row that is retracted counts as gone. What is compared is what the files say; nothing is estimated again.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping

from kb.desk.review.changeover_detail import built_under
from kb.desk.sentences import changes as say
from kb.store.book import Book, Row
from kb.words.answers.review import Change
from kb.words.records import TABLES

Rows = Mapping[str, Row]
_TOLD = ("supersessions", "parts", "fitments", "sources")  # in words of their own; all others by their columns
_MANY = 5  # rows of one table that are named; more are counted
_DULL = {"key", "normal", "data"}  # columns that the build made


def changes(old: Book, new: Book) -> list[Change]:
    """Everything that differs, change-overs first."""
    tables = [table for table in TABLES if _has(old, table) and _has(new, table)]
    before, after = ({table: _rows(book, table) for table in tables} for book in (old, new))
    found = [*_change_overs(old, new, before, after)]
    for table, tell in (("supersessions", _supersession), ("parts", _part), ("fitments", _fitment), ("sources", _source)):
        found += _told(table, before.get(table, {}), after.get(table, {}), tell)
    for table in tables:
        if table not in _TOLD:
            found += _plainly(table, before[table], after[table])
    if built_under(old) != built_under(new):  # a file of an older program may name fewer; those it does not name are as they are by default
        found.append(Change(kind="assumptions", subject="assumptions", text=say.OTHER_ASSUMPTIONS))
    return found


def _has(book: Book, table: str) -> bool:
    return book.one("select name from sqlite_master where type = 'table' and name = ?", table) is not None


def _rows(book: Book, table: str) -> Rows:
    """What is in force, by key."""
    key = TABLES[table].key
    rows = book.rows(f'select * from "{table}" order by rowid')
    return {"/".join(str(getattr(row, name)) for name in key): row for row in rows if not getattr(row, "retracted", None)}


def _columns(one: Row, other: Row) -> list[str]:
    """The columns in which two rows differ."""
    names = [name for name in dict.fromkeys((*one._fields, *other._fields)) if name not in _DULL]
    return [name for name in names if getattr(one, name, None) != getattr(other, name, None)]


# Change-overs


def _change_overs(old: Book, new: Book, before: Mapping[str, Rows], after: Mapping[str, Rows]) -> Iterator[Change]:
    was, now = ({row.changeover_id: row for row in book.rows("select * from changeovers order by rowid")} for book in (old, new))
    for key, row in now.items():
        name = _name(new, row)
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
            yield Change(kind="change-over", subject=key, text=say.no_longer_recorded(_name(old, row), _place(row)))


def _name(book: Book, row: Row) -> str:
    where = [book.series[row.series_id].name, f"line {row.line}" if row.line else "", book.models[row.model_id].name if row.model_id else ""]
    name = book.components[row.component_id].name
    old, new = (book.variants[each].name for each in (row.old_variant_id, row.new_variant_id))
    return f"Change-over of the {name}, {old} to {new} ({', '.join(filter(None, where))}),".removesuffix(",")


def _first(row: Row) -> str:
    return row.first_new or "not yet changed"


def _stretch(row: Row) -> str:
    if row.low == row.high:
        return _first(row)
    return f"{row.low} to {row.high}" if row.high else f"{row.low} or later"


def _place(row: Row) -> str:
    return f"first new {_first(row)}" if row.low == row.high else f"first new in {_stretch(row)}"


def _because(row: Row, before: Mapping[str, Rows], after: Mapping[str, Rows]) -> str:
    """The rows behind the change: sightings and claims of this component in this series, grades of their sources, blocks of the series."""
    reasons: list[str] = []
    for table, one in (("sightings", "sighting"), ("breakpoints", "breakpoint")):
        old, new = ({key: each for key, each in rows[table].items() if _about(each, row)} for rows in (before, after))
        reasons += _counted(old, new, one)
    cited = {each.source_id for each in (*before["breakpoints"].values(), *after["breakpoints"].values()) if _about(each, row)}
    graded = [key for key in cited & set(before["sources"]) & set(after["sources"]) if before["sources"][key].grade != after["sources"][key].grade]
    reasons += [f'"{after["sources"][key].title}" being graded {after["sources"][key].grade}' for key in sorted(graded)]
    old, new = ({key: each for key, each in rows["blocks"].items() if each.series_id == row.series_id} for rows in (before, after))
    reasons += _counted(old, new, "block")
    if not reasons:
        return say.OTHER_REASONS
    return f" because of {' and '.join([', '.join(reasons[:-1]), reasons[-1]] if len(reasons) > 1 else reasons)}"


def _about(row: Row, change: Row) -> bool:
    return bool(row.series_id == change.series_id and row.component_id == change.component_id)


def _counted(old: Rows, new: Rows, one: str) -> Iterator[str]:
    added = sum(key not in old for key in new)
    gone = sum(key not in new for key in old)
    corrected = sum(key in old and bool(_columns(old[key], row)) for key, row in new.items())
    for count, how in ((added, ""), (gone, " withdrawn"), (corrected, " corrected")):
        if count:
            yield f"{count} {one}{'' if count == 1 else 's'}{how}"


# Rows in words of their own


def _told(table: str, old: Rows, new: Rows, tell: Callable[[Row | None, Row | None], str]) -> Iterator[Change]:
    for key in dict.fromkeys((*new, *old)):
        before, after = old.get(key), new.get(key)
        if before is None or after is None or _columns(before, after):
            yield Change(kind=TABLES[table].__name__.lower(), subject=key, text=tell(before, after))


def _supersession(before: Row | None, after: Row | None) -> str:
    if after is None:
        assert before is not None
        return say.supersedes_no_longer(before.new_part, before.old_part)
    if before is None or (before.old_part, before.new_part) != (after.old_part, after.new_part):
        return say.supersedes(after.new_part, after.old_part, after.direction == "both-ways", after.condition or "")
    return say.supersession_differs(after.old_part, after.new_part, _differences(before, after))


def _part(before: Row | None, after: Row | None) -> str:
    if after is None:
        assert before is not None
        return say.part_listed(before.part_number, before.description, now=False)
    if before is None:
        return say.part_listed(after.part_number, after.description, now=True)
    if _columns(before, after) == ["available"]:
        return say.part_available(after.part_number, after.description, after.available)
    return f"Part {after.part_number}: {_differences(before, after)}."


def _fitment(before: Row | None, after: Row | None) -> str:
    row = after or before
    assert row is not None
    what = f"Part {row.part_number} as {row.role} of the {row.component_id}"
    if after is None:
        return say.fitment_gone(what, row.fitment_id)
    if before is None:
        return say.fitment_new(what, row.fitment_id, bool(row.fits))
    return say.fitment_differs(what, row.fitment_id, _differences(before, after))


def _source(before: Row | None, after: Row | None) -> str:
    row = after or before
    assert row is not None
    if after is None or before is None:
        return say.source_listed(row.title, now=after is not None)
    return f'Source "{row.title}": {_differences(before, after)}.'


def _differences(before: Row, after: Row) -> str:
    """Column by column.

    >>> from collections import namedtuple
    >>> row = namedtuple("row", "grade page")
    >>> _differences(row("C", None), row("B", "12"))
    'grade B instead of C, page 12 instead of nothing'
    """
    names = _columns(before, after)
    return ", ".join(f"{name} {_cell(after, name)} instead of {_cell(before, name)}" for name in names)


def _cell(row: Row, name: str) -> str:
    value = getattr(row, name, None)
    return "nothing" if value in (None, "") else str(value)


def _plainly(table: str, old: Rows, new: Rows) -> Iterator[Change]:
    """Other tables: what came, what went, what was corrected."""
    added, gone = [key for key in new if key not in old], [key for key in old if key not in new]
    corrected = {key: differences for key in new if key in old and (differences := _columns(old[key], new[key]))}
    for keys, how in ((added, "added"), (gone, "withdrawn")):
        if keys:
            yield Change(kind=table, subject=table, text=f"{_listed(table, keys)} {how}.")
    for key in list(corrected)[:_MANY]:
        yield Change(kind=table, subject=key, text=f"{table} {key}: {_differences(old[key], new[key])}.")
    if len(corrected) > _MANY:
        yield Change(kind=table, subject=table, text=say.more_corrected(table, len(corrected) - _MANY))


def _listed(table: str, keys: Iterable[str]) -> str:
    named = list(keys)
    return f"{table}: {', '.join(named)}" if len(named) <= _MANY else f"{table}: {len(named)} rows"
