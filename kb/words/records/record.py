"""What all rows of the dataset have in common, and the kinds of columns they consist of.

A record is one row: frozen, without unknown fields, every type declared and never guessed. Cells arrive as text ("yes",
"0.25", "left;right") or as Python values. The record says what is wrong and how to mend it; it knows nothing of files and rows.

The kinds are pieces of pydantic-core schema, so that half a million rows are checked without a Python call per cell.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, ClassVar

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, GetCoreSchemaHandler, StringConstraints
from pydantic_core import PydanticCustomError, core_schema

from kb.words import edtf
from kb.words.errors import DataError
from kb.words.notation import normalise, simplify

LARGEST = 10**18 - 1  # serials and units; fits into SQLite's 64-bit integers with room to add


class Record(BaseModel):
    """One row of one file. `table` names the file, `key` tells its rows apart, and `private` columns stay out of a public build."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    table: ClassVar[str]
    key: ClassVar[tuple[str, ...]]
    private: ClassVar[frozenset[str]] = frozenset()
    private_table: ClassVar[bool] = False

    @property
    def key_text(self) -> str:
        """The key; several columns are joined with `/`."""
        return "/".join(str(getattr(self, name)) for name in self.key)


def refuse(kind: str, problem: str, remedy: str) -> PydanticCustomError:
    """The error a record raises: pydantic's, with the remedy in its context."""
    return PydanticCustomError("refused", "{problem}", {"kind": kind, "problem": problem, "remedy": remedy})


@dataclass(frozen=True)
class Says:
    """The words for whatever is wrong with a value."""

    problem: str
    remedy: str

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return self.wrap(handler(source))

    def wrap(self, schema: core_schema.CoreSchema) -> core_schema.CoreSchema:
        """The schema with these words for its errors."""
        context = {"problem": self.problem, "remedy": self.remedy}
        return core_schema.custom_error_schema(schema, "refused", custom_error_message="{problem}", custom_error_context=context)


@dataclass(frozen=True)
class Whole:
    """A whole number, as text or as int, between `least` and `most`. No thousands separators, no ".0", no underscores."""

    least: int | None = None
    most: int | None = None

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        limits: dict[str, Any] = {} if self.least is None else {"ge": self.least}
        limits |= {} if self.most is None else {"le": self.most}
        from_text = core_schema.chain_schema([core_schema.str_schema(pattern="^-?[0-9]{1,19}$"), core_schema.int_schema(**limits)])
        either = core_schema.union_schema([from_text, core_schema.int_schema(strict=True, **limits)], mode="left_to_right")
        return Says(*_bounds("a whole number", self.least, self.most, "without separators, as in 1200")).wrap(either)


@dataclass(frozen=True)
class Number:
    """A number with or without decimals, as text or as float; never infinite. `above`: it must be greater than that."""

    least: float | None = None
    most: float | None = None
    above: float | None = None

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        limits: dict[str, Any] = {"allow_inf_nan": False}
        limits |= {name: limit for name, limit in (("ge", self.least), ("le", self.most), ("gt", self.above)) if limit is not None}
        from_text = core_schema.chain_schema([core_schema.str_schema(pattern=r"^-?[0-9]{1,15}(\.[0-9]{1,15})?$"), core_schema.float_schema(**limits)])
        either = core_schema.union_schema([from_text, core_schema.float_schema(strict=True, **limits)], mode="left_to_right")
        if self.above is not None:
            words = (f"Not a number above {self.above:g}.", f"Write a number above {self.above:g}, with a decimal point, as in 1.5.")
        else:
            words = _bounds("a number", self.least, self.most, "with a decimal point, as in 0.25")
        return Says(*words).wrap(either)


def _bounds(what: str, least: float | None, most: float | None, how: str) -> tuple[str, str]:
    between = (
        f" from {least:g} to {most:g}"
        if least is not None and most is not None and most < LARGEST
        else f" of at least {least:g}"
        if least is not None
        else ""
    )
    return f"Not {what}{between}.", f"Write {what}{between}, {how}."


DAMAGED_NUMBER = re.compile(r"[0-9][.,][0-9]+E[+-][0-9]+|[0-9]+E\+[0-9]+", re.IGNORECASE)
DAMAGED_REMEDY = "A spreadsheet has turned a number into this. Set the column to Text and type the number again from the source."
DECIMAL = re.compile(r"[0-9]{2,}[.,]0+")  # 2141 typed into a column of numbers
_MONTH = "(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)"
DATE = re.compile(rf"[0-9]{{1,2}}[-. ]{{1,2}}{_MONTH}(?:[-. ][0-9]{{1,4}})?|{_MONTH}[-. ][0-9]{{1,4}}")  # as spreadsheets show 1-14
_SUSPECT = re.compile(r"[a-zE]|[.,]0")  # each of these contains one of them
_PLAIN = re.compile(r"[0-9A-Za-z]+(?:[ ./-][0-9A-Za-z]+)*")
_READING = re.compile(r"(?:[0-9A-Z?*]|\[[0-9A-Z]+\])+")
_DASH_IN_SET = re.compile(r"\[[^\]]*[-\u2010-\u2015\u2212]")
_READING_REMEDY = "Write what can be read: letters, digits, ? for one character, [38] for one of these, * for any number of missing ones."


_DROPPED = str.maketrans("", "", " ./-")


def normal_form(stamped: str) -> str:
    """`kb.words.notation.normalise` for a text that a record has accepted, with a shortcut for the usual ones."""
    return stamped.upper().translate(_DROPPED) if _PLAIN.fullmatch(stamped) else normalise(stamped)


def _undamaged(text: str) -> str:
    if DAMAGED_NUMBER.fullmatch(text.strip()):
        raise refuse("damaged", f'"{text}" is no longer the number that was typed.', DAMAGED_REMEDY)
    if DECIMAL.fullmatch(text.strip()):
        as_meant = text.strip().replace(",", ".").replace(".", "-")
        remedy = f"{DAMAGED_REMEDY} If it really ends so, write {as_meant}: dots and dashes do not count."
        raise refuse("damaged", f'"{text}" looks like a number that a spreadsheet has given decimals.', remedy)
    if DATE.fullmatch(text.strip()):
        remedy = "Set the column to Text and type it again from the source."
        remedy += f" If it really reads so, write {text.strip().upper()}: case does not count."
        raise refuse("damaged", f'"{text}" looks like a date that a spreadsheet has made of it.', remedy)
    if "\n" in text or "\r" in text:
        raise refuse("line_break", "There is a line break in it.", "Write it on one line.")
    return text


def _stamped(text: str) -> str:
    if not _PLAIN.fullmatch(text) or _SUSPECT.search(text):
        _refusing(normalise)(_undamaged(text))
    return text


def _affixed(text: str) -> str:
    _stamped(text.replace("#", "0"))
    return text


def _reading(text: str) -> str:
    _undamaged(text)
    if len(text) > 64:
        raise refuse("too_long", "Longer than 64 characters.", "Give one number at a time.")
    if _DASH_IN_SET.search(text):
        raise refuse("dash", f'"{text}" has a dash inside [ ].', "It could mean 3 or 8, or 3 to 8: write [38] or [345678].")
    if not _READING.fullmatch(simplify(text)):
        raise refuse("reading", f'"{text}" is not a reading.', _READING_REMEDY)
    return text


def _refusing(parse: Callable[[str], object]) -> Callable[[str], str]:
    """A check that returns the text itself if it parses, and otherwise raises the parser's words."""

    def check(text: str) -> str:
        try:
            parse(text)
        except DataError as error:
            raise refuse("refused", error.problem, error.remedy) from None
        return text

    return check


@lru_cache(maxsize=65536)
def _split(text: str) -> tuple[str, ...]:
    return tuple(part for piece in text.split(";") if (part := piece.strip()))


def _listed(value: Any) -> Any:
    parts = _split(value) if isinstance(value, str) else value
    if isinstance(parts, tuple | list) and len(set(parts)) < len(parts):
        twice = next(part for part in parts if parts.count(part) > 1)
        raise refuse("twice", f'"{twice}" is in the list twice.', "Name it once.")
    return parts


def not_before(end: str | None, start: str | None) -> str | None:
    """The date `end`; refused if it is over before `start` begins."""
    if end is not None and start is not None and edtf.parse(end).last < edtf.parse(start).first:
        raise refuse("reversed", f"It ends ({end}) before it begins ({start}).", "Swap the two dates, or correct the one that is wrong.")
    return end


SLUG_PATTERN = "^[a-z0-9]+(?:[-_][a-z0-9]+)*$"

Slug = Annotated[
    str,
    StringConstraints(pattern=SLUG_PATTERN, max_length=100),
    Says("Not an id.", 'Use lower-case letters a-z, digits and single dashes, as in "head-1".'),
]
Name = Annotated[str, StringConstraints(pattern=r"^[^\r\n]*[^\s][^\r\n]*$"), Says("Empty, or more than one line.", "Write it on one line.")]
Text = Annotated[str, StringConstraints(min_length=1), Says("Empty.", "Write a text, or leave the cell empty if the column may be empty.")]
Stamped = Annotated[str, AfterValidator(_stamped)]  # a serial, a mark, a part number: always text, its zeros are part of it
BlockAffix = Annotated[str, AfterValidator(_affixed)]  # as Stamped; # holds the place of a check character
ReadingText = Annotated[str, AfterValidator(_reading)]
DateText = Annotated[str, AfterValidator(_refusing(edtf.parse))]
Yes = Annotated[bool, Says("Neither yes nor no.", "Write yes or no.")]
Share = Annotated[float, Number(0, 1)]
Measure = Annotated[float, Number()]
Quantity = Annotated[float, Number(above=0)]
Serials = Annotated[int, Whole(0, LARGEST)]
Slugs = Annotated[tuple[Slug, ...], BeforeValidator(_listed)]
