"""Readings: what can still be made out of a stamping or a casting mark.

The notation is POSIX pattern notation (POSIX.1-2017, Shell Command Language, 2.13), without negation and ranges:
`?` one character that cannot be read, `[38]` one of these, `*` any number of missing characters. Case, spaces,
dashes, dots and slashes do not count (docs/model.md, section 1).

>>> Reading.parse("2?5-[38]6*").tokens
('2', '?', '5', '38', '6', '*')
"""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from kb.words.errors import DataError
from kb.words.notation import ALPHABET, simplify

LONGEST = 64  # characters as typed
TURNED = dict(zip("0168HINOSXZ9MW", "0198HINOSXZ6WM", strict=True))
_HELP = "Write letters A-Z and digits, ? for one character, [38] for one of these, * for any number of missing ones."


@dataclass(frozen=True)
class Reading:
    """A sequence of tokens. Two readings are equal if they say the same, however they were typed.

    A token is a plain character, "?", "*", or the members of a set in order ("38"). `plain` says that the reading was
    typed without `?`, `[]` and `*`, that is, without doubt.
    """

    text: str = field(compare=False)
    tokens: tuple[str, ...]
    plain: bool

    @classmethod
    def parse(cls, text: str) -> "Reading":
        """The reading that a text means. Neighbouring `*` count as one, and `[3]` is 3.

        Raises:
            DataError: nothing to read, longer than 64 characters, a bracket that does not close, a character that
                cannot be stamped, or pattern notation that means different things to different programs.

        >>> Reading.parse("[38")
        Traceback (most recent call last):
        kb.words.errors.DataError: "[38" has a [ without its ]. Write one of these as in "2[38]5".
        """
        if len(text) > LONGEST or len(simplify(text)) > LONGEST:
            raise DataError(f'"{text[:20]}..." is longer than {LONGEST} characters.', "Give one number at a time.")
        tokens: list[str] = []
        pieces = unicodedata.normalize("NFKD", text).split("[")
        for number, piece in enumerate(pieces):
            members, bracket, after = piece.partition("]") if number else ("", "", piece)
            if number and not bracket:
                raise DataError(f'"{text}" has a [ without its ].', 'Write one of these as in "2[38]5".')
            if "]" in after:
                raise DataError(f'"{text}" has a ] without its [.', 'Write one of these as in "2[38]5".')
            if number:
                tokens.append(_members(members, text))
            for character in simplify(after):
                if character not in ALPHABET and character not in "?*":
                    raise DataError(f'"{text}" contains "{character}".', _HELP)
                if not (character == "*" and tokens[-1:] == ["*"]):
                    tokens.append(character)
        if not tokens:
            raise DataError(f'"{text}" has nothing to read.', _HELP)
        return cls(text, tuple(tokens), len(pieces) == 1 and not {"?", "*"}.intersection(tokens))

    def could_be(self, text: str) -> bool:
        """Whether the pattern, taken literally, describes the text.

        >>> Reading.parse("2[38]5*").could_be("B2850")
        False
        """
        return self._pattern.fullmatch(simplify(text)) is not None

    def could_be_any(self, texts: Iterable[str]) -> bool:
        """Whether it describes one of these texts in normal form."""
        return re.search(f"^(?:{self._pattern.pattern})$", "\n".join(texts), re.MULTILINE) is not None  # no pattern extends beyond the end of a line

    def turned(self) -> "Reading | None":
        """The reading of the same number turned by 180 degrees, or None if that is impossible or the same.

        >>> str(Reading.parse("6[01]?9").turned())
        '6?[01]9'
        """
        tokens = []
        for token in reversed(self.tokens):
            if token in ("?", "*"):
                tokens.append(token)
            elif all(character in TURNED for character in token):
                tokens.append("".join(sorted(TURNED[character] for character in token)))
            else:
                return None
        return None if tuple(tokens) == self.tokens else Reading(_notation(tokens, self.plain), tuple(tokens), self.plain)

    def token_at(self, position: int) -> str:
        """The token at a position, counted from 0, if a second look at it is possible.

        Raises:
            DataError: there is no such token, or it is `*`.
        """
        if 0 <= position < len(self.tokens) and self.tokens[position] != "*":
            return self.tokens[position]
        problem = f"{self.text} has no character {position + 1} to look at again."
        raise DataError(problem, f"Count its characters from 1 to {len(self.tokens)}; [38] counts as one, * cannot be looked at again.")

    def seen_again(self, again: Mapping[int, str]) -> "Reading":
        """The pattern with what second looks showed: in place of `?`, otherwise beside what was read there. again: position from 0 -> character.

        Raises:
            DataError: a position has no character.

        >>> str(Reading.parse("2?5[36]").seen_again({1: "8", 2: "6", 3: "3"}))
        '28[56]3'
        """
        if not again:
            return self
        tokens = list(self.tokens)
        for position, character in again.items():
            token = self.token_at(position)
            tokens[position] = character if token == "?" or character in token else "".join(sorted({*token, character}))
        return Reading.parse(_notation(tokens, self.plain))

    def __str__(self) -> str:
        return _notation(self.tokens, self.plain)

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        """The reading as a regular expression. A `*` takes as few characters as what follows it allows and is never tried again: for
        pattern notation the first fit is as good as any, so that no reading takes long (Cox, Glob Matching Can Be Simple And Fast Too, 2017)."""
        pieces, *others = "".join("." if t == "?" else t if t == "*" or len(t) == 1 else f"[{t}]" for t in self.tokens).split("*")
        if not others:
            return re.compile(pieces)
        *between, last = others
        return re.compile(f"{pieces}{''.join(f'(?>.*?{piece})' for piece in between)}.*{last}")


def second_looks(typed: Iterable[str]) -> dict[int, str]:
    """What second looks showed: "3=8" is an 8 at the third character.

    Raises:
        DataError: it is not written so.

    >>> second_looks(["3=8", "5=b"])
    {3: '8', 5: 'B'}
    """
    found: dict[int, str] = {}
    for text in typed:
        place, _, seen = text.partition("=")
        seen = simplify(seen)
        if not place.strip().isdecimal() or len(place) > 3 or len(seen) != 1 or seen not in ALPHABET:
            raise DataError(f'"{text[:40]}" does not say what a second look showed.', 'Write the place and the character seen there, as in "3=8".')
        if found.setdefault(int(place), seen) != seen:
            raise two_looks(int(place), found[int(place)], seen)
    return found


def two_looks(at: int, *seen: str) -> DataError:
    """The error for second looks at one character, counted from 1, that do not agree."""
    return DataError(f"Second looks at character {at} show {' and '.join(seen)}.", "Give the one that holds, or none if it cannot be told.")


def _members(typed: str, text: str) -> str:
    """The members of one set, sorted, each once."""
    if typed[:1] in ("!", "^"):
        raise DataError(f'"{text}" says what a character is not.', "List what it may be, as in [38].")
    if any(unicodedata.category(character) == "Pd" or character == "\N{MINUS SIGN}" for character in typed):
        raise DataError(f'"{text}" has a dash inside [ ].', "It could mean 3 or 8, or 3 to 8: write [38] or [345678].")
    members = simplify(typed)
    for character in members:
        if character not in ALPHABET:
            raise DataError(f'"{text}" contains "{character}" inside [ ].', "List letters A-Z and digits only, as in [38].")
    if not members:
        raise DataError(f'"{text}" has an empty [ ].', "List what the character may be, as in [38], or write ? if it cannot be read.")
    return "".join(sorted(set(members)))


def _notation(tokens: "tuple[str, ...] | list[str]", plain: bool) -> str:
    """Tokens as typed. A reading typed with brackets that say nothing keeps one pair, so that it stays a doubtful one."""
    said = [token if len(token) == 1 else f"[{token}]" for token in tokens]
    if not plain and all(len(token) == 1 and token not in "?*" for token in tokens):
        said[0] = f"[{said[0]}]"
    return "".join(said)
