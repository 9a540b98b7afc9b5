"""A printed year list: "year, first serial" (or month), with a column for each plant, into blocks with last = next first - 1.

    Year   Lindenrood   Saint Orrin
    1926   A0001        -
    1928   B0001        R0001
    last   B2400        R1500

As CSV or XLSX, or as text pasted from a page, including dots between the columns. A row "last" (or an option) says where the last
block ends; so does a column "last", or "Lindenrood last", if the letters change before the next first serial.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from kb.dataset.changes import NewRow
from kb.words.dataset import Dataset
from kb.words.errors import DataError, FileError
from kb.words.notation import simplify
from loaders.listing import Listing
from loaders.listing import read as read_list
from loaders.phrases import split, ungroup
from loaders.rejects import Rejected

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = rf"(?P<name>{'|'.join(_MONTHS)})[a-z]*\.?,?\s*(?P<after>[0-9]{{4}})"
_DATE = re.compile(rf"(?P<year>[0-9]{{4}})(?:-(?P<month>[0-9]{{2}}))?|{_MONTH}|(?P<number>[0-9]{{1,2}})/(?P<of>[0-9]{{4}})", re.IGNORECASE)
_NOTHING = {"", "-", "--", "none", "n/a", "..", "...", '"'}
_LAST = ("last", "end", "ends", "last number", "last serial")
_SERIAL = re.compile(r"[A-Z]*[0-9]+[A-Z]*")


@dataclass(frozen=True)
class _Start:
    """One cell: from this date on, serials begin here."""

    row: int
    year: int
    month: int | None
    prefix: str
    digits: str
    suffix: str
    last: str = ""
    ended: tuple[int, int | None] | None = None  # when a later row of the list begins

    @property
    def first(self) -> int:
        return int(self.digits)

    @property
    def date(self) -> str:
        return f"{self.year:04d}" + (f"-{self.month:02d}" if self.month else "")


@dataclass
class YearList:
    """A list that was read: the first serials of every plant, by the plant's heading ("" if there is only one column)."""

    listing: Listing
    starts: dict[str, list[_Start]] = field(default_factory=dict)
    lasts: dict[str, str] = field(default_factory=dict)

    def plan(self, series_id: str, common: Mapping[str, str], lasts: Mapping[str, str] | None = None) -> Callable[[Dataset], Sequence[NewRow]]:
        """Blocks for a series: `common` is the same for all (source_id, page, model_id, dates_are, line), `lasts` the last serial by plant.

        They follow the blocks that a line already has; an existing block keeps its position.
        """

        def blocks(dataset: Dataset) -> list[NewRow]:
            made = []
            for heading, starts in self.starts.items():
                line = _slug(heading) if heading else common.get("line", "")
                taken = {row.block_id: row.position for row in dataset.blocks if row.series_id == series_id and (row.line or "") == line}
                known = {**self.lasts, **(lasts or {})}
                made += self._blocks(series_id, line, starts, taken, common, known.get(heading, ""))
            return made

        return blocks

    def _blocks(
        self, series_id: str, line: str, starts: Sequence[_Start], taken: Mapping[str, int], common: Mapping[str, str], last: str
    ) -> list[NewRow]:
        position = max(taken.values(), default=0)
        width = len(starts[0].digits) if any(start.digits.startswith("0") for start in starts) else 0
        made = []
        for number, start in enumerate(starts):
            following = starts[number + 1] if number + 1 < len(starts) else None
            end = _number_of(start.last, start)
            if end is None and following and (following.prefix, following.suffix) == (start.prefix, start.suffix):
                end = following.first - 1
            elif end is None and following is None:
                end = _number_of(last, start)
            block_id = "-".join(filter(None, [series_id, line, start.date]))
            position += block_id not in taken
            values = {
                "block_id": block_id, "series_id": series_id, "line": line, "position": str(taken.get(block_id, position)),
                "prefix": start.prefix, "first": str(start.first), "last": "" if end is None else str(end),
                "suffix": start.suffix, "width": str(width) if width else "", "built_from": start.date, "built_to": _before(start.ended),
            }  # fmt: skip
            made.append(NewRow("blocks", {**common, **{name: text for name, text in values.items() if text}}, self.listing.file, start.row))
        return made


def read(path: Path) -> YearList:
    """Read a list by the ending of its name; ".txt" is text pasted from a page.

    Raises:
        FileError: the file cannot be read, or holds no list.
    """
    if path.suffix.lower() != ".txt":
        listing = read_list(path)
        names = listing.header
        rows = [(1, names), *((row, [cells.get(name, "") for name in names]) for row, cells in listing.rows)]
        return _read(listing, rows)
    try:
        return parse(path.read_text("utf-8-sig"), path.name)
    except (OSError, UnicodeDecodeError) as error:
        raise FileError(f'"{path}" cannot be read: {error}.', "Check the name, and save it as UTF-8.") from error


def parse(text: str, file: str = "pasted text") -> YearList:
    """Read text pasted from a page.

    >>> years = parse("1921 ...... 100,001\\n1924 ...... 101,801\\nlast 104,100")
    >>> [(row.values["built_from"], row.values["first"], row.values["last"]) for row in years.plan("mill", {})(Dataset())]
    [('1921', '100001', '101800'), ('1924', '101801', '104100')]
    """
    return _read(Listing(file), [(row, _columns(line)) for row, line in enumerate(text.splitlines(), 1) if line.strip()])


def _columns(line: str) -> list[str]:
    """The columns of a pasted line: first a date or "last", then what spaces, tabs, bars or dots separate."""
    line = re.sub(r"\s*(?:\.\s?){2,}|…+", "  ", line.strip()) if re.search(r"\.\s?\.|…", line) else line.strip()
    found = _DATE.match(line) or re.match(rf"(?:{'|'.join(_LAST[::-1])})\b", line, re.IGNORECASE)
    if found:
        rest = line[found.end() :].strip(" \t,;|:")
        return [found[0], *(cell for cell in (each.strip(",") for each in re.split(r"[\s|;]+", rest)) if cell)]
    return [cell for cell in re.split(r"\s{2,}|\t|\s*[|;]\s*", line) if cell]


def _read(listing: Listing, rows: Sequence[tuple[int, Sequence[str]]]) -> YearList:
    years = YearList(listing)
    if rows and _date(rows[0][1][0]) is None:
        headings, rows = [cell.strip() for cell in rows[0][1]], rows[1:]
    else:
        headings = ["year", *(["first serial"] if rows and len(rows[0][1]) == 2 else [])]
    plants = [name for name in headings[1:] if not _is_last(name)]
    if not rows or not plants or len(set(headings)) < len(headings):
        remedy = "Begin with a line of headings: Year, and the name of each plant." if rows else "Write a date and a first serial in each line."
        raise FileError(f"{listing.file} is no year list.", remedy)
    named = dict(zip(plants, plants, strict=False)) if len(plants) > 1 else {plants[0]: ""}
    dates: list[tuple[int, int, int | None]] = []
    for row, cells in rows:
        shown = dict(zip(headings, cells, strict=False))
        if len(cells) > len(headings):
            remedy = 'Write "-" where nothing was built, and no spaces in a serial.'
            _reject(listing, row, shown, "", cells[len(headings)], "More columns than headings.", remedy)
        elif (date := _date(cells[0])) is not None:
            if dates and _key(date) <= _key(dates[-1][1:]):
                _reject(listing, row, shown, headings[0], cells[0], "Not later than the row before.", "Put the rows in the order of time.")
            dates.append((row, *date))
            _starts(years, row, date, shown, named)
        elif cells[0].strip().lower() in _LAST:
            years.lasts |= {named[name]: shown[name] for name in plants if shown.get(name, "") not in _NOTHING}
        else:
            _reject(listing, row, shown, headings[0], cells[0], "Not a year or month.", 'Write 1928, 1928-03, March 1928 or 3/1928, or "last".')
    _check(years, dates)
    return years


def _starts(years: YearList, row: int, date: tuple[int, int | None], shown: Mapping[str, str], named: Mapping[str, str]) -> None:
    for name, line in named.items():
        cell = shown.get(name, "").strip()
        if cell.lower() in _NOTHING or cell in "–—":
            continue
        serial = simplify(ungroup(cell))
        if not _SERIAL.fullmatch(serial):
            _reject(years.listing, row, shown, name, cell, "Not a serial.", "Write its letters and digits, as in B0501, alone." + _zero(serial))
            continue
        last = next((text for other, text in shown.items() if _is_last(other) and other.lower() in ("last", f"{name} last".lower())), "").strip()
        years.starts.setdefault(line, []).append(_Start(row, *date, *split(serial), "" if last in _NOTHING else last))


def _check(years: YearList, dates: Sequence[tuple[int, int, int | None]]) -> None:
    """What the serials of a plant must be: rising, with as many digits as their zeros say. Also when each was followed by a later row."""
    later = {row: following[1:] for (row, *_), following in zip(dates, dates[1:], strict=False)}
    for name, starts in years.starts.items():
        width = next((len(start.digits) for start in starts if start.digits.startswith("0")), 0)
        for number, start in enumerate(starts):
            starts[number] = replace(start, ended=later.get(start.row))
            shown = f"{start.prefix}{start.digits}{start.suffix}"
            if width and len(start.digits) != width:
                problem = f"{len(start.digits)} digits, but zeros in front say that there are {width}."
                _reject(years.listing, start.row, {}, name, shown, problem, "Write all serials as they are stamped." + _zero(shown))
            before = starts[number - 1] if number else None
            if before and (before.prefix, before.suffix) == (start.prefix, start.suffix) and start.first <= before.first:
                problem = f"Not higher than the first serial before it ({before.prefix}{before.digits}{before.suffix})."
                _reject(years.listing, start.row, {}, name, shown, problem, "Correct the one that is wrong." + _zero(shown))
    for name, starts in years.starts.items():
        for text, start in [(each.last, each) for each in starts] + [(years.lasts.get(name, ""), starts[-1])]:
            try:
                _number_of(text, start)
            except DataError as error:
                shown = f"{start.prefix}{start.digits}{start.suffix}"
                _reject(years.listing, start.row, {}, name, text, error.problem, error.remedy + (_zero(text) or _zero(shown)))


def _zero(serial: str) -> str:
    """A hint if the letter O is beside a digit: pasted and scanned pages have it for 0."""
    if not re.search(r"(?<=[0-9])O|O(?=[0-9O]*[0-9])", serial.upper()):
        return ""
    return f' Or is the letter O in "{serial}" the digit 0?'


def _reject(listing: Listing, row: int, cells: Mapping[str, str], column: str, value: str, problem: str, remedy: str) -> None:
    found = listing.find(row, column, value, problem, remedy)
    listing.rejected.append(Rejected(listing.file, row, dict(cells) or {column or "first serial": value}, (found,)))


def _date(text: str) -> tuple[int, int | None] | None:
    """(year, month) of a date as lists print it; None if it is not a date."""
    found = _DATE.fullmatch(text.strip())
    if found is None:
        return None
    year = int(found["year"] or found["after"] or found["of"])
    month = _MONTHS.index(found["name"][:3].lower()) + 1 if found["name"] else int(found["month"] or found["number"] or 0)
    return (year, month or None) if year and 0 <= month <= 12 else None


def _key(date: tuple[int, int | None]) -> tuple[int, int]:
    return date[0], date[1] or 1


def _before(date: tuple[int, int | None] | None) -> str:
    """The year or month before."""
    if date is None:
        return ""
    year, month = date
    if month is None:
        return f"{year - 1:04d}"
    return f"{year:04d}-{month - 1:02d}" if month > 1 else f"{year - 1:04d}-12"


def _number_of(last: str, start: _Start) -> int | None:
    """The number of a last serial; it must have the same letters, or digits alone."""
    if not last:
        return None
    prefix, digits, suffix = split(ungroup(last))
    if not digits or (prefix, suffix) not in ((start.prefix, start.suffix), ("", "")) or int(digits) < start.first:
        shown = f"{start.prefix}{start.digits}{start.suffix}"
        raise DataError(f'"{last}" is no last serial of the block that begins at {shown}.', "Write the last serial with the same letters.")
    return int(digits)


def _is_last(heading: str) -> bool:
    return heading.lower() in _LAST or heading.lower().endswith(" last")


def _slug(heading: str) -> str:
    return "-".join(re.findall(r"[a-z0-9]+", heading.lower()))
