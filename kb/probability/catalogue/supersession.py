"""Supersessions: an old part number, what replaced it, and under which conditions.

A supersession row is an arrow from an old number to a new one, as parts lists and bulletins print it ("1407 superseded by
1407-A, from frame 4501 on"). Rows of one old number are alternatives; rows sharing a `group` are needed together. Of dated
rows leaving a number the latest holds. Fitment is inherited from the old number by the new one, never backwards. What can
be bought today is followed in `kb.probability.catalogue.trace`.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from kb.words import edtf
from kb.words.applicability import Applicability, Limit

if TYPE_CHECKING:
    from kb.words.records import Supersession

_EVERYWHERE = Applicability.of()


@dataclass(frozen=True)
class Arrow:
    """One row of supersessions.csv, read from the old number to the new one. None: no such condition."""

    supersession_id: str
    old: str
    new: str
    group: str | None = None
    quantity: float = 1.0  # of the new number for one of the old
    both_ways: bool = False  # interchangeable: the old one does for the new one too
    carries_fitment: bool = True
    applies: Applicability = _EVERYWHERE
    with_part: str | None = None  # a companion that the new number needs
    condition: str | None = None  # the source's wording
    from_date: str | None = None
    source_id: str = ""

    @classmethod
    def of(cls, row: Supersession | Any, component_of: Mapping[str, str]) -> Arrow:
        """The arrow of a record, or of a stored row with the same columns. component_of: variant -> its component."""
        return cls(
            supersession_id=row.supersession_id,
            old=row.old_part,
            new=row.new_part,
            group=row.group or None,
            quantity=float(row.quantity or 1),
            both_ways=row.direction == "both-ways",
            carries_fitment=row.carries_fitment not in (False, 0, "no"),
            applies=Applicability.of_row(row, component_of[row.variant_id] if row.variant_id else None),
            with_part=row.with_part or None,
            condition=row.condition or None,
            from_date=str(row.from_date) if row.from_date else None,
            source_id=row.source_id or "",
        )

    @property
    def component(self) -> str | None:
        """The component of the variant that it asks for."""
        return next((condition.component_id for condition in self.applies.conditions), None)

    @property
    def only_in_words(self) -> bool:
        """Whether its condition is stated in words alone, so that a person must decide. Words beside a companion or a group speak of those."""
        return bool(self.condition) and self.applies.everywhere and not (self.with_part or self.group)

    @property
    def conditional(self) -> bool:
        """Whether it holds only under a condition, judged for a unit or stated in words."""
        return not self.applies.everywhere or self.only_in_words

    @property
    def turned(self) -> Arrow:
        """A both-ways arrow read from the new number to the old one."""
        return replace(self, old=self.new, new=self.old, quantity=1 / self.quantity)

    def later_than(self, other: Arrow) -> bool:
        """Whether it is surely the later one; an undated row is neither earlier nor later than any."""
        if self.from_date is None or other.from_date is None:
            return False
        return edtf.parse(self.from_date).first > edtf.parse(other.from_date).last


@dataclass(frozen=True)
class Way:
    """One way on from a number: a single arrow, or the arrows of a group. holds None: undecided."""

    arrows: tuple[Arrow, ...]
    holds: bool | None


Judge = Callable[[Arrow], bool | None]


def undecided(arrow: Arrow) -> bool | None:
    """The judge where no unit is at hand: every condition stays open."""
    return None


class Network:
    """The arrows by the numbers they leave and reach."""

    def __init__(self, arrows: Iterable[Arrow]) -> None:
        """Sort the arrows. A both-ways arrow counts in both directions, unless only a whole group replaces the old number."""
        self.one_way: dict[str, list[Arrow]] = {}
        self.partners: dict[str, list[Arrow]] = {}
        for arrow in arrows:
            if arrow.both_ways and arrow.group is None:
                self.partners.setdefault(arrow.old, []).append(arrow)
                self.partners.setdefault(arrow.new, []).append(arrow.turned)
            else:
                self.one_way.setdefault(arrow.old, []).append(arrow)

    @classmethod
    def of(cls, arrows: Iterable[Arrow] | Network) -> Network:
        """Sorted once; a network is taken as it is."""
        return arrows if isinstance(arrows, Network) else cls(arrows)

    def ways(self, number: str, holds: Judge = undecided, partners: bool = True) -> list[Way]:
        """The ways on from a number that hold or may hold, in file order, dated ones only if no later one has replaced them.

        A later way replaces an earlier one where it holds for the unit at hand, and where its conditions are the same.
        partners: whether interchangeable numbers count.
        """
        groups: dict[tuple[str, str], list[Arrow]] = {}
        for arrow in self.one_way.get(number, ()):
            groups.setdefault(("group", arrow.group) if arrow.group is not None else ("row", arrow.supersession_id), []).append(arrow)
        judged = [Way(tuple(members), _together([_judged(arrow, holds) for arrow in members])) for members in groups.values()]
        open_ways = [way for way in judged if way.holds is not False]
        found = [way for way in open_ways if not any(_replaces(other, way) for other in open_ways)]
        if partners:
            equals = [Way((arrow,), _judged(arrow, holds)) for arrow in self.partners.get(number, ())]
            found += [way for way in equals if way.holds is not False]
        return found

    def leaving(self, number: str) -> Iterator[Arrow]:
        """Every arrow by which a number may be left, interchangeable ones included."""
        for way in self.ways(number):
            yield from way.arrows

    @cached_property
    def arriving(self) -> dict[str, list[Arrow]]:
        """By the number they reach: every arrow that may hold and carries fitment."""
        found: dict[str, list[Arrow]] = {}
        for old in self.numbers:
            for arrow in self.leaving(old):
                if arrow.carries_fitment:
                    found.setdefault(arrow.new, []).append(arrow)
        return found

    @property
    def numbers(self) -> list[str]:
        """All numbers that are left by an arrow, sorted."""
        return sorted({*self.one_way, *self.partners})


def closure(arrows: Iterable[Arrow] | Network) -> dict[str, tuple[str, ...]]:
    """Everything that each number may have become, nearest first; a number is not its own successor, even on a circle."""
    network = Network.of(arrows)
    onward = {number: [arrow.new for arrow in network.leaving(number)] for number in network.numbers}
    return {number: _reached(number, onward) for number in network.numbers}


def leads_back(network: Network, number: str, onward: str) -> bool:
    """Whether a number that replaces another is itself, in the end, replaced by it again."""
    seen, queue = {onward}, [onward]
    for other in queue:
        fresh = {arrow.new for way in network.ways(other, partners=False) for arrow in way.arrows} - seen
        seen |= fresh
        queue += sorted(fresh)
    return number in seen


def circles(arrows: Iterable[Arrow]) -> list[tuple[Arrow, ...]]:
    """Numbers that replace each other in a circle: one circle, as short as can be, for each set of numbers that all lead to each other.

    Interchangeable numbers are none. A circle that contains an undated arrow is preferred, for it is an error: nothing says
    which row holds (`undated`).
    """
    network = Network(arrow for arrow in arrows if not arrow.both_ways)
    leaving = {number: list(network.leaving(number)) for number in network.numbers}
    onward = {number: [arrow.new for arrow in leaving[number]] for number in leaving}
    reached = {number: {number, *_reached(number, onward)} for number in leaving}
    found, done = [], set[str]()
    for number in leaving:
        if number in done:
            continue
        part = {other for other in reached[number] if number in reached.get(other, ())}
        done |= part
        inside = {name: [arrow for arrow in leaving.get(name, ()) if arrow.new in part] for name in part}
        rounds = [_shortest_round(arrow, inside) for name in sorted(part) for arrow in inside[name]]
        if rounds:
            found.append(min(rounds, key=lambda r: (not undated(r), len(r), [arrow.supersession_id for arrow in r])))
    return found


def undated(circle: Iterable[Arrow]) -> bool:
    """Whether a row of a circle has no date, so that the circle cannot be resolved."""
    return any(arrow.from_date is None for arrow in circle)


def inheritance(arrows: Iterable[Arrow] | Network, number: str) -> list[tuple[str, tuple[Arrow, ...]]]:
    """The older numbers whose fitments this one inherits, each with the arrows that lead from there to here, nearest first.

    The conditions of all arrows on the path are added to what is inherited. Several paths from one number stand beside each
    other when none of them asks for less than the other. Only arrows that carry fitment are followed, and never backwards;
    interchangeable numbers (both ways) inherit from each other.
    """
    arriving = Network.of(arrows).arriving
    found: list[tuple[str, tuple[Arrow, ...]]] = []
    asked_for: dict[str, list[frozenset[str]]] = {number: [frozenset()]}
    queue: deque[tuple[str, tuple[Arrow, ...]]] = deque([(number, ())])
    while queue:
        at, path = queue.popleft()
        for arrow in arriving.get(at, ()):
            longer = (arrow, *path)
            conditions = frozenset(each.supersession_id for each in longer if each.conditional)
            known = asked_for.setdefault(arrow.old, [])
            if not any(less <= conditions for less in known):
                known.append(conditions)
                found.append((arrow.old, longer))
                queue.append((arrow.old, longer))
    return found


def describe(arrow: Arrow) -> str:
    """An arrow's conditions in words: the source's own, else where it applies; "" where that is everywhere.

    >>> describe(Arrow("s1", "1407", "1407-A", applies=Applicability.of(limits=(Limit("frame", "4501"),)), with_part="1409"))
    'series frame, from 4501 on, together with 1409'
    """
    applies = arrow.applies
    words = [words for limit in applies.limits for words in (f"series {limit.series_id}" if limit.series_id else "", _stretch(limit))]
    words += [f"model {model}" for model in applies.models]
    words += [f"variant {condition.variant_id}" for condition in applies.conditions]
    said = [arrow.condition] if arrow.condition else [text for text in words if text]
    return ", ".join([*said, *([f"together with {arrow.with_part}"] if arrow.with_part else [])])


def _stretch(limit: Limit) -> str:
    first, last = limit.serial_from, limit.serial_to
    if first and last:
        return f"{first} to {last}"
    return f"from {first} on" if first else f"up to {last}" if last else ""


def _judged(arrow: Arrow, holds: Judge) -> bool | None:
    """Words alone are for a person to judge, and where there is no condition there is nothing to judge."""
    if not arrow.conditional:
        return True
    return None if arrow.only_in_words else holds(arrow)


def _together(verdicts: list[bool | None]) -> bool | None:
    """A group holds if all of it does."""
    return False if False in verdicts else None if None in verdicts else True


def _replaces(later: Way, way: Way) -> bool:
    if later is way or not all(new.later_than(old) for new in later.arrows for old in way.arrows):
        return False
    wherever = {(arrow.applies, arrow.condition) for arrow in way.arrows}
    return later.holds is True or {(arrow.applies, arrow.condition) for arrow in later.arrows} == wherever


def _reached(start: str, onward: Mapping[str, list[str]]) -> tuple[str, ...]:
    found = dict.fromkeys(onward.get(start, ()))
    queue = deque(found)
    while queue:
        for number in onward.get(queue.popleft(), ()):
            if number not in found:
                found[number] = None
                queue.append(number)
    found.pop(start, None)
    return tuple(found)


def _shortest_round(first: Arrow, inside: Mapping[str, list[Arrow]]) -> tuple[Arrow, ...]:
    """From the arrow's new number back to its old one; inside a part where all lead to all there is always a way."""
    came: dict[str, tuple[Arrow, ...]] = {first.new: (first,)}
    queue = deque([first.new])
    while first.old not in came:
        at = queue.popleft()
        for arrow in inside[at]:
            if arrow.new not in came:
                came[arrow.new] = (*came[at], arrow)
                queue.append(arrow.new)
    return came[first.old]
