"""Evidence understood: every piece with what it means in one knowledge base. How each kind is understood stands in the module named after it."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeVar

from kb.probability.channel.reading import Reading
from kb.probability.inference.assembly import Spot
from kb.store.book import Book
from kb.words.evidence import Evidence


@dataclass(frozen=True)
class Resolved:
    """A piece of evidence. text: as it was given."""

    text: str

    @property
    def said(self) -> str:
        """The text, with what else was said of it."""
        return self.text

    @property
    def limits_to(self) -> str:
        """A series to which it limits the unit, "" if to none."""
        return ""

    @property
    def by_time(self) -> Collection[str]:
        """The makers for whose units it matters when, within the time of a block, they were built."""
        return ()


@dataclass(frozen=True)
class ResolvedAtPlace(Resolved):
    """Something on a component. spots: maker_id -> the component place that it means there, for the makers that have one."""

    spots: Mapping[str, Spot]


@dataclass(frozen=True)
class ResolvedObservation(ResolvedAtPlace):
    """Something that tells which variant of a component it is on."""


@dataclass(frozen=True)
class ResolvedReading(Resolved):
    """Something read, character by character. again: what second looks showed, by the position of the character from 0."""

    reading: Reading
    wear: str | None
    again: Mapping[int, str] = field(default_factory=dict, kw_only=True)

    @property
    def said(self) -> str:
        """The text with what second looks showed."""
        looks = ", ".join(f"{position + 1}={seen}" for position, seen in sorted(self.again.items()))
        return f"{self.text} (second look: {looks})" if looks else self.text

    @cached_property
    def now(self) -> Reading:
        """The pattern after second looks, for whoever takes it at its word."""
        return self.reading.seen_again(self.again)


P = TypeVar("P", bound=Resolved)


@dataclass(frozen=True)
class ResolvedEvidence:
    """Evidence understood.

    Attributes:
        makers: those still possible.
        models, series: those to which the unit is limited, empty if to none; series of whole units only.
        pieces: by kind, in the order of `kb.words.evidence.KINDS`.
    """

    evidence: Evidence
    makers: tuple[str, ...]
    models: frozenset[str]
    series: frozenset[str]
    pieces: Mapping[str, tuple[Resolved, ...]]

    def of(self, meant: type[P]) -> list[P]:
        """The pieces that are of this class, of whatever kind."""
        return [piece for pieces in self.pieces.values() for piece in pieces if isinstance(piece, meant)]


@dataclass(frozen=True)
class Scope:
    """In what a piece is looked up. makers: those possible; wear: of readings that do not say their own."""

    book: Book
    makers: tuple[str, ...]
    wear: str | None


Resolver = Callable[[Scope, Any], Resolved]
RESOLVERS: dict[str, Resolver] = {}


def resolves(kind: str) -> Callable[[Resolver], Resolver]:
    """Marks the function that understands the pieces of one kind."""

    def register(resolver: Resolver) -> Resolver:
        RESOLVERS[kind] = resolver
        return resolver

    return register
