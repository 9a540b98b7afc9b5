"""Evidence understood: every piece with what it means in one knowledge base."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from kb.probability.channel.reading import Reading
from kb.store.book import Row
from kb.words.edtf import Span
from kb.words.evidence import Evidence


@dataclass(frozen=True)
class ResolvedSerial:
    """A reading of a serial; series_id "" means any series that numbers whole units. component: which the series numbers, "" for units; again: what
    second looks showed, by the position of the character from 0."""

    text: str
    series_id: str
    reading: Reading
    wear: str | None
    component: str = ""
    again: Mapping[int, str] = field(default_factory=dict)

    @property
    def said(self) -> str:
        """The text with what second looks showed."""
        return _with_looks(self.text, self.again)

    @cached_property
    def now(self) -> Reading:
        """The pattern after second looks, for whoever takes it at its word."""
        return self.reading.seen_again(self.again)


@dataclass(frozen=True)
class ResolvedObservation:
    """Something seen on a component. spots: maker_id -> the component it means there; `reading` None with no feature: looked, no mark; again: as of a
    serial."""

    text: str
    spots: dict[str, tuple[str, str]]
    anywhere: bool = False  # a mark read somewhere on the unit
    reading: Reading | None = None
    wear: str | None = None
    feature: Row | None = None
    value: str | float = ""
    again: Mapping[int, str] = field(default_factory=dict)

    @property
    def said(self) -> str:
        """The text with what second looks showed."""
        return _with_looks(self.text, self.again)

    @cached_property
    def now(self) -> Reading | None:
        """The pattern after second looks, for whoever takes it at its word."""
        return self.reading.seen_again(self.again) if self.reading is not None else None


@dataclass(frozen=True)
class ResolvedDate:
    """A casting date. spots: maker_id -> the component it is cast into there; spans: maker_id -> what the code may mean there, () if nothing."""

    text: str
    code: str
    spots: dict[str, tuple[str, str]]
    spans: dict[str, tuple[Span, ...]]


@dataclass(frozen=True)
class ResolvedEvidence:
    """Evidence understood. makers: those still possible; models: empty if any."""

    evidence: Evidence
    makers: tuple[str, ...]
    models: frozenset[str]
    serials: tuple[ResolvedSerial, ...]
    spots: tuple[ResolvedObservation, ...]
    dates: tuple[ResolvedDate, ...] = ()


def _with_looks(text: str, again: Mapping[int, str]) -> str:
    looks = ", ".join(f"{position + 1}={seen}" for position, seen in sorted(again.items()))
    return f"{text} (second look: {looks})" if looks else text
