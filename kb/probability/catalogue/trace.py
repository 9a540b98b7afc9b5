"""From the part number asked for to the numbers that can be bought today (`kb trace`).

A number that can be bought is current, and newer ones are named; otherwise the arrows of `kb.probability.catalogue.supersession` are
followed until something can be bought. Where nobody recorded whether a number can be bought, it counts as buyable when
nothing beyond it is, with a remark. Alternatives are kept apart: each `Replacement` is a set of numbers that belong together.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import islice, product

from kb.probability.catalogue.supersession import Arrow, Judge, Network, describe, leads_back, undecided

_MOST_OFFERS = 50  # alternatives kept for one number; no list has more, and circles with groups could make thousands
_MOST_VISITS = 5000
_DEEPEST = 200  # supersessions in a row


@dataclass(frozen=True)
class TraceLink:
    """One supersession on the way from the number asked for."""

    supersession_id: str
    old: str
    new: str
    quantity: float
    direction: str  # "one-way" or "both-ways"
    condition: str
    source_id: str
    with_part: str | None = None


@dataclass(frozen=True)
class Replacement:
    """Numbers that together do for one of the number asked for; conditions: in words, those nobody has decided."""

    parts: tuple[tuple[str, float], ...]
    conditions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Trace:
    """What a number has become. steps: the whole chain onward; current: (number, quantity) of every offer; notes: sentences."""

    asked: str
    steps: tuple[TraceLink, ...]
    current: tuple[tuple[str, float], ...]
    dead_end: bool
    notes: tuple[str, ...]
    offers: tuple[Replacement, ...]


def trace(arrows: Iterable[Arrow] | Network, asked: str, availability: Mapping[str, str], holds: Judge = undecided) -> Trace:
    """Follow a part number to what can be bought today.

    Args:
        asked: the number as the dataset writes it.
        availability: number -> "yes", "no" or "unknown"; a number left out is unknown.
        holds: judges an arrow's limits for the unit at hand; None is undecided: offered, with its condition stated.

    Circles end where they began: a number on the way is never entered again.
    """
    walk = _Walk(Network.of(arrows), availability, holds)
    offers = tuple(walk.offers(asked, ())[0])
    steps = tuple(walk.steps(asked))
    current = tuple(dict.fromkeys(part for offer in offers for part in offer.parts))
    return Trace(asked, steps, current, not current, tuple(_notes(asked, steps, offers, walk)), offers)


@dataclass
class _Walk:
    network: Network
    availability: Mapping[str, str]
    holds: Judge
    known: dict[str, list[Replacement]] = field(default_factory=dict)
    visits: int = 0
    cut_short: bool = False

    def state(self, number: str) -> str:
        return self.availability.get(number) or "unknown"

    def offers(self, number: str, path: tuple[str, ...]) -> tuple[list[Replacement], bool]:
        """What does for one of a number, and whether a circle back onto the path was left out (then it holds for this path only)."""
        if self.state(number) == "yes":
            return [Replacement(((number, 1.0),))], False
        if number in self.known:
            return self.known[number], False
        self.visits += 1
        if self.visits > _MOST_VISITS or len(path) > _DEEPEST:
            self.cut_short = True
            return [], True
        found: dict[Replacement, None] = {}
        circled = False
        for way in self.network.ways(number, self.holds):
            members = []
            for arrow in way.arrows:
                if arrow.new == number or arrow.new in path:
                    circled, beyond = True, list[Replacement]()
                else:
                    beyond, onto_path = self.offers(arrow.new, (*path, number))
                    circled |= onto_path
                members.append([_through(arrow, offer, way.holds) for offer in beyond])
            found.update(dict.fromkeys(map(_joined, islice(product(*members), _MOST_OFFERS))))
        result = list(found)[:_MOST_OFFERS]
        self.cut_short |= len(found) > _MOST_OFFERS
        if not result and self.state(number) == "unknown":
            result = [Replacement(((number, 1.0),))]
        if not circled:
            self.known[number] = result
        return result, circled

    def steps(self, asked: str) -> Iterable[TraceLink]:
        """Every supersession onward, nearest first. Interchangeable numbers count only while the number they stand for cannot be bought."""
        seen, queue = {asked}, [asked]
        for number in queue:
            for way in self.network.ways(number, self.holds, partners=self.state(number) != "yes"):
                for arrow in way.arrows:
                    if not (arrow.both_ways and arrow.new in seen):  # the way back of an interchange is no step
                        yield _step(arrow)
                    if arrow.new not in seen:
                        seen.add(arrow.new)
                        queue.append(arrow.new)

    def newer(self, number: str) -> list[str]:
        """What replaces a number directly; not what has in turn been replaced by it."""
        onward = dict.fromkeys(arrow.new for way in self.network.ways(number, self.holds, partners=False) for arrow in way.arrows)
        return [other for other in onward if not leads_back(self.network, number, other)]


def _step(arrow: Arrow) -> TraceLink:
    direction = "both-ways" if arrow.both_ways else "one-way"
    return TraceLink(arrow.supersession_id, arrow.old, arrow.new, arrow.quantity, direction, describe(arrow), arrow.source_id, arrow.with_part)


def _through(arrow: Arrow, offer: Replacement, holds: bool | None) -> Replacement:
    """An offer for the new number as one for the old."""
    condition = (describe(arrow),) if holds is None and arrow.conditional else ()
    return Replacement(tuple((number, quantity * arrow.quantity) for number, quantity in offer.parts), condition + offer.conditions)


def _joined(members: tuple[Replacement, ...]) -> Replacement:
    """Offers of a group's members as one: all of them are needed."""
    parts: dict[str, float] = {}
    for member in members:
        for number, quantity in member.parts:
            parts[number] = parts.get(number, 0.0) + quantity
    return Replacement(tuple(parts.items()), tuple(dict.fromkeys(c for member in members for c in member.conditions)))


def _notes(asked: str, steps: tuple[TraceLink, ...], offers: tuple[Replacement, ...], walk: _Walk) -> Iterable[str]:
    if not offers:
        yield f"Nothing that replaces {asked} can be bought today." if steps else f"{asked} cannot be bought and nothing replaces it."
    conditions: dict[str, list[str]] = {}
    for offer in offers:
        conditions.setdefault(_listed(offer), []).append("; ".join(offer.conditions))
    free = [listed for listed, when in conditions.items() if "" in when]
    if len(free) > 1:
        yield f"Any one of these does: {'; or '.join(free)}."
    for listed, when in conditions.items():
        if listed not in free:
            yield f"{listed} only if {'this' if len(when) == 1 else 'one of these'} holds: {'; or '.join(when)}."
    for listed in dict.fromkeys(_listed(offer) for offer in offers if len(offer.parts) > 1):
        yield f"Needed together: {listed}."
    for number in dict.fromkeys(number for offer in offers for number, _ in offer.parts):
        if walk.state(number) == "unknown":
            yield f"Whether {number} can be bought is not recorded: ask before promising it."
        elif newer := walk.newer(number):
            yield f"{number} can still be bought; newer: {', '.join(newer)}."
    yield from dict.fromkeys(f"{step.new} needs {step.with_part} with it." for step in steps if step.with_part)
    if walk.cut_short:
        yield "There are more ways on than are shown here."


def _listed(offer: Replacement) -> str:
    return " + ".join(number if quantity == 1 else f"{quantity:g} x {number}" for number, quantity in offer.parts)
