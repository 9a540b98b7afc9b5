"""Casting dates (docs/model.md, section 13): every day on which a casting may have been cast is tried.

The days that a code may mean are found by writing down, for every day of the layout's years, what the foundry would have cast.
"""

import re
from datetime import date, timedelta
from fractions import Fraction
from functools import lru_cache
from itertools import product
from math import ceil, floor, prod

from kb.assumptions import Assumptions

from .serials import Unit, Works
from .tables import Tables, cell, rows

FIELD = re.compile("YYYY|YY|Y|M|NN|N|DD|D|WW|W|S|[0-9]| ")


class CastDates:
    """Casting dates put to a dataset."""

    def __init__(self, tables: Tables, works: Works, assumptions: Assumptions) -> None:
        self.works, self.assumptions = works, assumptions
        self._misread: dict[tuple[str, str], float] = {}
        self._spreads: dict[frozenset[int], dict[int, float]] = {}
        self.layouts = rows(tables, "date_codes")
        self.makers = {cell(row, "component_id"): cell(row, "maker_id") for row in rows(tables, "components")}
        first = [b.built_first for b in works.blocks.values() if b.built_first is not None]
        last = [b.built_last for b in works.blocks.values() if b.built_last is not None]
        self.window = range(min(first) - max(assumptions.casting_lead), max(last) + 365 * assumptions.service_years + 1) if first else None
        self.waits: list[float] = []
        for longest, share in sorted(assumptions.casting_lead.items()):
            days = longest + 1 - len(self.waits)
            self.waits += [share / sum(assumptions.casting_lead.values()) / days] * days

    def meant(self, component: str, code: str) -> frozenset[int]:
        """The days that a code on a component may mean."""
        mine = [r for r in self.layouts if cell(r, "maker_id") == self.makers[component] and cell(r, "component_id") in ("", component)]
        mine = [r for r in mine if cell(r, "component_id")] or mine
        return frozenset().union(*(days_meant(code, cell(r, "layout"), cell(r, "month_letters"), cell(r, "century_from")) for r in mine))

    def misread(self, component: str, code: str) -> float:
        """A code read wrongly is any day's; remembered."""
        if (component, code) not in self._misread:
            self._misread[component, code] = max(1, len(self.meant(component, code) & set(self.window or []))) / len(self.window or [1])
        return self._misread[component, code]

    def _or_misread(self, component: str, code: str, read: float) -> float:
        wrong = self.assumptions.cast_date_misread
        return (1 - wrong) * read + wrong * self.misread(component, code)

    def later(self, component: str, code: str) -> float:
        """P(code | cast on any day)."""
        if self.window is None:
            return 1.0
        return self._or_misread(component, code, len(self.meant(component, code) & set(self.window)) / len(self.window))

    def in_time(self, component: str, code: str, carrier: Unit) -> float:
        """P(code | the casting was built into this unit, or belongs to this number of its own)."""
        if self.window is None:
            return 1.0
        start, end = self.days_of(carrier)
        spread = self._spread(self.meant(component, code))
        return self._or_misread(component, code, sum(spread.get(day, 0.0) for day in range(start, end + 1)) / (end - start + 1))

    def days_of(self, unit: Unit) -> tuple[int, int]:
        """First and last day on which a serial may have been built; anywhere in the window if its block has no dates."""
        block = self.works.blocks[unit.block_id]
        if block.built_first is None or block.built_last is None:
            assert self.window is not None
            return self.window[0], self.window[-1]
        days = block.built_last - block.built_first + 1
        parts = max(1, min(block.span, ceil(days / self.assumptions.build_part_days)))
        part = (unit.number - block.first) * parts // block.span
        off = Fraction(str(self.assumptions.build_unsteady))
        begins, ends = max(Fraction(0), Fraction(part, parts) - off), min(Fraction(1), Fraction(part + 1, parts) + off)
        return block.built_first + floor(days * begins), block.built_first + ceil(days * ends) - 1

    def unknown(self, dates: list[tuple[str, str]]) -> float:
        """P(the codes | a unit nobody recorded): built on some day of the window."""
        if self.window is None or not dates:
            return 1.0
        rho, total = self.assumptions.replaced_rate, 0.0
        meant = {(component, code): self.meant(component, code) for component, code in dates}
        spread = {key: self._spread(days) for key, days in meant.items()}
        any_day = {key: len(days & set(self.window)) / len(self.window) for key, days in meant.items()}
        for day in self.window:
            total += prod(self._or_misread(*key, (1 - rho) * spread[key].get(day, 0.0) + rho * any_day[key]) for key in dates)
        return total / len(self.window)

    def _spread(self, meant: frozenset[int]) -> dict[int, float]:
        """Day of building -> P(cast on one of these days), remembered."""
        if meant in self._spreads:
            return self._spreads[meant]
        found: dict[int, float] = self._spreads.setdefault(meant, {})
        for day in meant:
            for wait, p in enumerate(self.waits):
                found[day + wait] = found.get(day + wait, 0.0) + p
        return found


@lru_cache(maxsize=64)
def days_meant(code: str, layout: str, letters: str, century: str) -> frozenset[int]:
    """The days on which a foundry with this layout would have cast something that can be read as the code."""
    fields = FIELD.findall(" ".join(layout.upper().split()))
    start = int(century or 1900)
    years = range(1800, 2100) if "YYYY" in fields else range(start, start + 100)
    groups = code.upper().split()
    parted = len(groups) == len(layout.split()) > 1
    pattern = re.compile((" " if parted else "").join(re.sub(r"\?", "[A-Z0-9]", g).replace("*", "[A-Z0-9]*") for g in groups))
    by_week = any(f[0] == "W" for f in fields)
    found = set()
    day = date(years[0], 1, 1) - timedelta(days=7)
    while day < date(years[-1] + 1, 1, 8):
        year = day.isocalendar()[0] if by_week else day.year
        if year in years:
            written = ["".join(choice) for choice in product(*(_written(f, day, year, letters or "ABCDEFGHIJKL") for f in fields))]
            if any(pattern.fullmatch(text if parted else text.replace(" ", "")) for text in written):
                found.add(day.toordinal())
        day += timedelta(days=1)
    return frozenset(found)


def _written(field: str, day: date, year: int, letters: str) -> list[str]:
    """What may stand for a field."""
    number = {"N": day.month, "D": day.day, "W": day.isocalendar()[1]}.get(field[0])
    if number is not None:
        return [f"{number:02}"] if len(field) == 2 else sorted({f"{number:02}", str(number)})
    if field[0] == "Y":
        return [f"{year:04}"[-len(field) :]]
    if field == "S":
        return ["", *"ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"]
    return [letters[day.month - 1]] if field == "M" else [field]

