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
"""

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, ValidationError, field_validator, model_serializer

from kb.words.errors import DataError
from kb.words.notation import ALPHABET, simplify

Wear = Literal["clean", "worn", "badly-worn"]
WEAR_LEVELS: tuple[str, ...] = ("clean", "worn", "badly-worn")
MOST_PIECES = 200  # of each kind; nobody examines more, and it bounds the work of an answer
LONGEST = 64  # characters of a reading
# What the pieces are called in an address, and where they are in `Evidence`.
LISTS = {"serial": "serial", "mark": "marks", "saw": "features", "cast_date": "cast_dates", "again": "again"}
SINGLES = ("maker", "model", "wear")


class _Piece(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class SerialReading(_Piece):
    """What can be made out of a stamped serial; series "" is any series that numbers whole units."""

    reading: str
    series: str = ""
    wear: Wear | None = None

    def __str__(self) -> str:
        return f"{self.series}={self.reading}" if self.series else self.reading


class MarkReading(_Piece):
    """What can be made out of a casting mark; component "" is: somewhere on the unit. "none": looked, no mark there."""

    reading: str
    component: str = ""
    place: str = ""
    wear: Wear | None = None

    def __str__(self) -> str:
        return f"{_spot(self)}={self.reading}" if self.component else self.reading


class Seen(_Piece):
    """A feature looked at or measured."""

    component: str
    feature: str
    value: str
    place: str = ""

    def __str__(self) -> str:
        return f"{_spot(self)}.{self.feature}={self.value}"


class CastDate(_Piece):
    """A casting date as it is cast into a component."""

    component: str
    code: str
    place: str = ""

    def __str__(self) -> str:
        return f"{_spot(self)}={self.code}"


class SecondLook(_Piece):
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

    @field_validator("serial", mode="before")
    @classmethod
    def _serials(cls, value: Any) -> Any:
        return _pieces(value, parse_serial)

    @field_validator("marks", mode="before")
    @classmethod
    def _marks(cls, value: Any) -> Any:
        return _pieces(value, parse_mark)

    @field_validator("features", mode="before")
    @classmethod
    def _features(cls, value: Any) -> Any:
        return _pieces(value, parse_seen)

    @field_validator("cast_dates", mode="before")
    @classmethod
    def _dates(cls, value: Any) -> Any:
        return _pieces(value, parse_cast_date)

    @field_validator("again", mode="before")
    @classmethod
    def _looks(cls, value: Any) -> Any:
        return _pieces(value, parse_second_look, ":")

    @model_serializer
    def _as_notation(self) -> dict[str, Any]:
        plain = {name: value for name in ("maker", "model", "wear") if (value := getattr(self, name)) is not None}
        for name in LISTS.values():
            pieces = getattr(self, name)
            if pieces:
                plain[name] = [_dump(piece) for piece in pieces]
        return plain

    @property
    def fields(self) -> list[tuple[str, str]]:
        """As the fields of a web address, name and value.

        >>> Evidence(serial="C1542", marks=["crankcase=H41?0B"]).fields
        [('serial', 'C1542'), ('mark', 'crankcase=H41?0B')]
        """
        single = [(name, str(value)) for name in SINGLES if (value := getattr(self, name)) is not None]
        return single + [(name, str(piece)) for name, pieces in LISTS.items() for piece in getattr(self, pieces)]

    @property
    def empty(self) -> bool:
        """Nothing is said about the unit at all."""
        return not (self.maker or self.model or self.serial or self.marks or self.features or self.cast_dates)

    def adding(self, **more: Any) -> "Evidence":
        """The same evidence with more pieces; lists are extended, single values replaced."""
        extra = Evidence(**more)
        joined = {name: getattr(self, name) + getattr(extra, name) for name in LISTS.values()}
        single = {name: getattr(extra, name) or getattr(self, name) for name in ("maker", "model", "wear")}
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
    return SerialReading(series=before.strip(), reading=_reading(reading, text))


def parse_mark(text: str) -> MarkReading:
    """`[COMPONENT[@PLACE]=]READING`.

    Raises:
        DataError: the component or the reading is missing, or the text is too long.
    """
    before, equals, reading = text.rpartition("=")
    component, place = _component(before, text, "crankcase=H41?0B") if equals else ("", "")
    return MarkReading(component=component, place=place, reading=_reading(reading, text))


def parse_seen(text: str) -> Seen:
    """`COMPONENT[@PLACE].FEATURE=VALUE`.

    Raises:
        DataError: a part of it is missing.
    """
    before, _, value = text.partition("=")
    spot, dot, feature = before.rpartition(".")
    if not (dot and feature.strip() and value.strip()):
        raise DataError(f'"{text}" does not say what was seen.', 'Write COMPONENT.FEATURE=VALUE, as in "crankcase.drain-lug=yes".')
    component, place = _component(spot, text, "crankcase.drain-lug=yes")
    return Seen(component=component, place=place, feature=feature.strip(), value=_short(value.strip(), text))


def parse_cast_date(text: str) -> CastDate:
    """`COMPONENT[@PLACE]=CODE`.

    Raises:
        DataError: a part of it is missing.
    """
    before, _, code = text.rpartition("=")
    component, place = _component(before, text, "crankcase=C 14 8")
    return CastDate(component=component, place=place, code=_reading(code, text))


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


def _spot(piece: Any) -> str:
    return f"{piece.component}@{piece.place}" if piece.place else str(piece.component)


def _component(spot: str, whole: str, example: str) -> tuple[str, str]:
    component, at, place = spot.partition("@")
    if not component.strip() or (at and not place.strip()):
        raise DataError(f'"{whole}" does not name the component.', f'Write it as in "{example}", or "cover@left=..." for one of several places.')
    return component.strip(), place.strip()


def _reading(reading: str, whole: str) -> str:
    if not reading.strip():
        raise DataError(f'"{whole}" has no reading.', "Write what can be read: ? is one character, [38] one of these, * any number of missing ones.")
    return _short(reading.strip(), whole)


def _short(text: str, whole: str) -> str:
    if len(text) > LONGEST:
        raise DataError(f'"{whole[:20]}..." is longer than {LONGEST} characters.', "Give one number at a time.")
    return text


def _pieces(value: Any, parse: Any, mark: str = "=") -> Any:
    """One text, a list of texts or pieces, or a mapping from what stands before the `=` (or other mark) to what stands after it."""
    if value is None or value == "":
        return ()
    if isinstance(value, str):
        value = [value]
    elif isinstance(value, dict) and not {"reading", "what"} & value.keys():
        pairs = [(key, one) for key, many in value.items() for one in (many if isinstance(many, (list, tuple)) else [many])]
        value = [f"{key}{mark}{_said(key, one)}" for key, one in pairs if one is not None]
    elif isinstance(value, dict):
        value = [value]
    if not isinstance(value, (list, tuple)):
        raise DataError("Expected text, a list of texts or a mapping.", 'Write for example {"crankcase": "H41?0B"}.')
    if len(value) > MOST_PIECES:
        raise DataError(f"{len(value)} pieces of one kind of evidence.", f"Give at most {MOST_PIECES}.")
    return tuple(parse(one) if isinstance(one, str) else one for one in value if one is not None)


def _said(key: Any, value: Any) -> str:
    """A value of a mapping as text; numbers are measures or serials written without quotes."""
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise DataError(
            f'The value of "{key}" is neither text nor a number.', 'Write text, as in {"crankcase.drain-lug": "yes"}; leave out what is not known.'
        )
    return str(value)


def _dump(piece: Any) -> Any:
    """The notation, or all fields where it cannot say the wear."""
    return {k: v for k, v in piece.__dict__.items() if v} if getattr(piece, "wear", None) else str(piece)
