"""What every piece of evidence has in common: how it is read from text, a list or a mapping, and written again.

The kinds themselves stand in `kb.words.evidence`.
"""

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel, ConfigDict

from kb.words.errors import DataError

MOST_PIECES = 200  # of each kind; nobody examines more, and it bounds the work of an answer
LONGEST = 64  # characters of a reading


class Piece(BaseModel):
    """One thing said about a unit; its text is the notation it is read from."""

    model_config = ConfigDict(frozen=True, extra="forbid")


def spot_text(piece: Any) -> str:
    """A component place as it is written: COMPONENT or COMPONENT@PLACE."""
    return f"{piece.component}@{piece.place}" if piece.place else str(piece.component)


def component_of(spot: str, whole: str, example: str) -> tuple[str, str]:
    """Component and place from COMPONENT[@PLACE]; the whole piece and an example are for the message.

    Raises:
        DataError: one is missing.
    """
    component, at, place = spot.partition("@")
    if not component.strip() or (at and not place.strip()):
        raise DataError(f'"{whole}" does not name the component.', f'Write it as in "{example}", or "cover@left=..." for one of several places.')
    return component.strip(), place.strip()


def reading_of(reading: str, whole: str) -> str:
    """What stands after the `=`.

    Raises:
        DataError: nothing does, or it is too long.
    """
    if not reading.strip():
        raise DataError(f'"{whole}" has no reading.', "Write what can be read: ? is one character, [38] one of these, * any number of missing ones.")
    return short(reading.strip(), whole)


def short(text: str, whole: str) -> str:
    """The text, if no longer than a reading may be.

    Raises:
        DataError: it is longer.
    """
    if len(text) > LONGEST:
        raise DataError(f'"{whole[:20]}..." is longer than {LONGEST} characters.', "Give one number at a time.")
    return text


def pieces_of(value: Any, parse: Callable[[str], Any], between: str) -> Any:
    """One text, a list of texts or pieces, or a mapping from what stands before the `=` (or what else is `between`) to what stands after it."""
    if value is None or value == "":
        return ()
    if isinstance(value, str):
        value = [value]
    elif isinstance(value, dict) and not {"reading", "what"} & value.keys():
        pairs = [(key, one) for key, many in value.items() for one in (many if isinstance(many, (list, tuple)) else [many])]
        value = [f"{key}{between}{_said(key, one)}" for key, one in pairs if one is not None]
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


def as_plain(piece: Any) -> Any:
    """The notation, or all fields where it cannot say the wear."""
    return {k: v for k, v in piece.__dict__.items() if v} if getattr(piece, "wear", None) else str(piece)
