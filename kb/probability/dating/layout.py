"""Casting dates: the foundry's date code, cast into a component, read by the maker's layout.

A layout (column `layout` of date_codes.csv) says in letters what comes where, in the order it is cast. Spaces show
where the casting leaves room; they help to tell "3 11 8" from "31 1 8" and may be missing on the casting and when typed.

    M      the letter of the month: by `month_letters`, else A = January ... L = December, with the letter I
    N NN   the number of the month, in one or two digits; in two
    D DD   the day of the month, in one or two digits; in two
    W WW   the week by ISO 8601 (week 1 holds the year's first Thursday), in one or two digits; in two
    Y YY YYYY   the last digit of the year; the last two; all four. With W it is the year of the week
    S      a shift mark: one character or none, says nothing
    0-9    that digit, always the same

`month_letters` is any sequence of twelve characters ("ABCDEFGHJKLM" leaves out the I, "123456789OND" is EN 60062). Years count
from `century_from` over a hundred years, so a last digit of the year has ten meanings; all are given.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING, Any

from kb.probability.channel.reading import Reading
from kb.words import edtf
from kb.words.dates import spell
from kb.words.edtf import Span
from kb.words.errors import DataError
from kb.words.notation import simplify

if TYPE_CHECKING:
    from kb.words.records import DateCode

MONTH_LETTERS = "ABCDEFGHIJKL"
YEARS_IN_FULL = range(1800, 2100)
CENTURY_FROM = 1900  # the first year of the hundred, where the maker's row does not say

_FIELD = re.compile(r"YYYY|YY|Y|M|NN|N|DD|D|WW|W|S|[0-9]| +")
_SAYS = {"M": "month", "N": "month", "D": "day", "W": "week", "Y": "year"}


@dataclass(frozen=True)
class Layout:
    """A maker's way of casting a date. Made by `parse`."""

    text: str
    fields: tuple[str, ...]  # a field, a digit, or " "
    month_letters: str
    century_from: int

    @classmethod
    def parse(cls, text: str, month_letters: str | None = None, century_from: int | None = None) -> Layout:
        """A layout from its row in date_codes.csv.

        Raises:
            DataError: a letter that is none of the above, something given twice, no year, or not twelve month letters.

        >>> Layout.parse("M D Y").example()
        'C 14 8'
        """
        squeezed = " ".join(text.upper().split())
        fields = tuple(_FIELD.findall(squeezed))
        if "".join(fields) != squeezed or not squeezed:
            raise DataError(f'"{text}" is no layout of a casting date.', "Use M, N, D, W, Y, S, digits and spaces, as in: M D Y.")
        says = [_SAYS[field[0]] for field in fields if field[0] in _SAYS]
        if len(says) != len(set(says)) or "year" not in says:
            raise DataError(f'"{text}" must tell the year once, and nothing twice.', "Write one of Y, YY, YYYY, as in: M D Y.")
        if "week" in says and len(says) > 2 or "day" in says and "month" not in says:
            raise DataError(f'"{text}" mixes weeks with months, or lacks the month.', "Write week and year (WW Y), or month, day and year (M D Y).")
        letters = simplify(month_letters or MONTH_LETTERS)
        if len(letters) != 12 or len(set(letters)) != 12 or not letters.isalnum():
            raise DataError(f'"{month_letters}" is not twelve different month letters.', "Write them from January to December: ABCDEFGHJKLM.")
        earliest = CENTURY_FROM if century_from is None else century_from
        if not 1000 <= earliest <= 9900:
            raise DataError(f"{earliest} is no year to count a hundred years from.", "Write the first year the code was used in, as in: 1925.")
        return cls(squeezed, fields, letters, earliest)

    def format(self, day: date) -> str:
        """The code that is cast on a day, without a shift mark."""
        iso = day.isocalendar()
        year = iso.year if self.tells_week else day.year
        shown = {"M": self.month_letters[day.month - 1], "N": str(day.month), "NN": f"{day.month:02}", "D": str(day.day), "DD": f"{day.day:02}"}
        shown |= {"W": str(iso.week), "WW": f"{iso.week:02}", "Y": f"{year:04}"[3:], "YY": f"{year:04}"[2:], "YYYY": f"{year:04}", "S": ""}
        return " ".join("".join(shown.get(field, field) for field in self.fields).split())

    @property
    def example_day(self) -> date:
        """A day in mid-March that a code can mean, for messages."""
        return date(1948 if 1948 in self.years else self.years[0] + 8, 3, 14)

    def example(self) -> str:
        """Its code."""
        return self.format(self.example_day)

    @property
    def tells_week(self) -> bool:
        """Whether the date is a week of a year."""
        return any(field[0] == "W" for field in self.fields)

    @cached_property
    def years(self) -> range:
        """The years that a code may mean: a hundred, or for a year cast in full all years in which machines were built in series."""
        return YEARS_IN_FULL if "YYYY" in self.fields else range(self.century_from, self.century_from + 100)


def decode(code: str, layout: Layout) -> tuple[Span, ...]:
    """All dates that a code may mean, earliest first: days, or the weeks, months or years that it gives.

    The code may be in reading notation. Spaces as typed are taken literally if they divide it as the layout does.

    Raises:
        DataError: not in reading notation, or not a date in this layout.

    >>> [spell(span) for span in decode("C 14 8", Layout.parse("M D Y", century_from=1930))][:2]
    ['14 March 1938', '14 March 1948']
    >>> [spell(span) for span in decode("[CG] 4?", Layout.parse("M YY S", century_from=1948))][:3]
    ['March 1948', 'July 1948', 'March 1949']
    >>> decode("P 48", Layout.parse("M YY S"))
    Traceback (most recent call last):
    kb.words.errors.DataError: "P 48" is no casting date in the layout M YY S. Expected it as in "C 48", which is March 1948.
    """
    tokens, parted = _tokens(code, layout)
    fields = layout.fields if parted else tuple(field for field in layout.fields if field.strip())
    found: set[Span] = set()
    for told in _readings(fields, 0, tokens, frozenset({0}), {}, layout):
        found.update(_spans(told, layout))
    if not found:
        shown = layout.example()
        meant = next(span for span in decode(shown, layout) if span.first <= layout.example_day <= span.last)
        raise DataError(f'"{code}" is no casting date in the layout {layout.text}.', f'Expected it as in "{shown}", which is {spell(meant)}.')
    return tuple(sorted(found))


def meanings(code: str, rows: Iterable[DateCode | Any], maker_id: str, component_id: str) -> tuple[Span, ...]:
    """All dates that a code on a component may mean, by all layouts that its maker used for it, earliest first.

    rows: of date_codes. Layouts for the component itself take the place of the maker's general ones.

    Raises:
        DataError: no layout is recorded, or the code is not a date in any of them.
    """
    mine = [row for row in rows if row.maker_id == maker_id and row.component_id in (None, "", component_id)]
    mine = [row for row in mine if row.component_id] or mine
    if not mine:
        raise DataError("No layout of casting dates is recorded for this maker.", "Add one to date_codes.csv, or leave the casting date out.")
    found: set[Span] = set()
    refused: DataError | None = None
    for row in mine:
        try:
            found.update(decode(code, Layout.parse(row.layout, row.month_letters, row.century_from)))
        except DataError as error:
            refused = error
    if refused and not found:
        raise refused
    return tuple(sorted(found))


def _tokens(code: str, layout: Layout) -> tuple[tuple[str, ...], bool]:
    """The reading's tokens; with " " between its groups, and True, if it is divided as the layout is."""
    groups = [group for group in re.split(r"[\s./\\\-‐-―−]+(?![^\[]*\])", code.strip()) if group]
    if len(groups) == len(layout.text.split()) > 1:
        tokens: list[str] = []
        for group in groups:
            tokens += [" ", *Reading.parse(group).tokens]
        return tuple(tokens[1:]), True
    return Reading.parse(code).tokens, False


def _readings(
    fields: tuple[str, ...], at: int, tokens: tuple[str, ...], places: frozenset[int], told: dict[str, str], layout: Layout
) -> Iterator[dict[str, str]]:
    """Every way to read the tokens as the fields from `at` on: what it says -> as cast. places: tokens used up so far, by all alignments."""
    if at == len(fields):
        if len(tokens) in _past_gaps(tokens, places):
            yield dict(told)
        return
    field = fields[at]
    for text in _texts(field, tokens, layout):
        onward = _use_up(tokens, places, text)
        if onward:
            says = _SAYS.get(field[0])
            yield from _readings(fields, at + 1, tokens, onward, {**told, says: text} if says else told, layout)


def _texts(field: str, tokens: tuple[str, ...], layout: Layout) -> Iterable[str]:
    """What may be cast in a field; "?" stands for any character in a shift mark."""
    if field == "M":
        return layout.month_letters
    if field == "S":
        return ("", "?")
    if field[0] == "Y":
        return dict.fromkeys(f"{year:04}"[4 - len(field) :] for year in layout.years)
    if field[0] in "NDW":
        numbers = range(1, {"N": 12, "D": 31, "W": 53}[field[0]] + 1)
        return [f"{n:02}" for n in numbers] + ([str(n) for n in numbers if n < 10] if len(field) == 1 else [])
    return (field,)


def _past_gaps(tokens: tuple[str, ...], places: Iterable[int]) -> set[int]:
    """The same places, and those behind a `*` that stands for nothing."""
    found = set(places)
    for place in sorted(found):
        while place < len(tokens) and tokens[place] == "*":
            place += 1
            found.add(place)
    return found


def _use_up(tokens: tuple[str, ...], places: frozenset[int], text: str) -> frozenset[int]:
    for character in text:
        reached = set()
        for place in _past_gaps(tokens, places):
            if place == len(tokens):
                continue
            token = tokens[place]
            if token == "*" and character != " ":
                reached.add(place)
            elif character in token or "?" in (character, token) and " " not in (character, token):
                reached.add(place + 1)
        places = frozenset(reached)
    return places


def _spans(told: dict[str, str], layout: Layout) -> Iterator[Span]:
    """The dates of one way to read a code, in every year that it may mean; days and weeks that a year does not have are left out."""
    ending = told["year"]
    month = layout.month_letters.index(told["month"]) + 1 if "M" in layout.fields else int(told.get("month", 0))
    years = [int(ending)] if len(ending) == 4 else [year for year in layout.years if str(year).endswith(ending)]
    for year in years:
        if "week" in told:
            week = int(told["week"])
            if week <= date(year, 12, 28).isocalendar().week:
                yield Span(date.fromisocalendar(year, week, 1), date.fromisocalendar(year, week, 7))
        elif "day" in told:
            if int(told["day"]) <= edtf.parse(f"{year:04}-{month:02}").last.day:
                yield Span(day := date(year, month, int(told["day"])), day)
        else:
            yield edtf.parse(f"{year:04}-{month:02}" if month else f"{year:04}")
