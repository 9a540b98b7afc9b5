"""The parts of a unit as lines of a list: entries that differ only in the place, left and right, are one line of an order."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from kb.words.answers.fitment import Fit, Ships

ORDER = ("fits", "check first", "not recorded", "does not fit")


@dataclass(frozen=True)
class PartLine:
    """Entries of one part in one role that differ only in the place."""

    entries: tuple[Fit, ...]

    @property
    def fit(self) -> Fit:
        """The first of them, for what they have in common."""
        return self.entries[0]

    @cached_property
    def places(self) -> str:
        """Where it goes: "left, right"; "" where there is only one place."""
        return ", ".join(entry.place for entry in self.entries if entry.place)

    @property
    def component(self) -> str:
        """The component as a person calls it, without the place."""
        return self.fit.name.removesuffix(f" ({self.fit.place})")

    @property
    def order(self) -> list[tuple[str, Ships]]:
        """What is to be ordered for all the places, any one of them: how many, and the number that ships."""
        times = len(self.entries) if self.fit.per == "place" else 1
        return [(f"{times * ships.quantity * self.fit.quantity:g}", ships) for ships in self.fit.current]


def part_lines(found: Iterable[Fit]) -> list[PartLine]:
    """The lines, what fits first."""
    groups: dict[tuple[object, ...], list[Fit]] = {}
    for fit in sorted(found, key=lambda fit: ORDER.index(fit.verdict)):
        ships = tuple((each.part_number, each.quantity, each.verdict) for each in fit.current)
        key = (fit.verdict, fit.part_number, fit.component, fit.role, fit.quantity, fit.per, fit.measure_first, ships)
        groups.setdefault(key, []).append(fit)
    return [PartLine(tuple(entries)) for entries in groups.values()]
