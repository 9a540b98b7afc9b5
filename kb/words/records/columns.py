"""What each column of each file holds, read off the records: the one source for schema, Table Schema and column tables."""

from dataclasses import dataclass
from functools import cache
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import StringConstraints
from pydantic.fields import FieldInfo

from kb.words.records import TABLES
from kb.words.records.record import BlockAffix, DateText, Number, ReadingText, Record, Slug, Stamped, Whole

Kind = Literal["id", "ids", "text", "stamped", "reading", "date", "whole", "number", "yes/no", "choice"]

# A column of that name holds keys of that table, unless it is the key of its own.
_POINTS_AT = {
    "source_id": "sources",
    "copied_from": "sources",
    "maker_id": "makers",
    "model_id": "models",
    "series_id": "series",
    "block_id": "blocks",
    "rival_of": "blocks",
    "component_id": "components",
    "variant_id": "variants",
    "variant_ids": "variants",
    "old_variant_id": "variants",
    "new_variant_id": "variants",
    "same_function_as": "variants",
    "feature_id": "features",
    "part_number": "parts",
    "kit_number": "parts",
    "old_part": "parts",
    "new_part": "parts",
    "with_part": "parts",
    "fitment_id": "fitments",
    "procedure_id": "procedures",
    "step_id": "steps",
}


@dataclass(frozen=True)
class Column:
    """One column of one file."""

    name: str
    kind: Kind
    required: bool
    default: Any
    choices: tuple[str, ...]
    least: float | None
    most: float | None
    above: float | None
    pattern: str | None
    description: str
    points_at: str | None
    private: bool

    @property
    def says_how(self) -> str:
        """How to fill it in, in a few words."""
        match self.kind:
            case "choice":
                return " / ".join(self.choices)
            case "id":
                return "id"
            case "ids":
                return "ids separated by ;"
            case "stamped":
                return "number as stamped or printed"
            case "reading":
                return "reading"
            case "date":
                return "date"
            case "whole":
                return "whole number"
            case _:
                return self.kind


@cache
def columns(table: str) -> tuple[Column, ...]:
    """The columns of a file, in file order."""
    record = TABLES[table]
    return tuple(_column(record, name, field) for name, field in record.model_fields.items())


def _column(record: type[Record], name: str, field: FieldInfo) -> Column:
    bare, marks = _unwrap(record.__annotations__[name])
    limits = next((m for m in marks if isinstance(m, Whole | Number)), None)
    constraint = next((m for m in marks if isinstance(m, StringConstraints)), None)
    points_at = None if record.key == (name,) else _POINTS_AT.get(name)
    return Column(
        name=name,
        kind=_kind(record.__annotations__[name], bare),
        required=field.is_required(),
        default=None if field.is_required() else field.default,
        choices=tuple(get_args(bare)) if get_origin(bare) is Literal else (),
        least=limits.least if limits else None,
        most=limits.most if limits else None,
        above=limits.above if isinstance(limits, Number) else None,
        pattern=constraint.pattern if constraint and isinstance(constraint.pattern, str) else None,
        description=field.description or "",
        points_at=points_at,
        private=record.private_table or name in record.private,
    )


def _unwrap(annotation: Any) -> tuple[Any, tuple[Any, ...]]:
    """The type without None and Annotated, and what Annotated said about it."""
    marks: tuple[Any, ...] = ()
    while True:
        if get_origin(annotation) is Annotated:
            marks += annotation.__metadata__
            annotation = annotation.__origin__
        elif get_origin(annotation) in (Union, UnionType):
            annotation = next(each for each in get_args(annotation) if each is not type(None))
        else:
            return annotation, marks


_TEXT_KINDS: tuple[tuple[Any, Kind], ...] = (
    (Slug, "id"),
    (Stamped, "stamped"),
    (BlockAffix, "stamped"),
    (ReadingText, "reading"),
    (DateText, "date"),
)


def _kind(annotation: Any, bare: Any) -> Kind:
    if get_origin(bare) is Literal:
        return "choice"
    if bare in (int, float, bool):
        return "whole" if bare is int else "number" if bare is float else "yes/no"
    if get_origin(bare) is tuple:
        return "ids"
    either = get_args(annotation) if get_origin(annotation) in (Union, UnionType) else (annotation,)
    return next((kind for known, kind in _TEXT_KINDS if known in either), "text")
