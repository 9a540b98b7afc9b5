"""Translating somebody else's columns and words into ours: a small TOML file (https://toml.io), written once for each supplier or form.

    sheet = "Prices"                    # of a workbook; otherwise the first
    add_new = true                      # parts that the dataset does not have yet are added; otherwise they are only reported
    numbers_as_shown = true             # accept part numbers that the spreadsheet holds as numbers: they have no leading zeros

    [columns]                           # our column = their heading
    part_number = "Item No."
    available = "Stock"

    [words.available]                   # their word = ours
    "in stock" = "yes"

    [always]                            # the same for every row
    unit = "each"
"""

import difflib
import tomllib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from kb.words.errors import DataError, FileError, Finding
from kb.words.records.columns import Column
from loaders.listing import Listing
from loaders.rejects import REASONS, Rejected

_KINDS: dict[str, type] = {"sheet": str, "add_new": bool, "numbers_as_shown": bool, "columns": dict, "words": dict, "always": dict}


@dataclass(frozen=True)
class ColumnMap:
    """How to read one kind of list. `columns` maps ours to theirs; `words` maps theirs (in lower case) to ours, by our column."""

    columns: Mapping[str, str]
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    always: Mapping[str, str] = field(default_factory=dict)
    sheet: str | None = None
    add_new: bool = False
    numbers_as_shown: bool = False

    def as_text(self, known: Sequence[Column]) -> set[str]:
        """The headings under which a spreadsheet must hold text."""
        if self.numbers_as_shown:
            return set()
        amounts = {column.name for column in known if column.kind in ("whole", "number")}
        return {theirs for ours, theirs in self.columns.items() if ours not in amounts}

    def applied(self, listing: Listing, known: Sequence[Column]) -> list[tuple[int, dict[str, str]]]:
        """The rows of a list in our columns and words, without empty cells. Rows with a word that is not translated are rejected.

        Raises:
            DataError: a column named here is missing from the list.
        """
        for ours, theirs in self.columns.items():
            if theirs not in listing.header:
                near = difflib.get_close_matches(theirs, listing.header, n=1)
                hint = f'Perhaps "{near[0]}" is meant. ' if near else ""
                raise DataError(f'{listing.file} has no column "{theirs}" ({ours}).', f"{hint}It has: {', '.join(filter(None, listing.header))}.")
        choices = {column.name: column.choices for column in known if column.choices}
        rows = []
        for row, cells in listing.rows:
            wrong: list[Finding] = []
            values = dict(self.always)
            for ours, theirs in self.columns.items():
                text = self._word(ours, theirs, cells.get(theirs, ""), row, choices.get(ours), listing, wrong)
                if text:
                    values[ours] = text
            if wrong:
                listing.rejected.append(Rejected(listing.file, row, cells, tuple(wrong)))
            else:
                rows.append((row, values))
        return rows

    def _word(
        self, ours: str, theirs: str, text: str, row: int, choices: tuple[str, ...] | None, listing: Listing, wrong: list[Finding]
    ) -> str:
        words = self.words.get(ours)
        if words is None or text in (choices or ()):
            return text
        if (key := " ".join(text.lower().split())) in words:
            return words[key]
        if choices and text:
            remedy = f'Say it in [words.{ours}] of the mapping: "{text}" = "{choices[0]}", or another of {", ".join(choices)}.'
            wrong.append(listing.find(row, theirs, text, f'No word of ours is given for "{text}" ({ours}).', remedy))
        return text


def parse(path: Path, known: Sequence[Column], more: Collection[str] = ()) -> ColumnMap:
    """Read a mapping for lists whose rows become rows with the columns `known`, and `more`.

    Raises:
        FileError: the file cannot be read.
        DataError: it is not TOML, or names something that is not known.
    """
    try:
        plain = tomllib.loads(path.read_text("utf-8-sig"))
    except OSError as error:
        raise FileError(f'"{path}" cannot be read: {error.strerror}.', "Name the TOML file with --mapping.") from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise DataError(f'"{path}" is not TOML: {error}.', 'Write lines such as part_number = "Item No." below [columns].') from error
    names = [*(column.name for column in known), *more]
    for key, value in plain.items():
        if key not in _KINDS:
            raise DataError(f'{path.name}: "{key}" is not known.', f"{_near(key, list(_KINDS))} It may hold: {', '.join(_KINDS)}.")
        if not isinstance(value, _KINDS[key]):
            raise DataError(f'{path.name}: "{key}" is not as it should be.', f"Write {_how(key)}.")
    for part in ("columns", "words", "always"):
        for name, value in plain.get(part, {}).items():
            if name not in names and not name.startswith("x_"):
                raise DataError(f'{path.name}, [{part}]: there is no column "{name}".', f"{_near(name, names)} There are: {', '.join(names)}.")
            texts = list(value.values()) if part == "words" and isinstance(value, dict) else [value]
            if (part == "words") is not isinstance(value, dict) or not all(isinstance(text, str) for text in texts):
                raise DataError(f'{path.name}, [{part}]: "{name}" is not as it should be.', f"Write {_how(part)}.")
    words = {name: {" ".join(k.lower().split()): v for k, v in each.items()} for name, each in plain.get("words", {}).items()}
    switches: dict[str, Any] = {name: plain[name] for name in ("sheet", "add_new", "numbers_as_shown") if name in plain}
    return ColumnMap(plain.get("columns", {}), words, plain.get("always", {}), **switches)


def of_same_names(listing: Listing, known: Sequence[Column]) -> ColumnMap:
    """The mapping of a list whose headings are our column names, however written ("Series id").

    Raises:
        DataError: another heading.
    """
    names = {column.name: column.name for column in known}
    columns: dict[str, str] = {}
    for heading in filter(None, listing.header):
        ours = names.get("_".join(heading.lower().replace("-", " ").split()), heading if heading.startswith("x_") else None)
        if ours is None:
            remedy = f"{_near(heading, list(names))} Rename it, begin it with x_, or write a mapping and name that with --mapping."
            raise DataError(f'{listing.file}: there is no column "{heading}".', remedy)
        if heading not in REASONS:
            columns[ours] = heading
    return ColumnMap(columns)


def _near(word: str, known: Sequence[str]) -> str:
    near = difflib.get_close_matches(word.lower(), known, n=1)
    return f'Perhaps "{near[0]}" is meant.' if near else ""


def _how(key: str) -> str:
    return {
        "sheet": 'sheet = "Prices"',
        "columns": 'our column = their heading, as in part_number = "Item No."',
        "words": '[words.available], and below it lines such as "in stock" = "yes"',
        "always": 'our column = a text, as in unit = "each"',
    }.get(key, f"{key} = true, or leave it out")
