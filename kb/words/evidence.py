"""Evidence: what somebody can say about a unit in front of them, in the one notation used everywhere.

    serial      [SERIES=]READING                         2?5[38]61     engine-no=E41?
    mark        [COMPONENT[@PLACE]=]READING or =none     crankcase=H41?0B     cover@left=none
    saw         COMPONENT[@PLACE].FEATURE=VALUE          crankcase.drain-lug=yes     shaft.width=34.9mm
    cast date   COMPONENT[@PLACE]=CODE                   crankcase=C 14 8
    again       WHAT:N=CHARACTER                         serial:2=8     crankcase:4=0     cover@left:4=8

`again` is a second look at one character of a reading. WHAT is the reading looked at: `serial`, the series of a number that is not the
unit's own, the component and place of a mark, `mark` for one that is somewhere on the unit, or the reading as it was given where there are several.

The command line, `--unit` files, web addresses and batch columns all carry these texts; `Evidence` parses them and
formats them back. Whether a component, series or feature exists is not known here: the knowledge base says so.

`KINDS` has one row for each kind of evidence: what weighs by itself. The options of the command line, the form and the parameters of the web
page, the columns of an inquiry list and docs/evidence.md are made from it. A second look weighs nothing by itself, it refines a reading: it is
written like a kind (`AGAIN`) and is none. Maker and model say which units are meant at all, and wear how the readings are to be taken: `CONTEXT`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, ValidationError, ValidationInfo, field_validator, model_serializer

from kb.words.errors import DataError
from kb.words.notation import ALPHABET, simplify
from kb.words.pieces import Piece, as_plain, component_of, pieces_of, reading_of, short, spot_text

Wear = Literal["clean", "worn", "badly-worn"]
WEAR_LEVELS: tuple[str, ...] = ("clean", "worn", "badly-worn")


class SerialReading(Piece):
    """What can be made out of a stamped serial; series "" is any series that numbers whole units."""

    reading: str
    series: str = ""
    wear: Wear | None = None

    def __str__(self) -> str:
        return f"{self.series}={self.reading}" if self.series else self.reading


class MarkReading(Piece):
    """What can be made out of a casting mark; component "" is: somewhere on the unit. "none": looked, no mark there."""

    reading: str
    component: str = ""
    place: str = ""
    wear: Wear | None = None

    def __str__(self) -> str:
        return f"{spot_text(self)}={self.reading}" if self.component else self.reading


class Seen(Piece):
    """A feature looked at or measured."""

    component: str
    feature: str
    value: str
    place: str = ""

    def __str__(self) -> str:
        return f"{spot_text(self)}.{self.feature}={self.value}"


class CastDate(Piece):
    """A casting date as it is cast into a component."""

    component: str
    code: str
    place: str = ""

    def __str__(self) -> str:
        return f"{spot_text(self)}={self.code}"


class SecondLook(Piece):
    """What a second look at one character of a reading showed. what: the reading; at: the place of the character in it, from 1."""

    what: str
    at: int
    seen: str

    def __str__(self) -> str:
        return f"{self.what}:{self.at}={self.seen}"


class Evidence(BaseModel):
    """Everything known about one unit. Accepts the notation above as text, lists of text, or mappings.

    >>> unit = Evidence(serial="2?5[38]61", marks={"crankcase": "H41?0B"}, features={"crankcase.drain-lug": "yes"})
    >>> [str(mark) for mark in unit.marks], unit.features[0].feature
    (['crankcase=H41?0B'], 'drain-lug')
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    maker: str | None = None
    model: str | None = None
    serial: tuple[SerialReading, ...] = ()
    marks: tuple[MarkReading, ...] = ()
    features: tuple[Seen, ...] = ()
    cast_dates: tuple[CastDate, ...] = ()
    again: tuple[SecondLook, ...] = ()
    wear: Wear | None = None  # of every reading that does not say its own

    @field_validator("maker", "model", mode="before")
    @classmethod
    def _empty_is_none(cls, value: Any) -> Any:
        return (value.strip() or None) if isinstance(value, str) else value

    @field_validator("serial", "marks", "features", "cast_dates", "again", mode="before")
    @classmethod
    def _written(cls, value: Any, info: ValidationInfo) -> Any:
        kind = next(kind for kind in WRITTEN if kind.field == info.field_name)
        return pieces_of(value, kind.parse, kind.between)

    @model_serializer
    def _as_notation(self) -> dict[str, Any]:
        plain = {each.name: value for each in CONTEXT if (value := getattr(self, each.name)) is not None}
        for kind in WRITTEN:
            if pieces := self.pieces(kind):
                plain[kind.field] = [as_plain(piece) for piece in pieces]
        return plain

    def pieces(self, kind: "EvidenceKind") -> tuple[Any, ...]:
        """The pieces of one kind."""
        found: tuple[Any, ...] = getattr(self, kind.field)
        return found

    @property
    def fields(self) -> list[tuple[str, str]]:
        """As the fields of a web address, name and value.

        >>> Evidence(serial="C1542", marks=["crankcase=H41?0B"]).fields
        [('serial', 'C1542'), ('mark', 'crankcase=H41?0B')]
        """
        single = [(each.name, str(value)) for each in CONTEXT if (value := getattr(self, each.name)) is not None]
        return single + [(kind.name, str(piece)) for kind in WRITTEN for piece in self.pieces(kind)]

    @property
    def empty(self) -> bool:
        """Nothing is said about the unit at all."""
        return not (self.maker or self.model or any(self.pieces(kind) for kind in KINDS))

    def adding(self, **more: Any) -> "Evidence":
        """The same evidence with more pieces; lists are extended, single values replaced."""
        extra = Evidence(**more)
        joined = {kind.field: self.pieces(kind) + extra.pieces(kind) for kind in WRITTEN}
        single = {each.name: getattr(extra, each.name) or getattr(self, each.name) for each in CONTEXT}
        return Evidence(**joined, **single)

    @classmethod
    def read(cls, plain: Any) -> "Evidence":
        """Evidence from its JSON form.

        Raises:
            DataError: not an object, an unknown name, or a piece that cannot be read.
        """
        if isinstance(plain, Evidence):
            return plain
        if not isinstance(plain, dict):
            raise DataError("Evidence is not a JSON object.", 'Write {"serial": "2?5[38]61", "marks": {"crankcase": "H41?0B"}}.')
        try:
            return cls(**plain)
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(str(step) for step in first["loc"])
            known = ", ".join(cls.model_fields)
            remedy = f"Evidence has {known}." if first["type"] == "extra_forbidden" else "Write it as the help of --unit shows."
            raise DataError(f"Evidence, {where}: {first['msg']}.", remedy) from error


def parse_serial(text: str) -> SerialReading:
    """`[SERIES=]READING`.

    Raises:
        DataError: nothing stands after the `=`, or the text is too long.
    """
    before, _, reading = text.rpartition("=")
    return SerialReading(series=before.strip(), reading=reading_of(reading, text))


def parse_mark(text: str) -> MarkReading:
    """`[COMPONENT[@PLACE]=]READING`.

    Raises:
        DataError: the component or the reading is missing, or the text is too long.
    """
    before, equals, reading = text.rpartition("=")
    component, place = component_of(before, text, "crankcase=H41?0B") if equals else ("", "")
    return MarkReading(component=component, place=place, reading=reading_of(reading, text))


def parse_seen(text: str) -> Seen:
    """`COMPONENT[@PLACE].FEATURE=VALUE`.

    Raises:
        DataError: a part of it is missing.
    """
    before, _, value = text.partition("=")
    spot, dot, feature = before.rpartition(".")
    if not (dot and feature.strip() and value.strip()):
        raise DataError(f'"{text}" does not say what was seen.', 'Write COMPONENT.FEATURE=VALUE, as in "crankcase.drain-lug=yes".')
    component, place = component_of(spot, text, "crankcase.drain-lug=yes")
    return Seen(component=component, place=place, feature=feature.strip(), value=short(value.strip(), text))


def parse_cast_date(text: str) -> CastDate:
    """`COMPONENT[@PLACE]=CODE`.

    Raises:
        DataError: a part of it is missing.
    """
    before, _, code = text.rpartition("=")
    component, place = component_of(before, text, "crankcase=C 14 8")
    return CastDate(component=component, place=place, code=reading_of(code, text))


def parse_second_look(text: str) -> SecondLook:
    """`WHAT:N=CHARACTER`.

    Raises:
        DataError: it does not say which reading, which character or what was seen.

    >>> parse_second_look("cover@left:4=b")
    SecondLook(what='cover@left', at=4, seen='B')
    """
    before, _, seen = text.rpartition("=")
    what, _, place = before.rpartition(":")
    seen, place = simplify(seen), place.strip()
    if not what.strip() or not (place.isascii() and place.isdecimal() and len(place) <= 3) or len(seen) != 1 or seen not in ALPHABET:
        remedy = 'Write the reading, the place of the character in it and what is seen there, as in "serial:3=8" or "crankcase:3=8".'
        raise DataError(f'"{text[:80]}" does not say what a second look showed.', remedy)
    return SecondLook(what=what.strip(), at=int(place), seen=seen)


@dataclass(frozen=True)
class EvidenceKind:
    """How one kind of evidence is written and called, wherever somebody gives it.

    Attributes:
        name: in an address, as an option (with dashes) and as the heading of a column; the modules that resolve and weigh it are called so.
        field: of `Evidence`.
        label: what people call one piece of it.
        about: what it is said of: a series of numbers, a component place, a feature at a place, or another reading.
        between: what stands between that and the rest.
        heading, hint, plural: above and below its rows in the form; in a hint `backquotes` are around what is typed.
        first: it stands in the open part of the form.
        also: further names of its column.
        cost: of weighing one piece, a mark being 1 (measured; `python -m benchmarks identify`). It bounds what a visitor may ask at once.
    """

    name: str
    field: str
    label: str
    notation: str
    help: str
    example: str
    parse: Callable[[str], Any]
    about: Literal["series", "place", "feature", "reading"]
    heading: str
    plural: str
    hint: str = ""
    between: str = "="
    also: tuple[str, ...] = ()
    first: bool = False
    cost: float = 1.0

    @property
    def option(self) -> str:
        """On the command line."""
        return f"--{self.name.replace('_', '-')}"

    @property
    def columns(self) -> tuple[str, ...]:
        """What its column in a list may be called."""
        return tuple(dict.fromkeys((self.name, self.field, *self.also)))


@dataclass(frozen=True)
class Context:
    """Said once of a unit: which units are meant, or how everything read on it is to be taken."""

    name: str
    help: str
    choices: tuple[str, ...] = ()


KINDS = (
    EvidenceKind(
        "serial", "serial", "serial", "[SERIES=]READING", "What can be read: ? one character, [38] one of these, * any number.", "?1?42",
        parse_serial, "series", "Serial number", "serials", also=("serials",), first=True,
        hint="As it can be read: `?` is one character that cannot be read, `[38]` is a 3 or an 8, `*` is any number of missing ones. "
        "Example: `?1?42`",
    ),
    EvidenceKind(
        "mark", "marks", "mark", "[COMPONENT[@PLACE]=]READING", "A casting mark; =none if you looked and there is none.", "gear-case=18-E25",
        parse_mark, "place", "Casting numbers and other marks", "marks", first=True,
        hint="Cast or stamped on a component. Write `none` if you looked and there is no mark. Example: `18-E25`",
    ),
    EvidenceKind(
        "saw", "features", "seen", "COMPONENT[@PLACE].FEATURE=VALUE", "Something looked at, or measured: =34.9mm.", "pump-body.relief-boss=round",
        parse_seen, "feature", "Seen", "of what was seen",
    ),
    EvidenceKind(
        "cast_date", "cast_dates", "cast date", "COMPONENT[@PLACE]=CODE", "A casting date as it is cast.", "crankcase=C 14 8",
        parse_cast_date, "place", "Casting dates", "dates", cost=5.0,
    ),
)  # fmt: skip
AGAIN = EvidenceKind(
    "again", "again", "second look", "WHAT:N=CHARACTER", "A second look at the Nth character: serial:3=8, crankcase:3=8.", "serial:3=8",
    parse_second_look, "reading", "Second looks", "second looks", between=":",
    hint="What one character of a number proved to be, once cleaned: `serial:3=8` is an 8 at the third place of the serial, "
    "`cover@left:3=8` of the mark on that component.",
)  # fmt: skip
WRITTEN = (*KINDS, AGAIN)  # everything that is given as a list of pieces
WHICH_UNITS = (Context("maker", "Only units of this maker (id or name)."), Context("model", "Only this model (id or name)."))
WEAR = Context("wear", "How worn the readings are. Typed without ?[]*: clean, else worn.", WEAR_LEVELS)
CONTEXT = (*WHICH_UNITS, WEAR)


def kind_called(name: str) -> EvidenceKind:
    """The row of this name."""
    return next(kind for kind in WRITTEN if kind.name == name)
