"""Parts of a unit on a page: by assembly, and never more than a page can hold."""

from collections import Counter
from dataclasses import dataclass
from itertools import islice

from kb.desk.trade.part_lines import ORDER, PartLine, part_lines
from kb.store.book import Book
from kb.store.lookups import assemblies_with_procedure
from kb.web.pool import Opened
from kb.words.answers.fitment import Fit
from kb.words.answers.identification import Identification

MOST_AT_ONCE = 400  # fitments of a maker; beyond that an assembly must be chosen before its parts are judged
MOST_LINES = 300  # on a page; JSON has them all


@dataclass(frozen=True)
class AssemblyParts:
    """The parts of one assembly."""

    name: str
    lines: list[PartLine]

    @property
    def counts(self) -> str:
        """How many of each verdict: "5 fit, 2 check first"."""
        numbers = Counter[str](line.fit.verdict for line in self.lines)
        return ", ".join(f"{numbers[v]} {'fit' if v == 'fits' and numbers[v] > 1 else v}" for v in ORDER if numbers[v])


def by_assembly(book: Book, fits: list[Fit]) -> tuple[list[AssemblyParts], int]:
    """Parts by assembly and verdict, and how many lines were left out; entries that differ only in the place are one line."""
    groups: dict[str, list[PartLine]] = {}
    lines = part_lines(fits)
    for line in islice(lines, MOST_LINES):
        groups.setdefault(book.components[line.fit.component].assembly if line.fit.component else "", []).append(line)
    return [AssemblyParts(name, mine) for name, mine in groups.items()], max(0, len(lines) - MOST_LINES)


def assemblies_of(book: Book, found: Identification) -> list[str]:
    """The assemblies of the most probable unit's maker."""
    maker = found.units[0].maker if found.units else ""
    return list(dict.fromkeys(component.assembly for component in book.components.values() if component.maker_id == maker))


def few_parts(opened: Opened, found: Identification) -> bool:
    """The maker of the most probable unit has no more fitments than can be judged for one page."""
    return not found.units or opened.fitments.get(found.units[0].maker, 0) <= MOST_AT_ONCE


def with_procedure(book: Book, found: Identification) -> set[str]:
    """The assemblies for which there is a procedure, and so a work sheet."""
    return assemblies_with_procedure(book, found.units[0].maker) if found.units else set()
