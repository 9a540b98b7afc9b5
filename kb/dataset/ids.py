"""Ids that only number rows: of sightings, breakpoints, fitments. Where people choose an id (for a source, a variant) none is made up by hand.

A number alone would be given by two people to two rows, each in a copy of their own; so letters drawn at random stand behind it.
KB_ID_SEED makes them repeatable, and none if it is empty.
"""

import os
import random
import re
from collections.abc import Container, Sequence

from kb.words.records import TABLES

NUMBERED = ("blocks", "options", "marks", "breakpoints", "sightings", "fitments", "supersessions", "readings", "offers", "outcomes")
_LETTERS, _DIGITS = "bcdfghjkmnpqrstvwxz", "23456789"  # no vowels, so that no words come about, and nothing that is mistaken for another


class NextIds:
    """The ids that follow the last one of a file.

    >>> ids = NextIds("sightings", ["seen-008", "seen-009", "aunt-mary"], seed="")
    >>> ids.next({"seen-010"}), ids.next(())
    ('seen-011', 'seen-012')
    >>> NextIds("marks", [], seed="").next(())
    'mark-1'
    >>> NextIds("sightings", ["seen-009-kzt7m"], seed="a test").next(())
    'seen-010-hwn66'
    """

    def __init__(self, table: str, taken: Sequence[str], seed: str | None = None) -> None:
        seed = os.environ.get("KB_ID_SEED") if seed is None else seed
        self._dice = None if seed == "" else random.SystemRandom() if seed is None else random.Random(f"{seed} {table} {len(taken)}")
        self._stem, self._width, self._number = f"{TABLES[table].key[0].removesuffix('_id').replace('_', '-')}-", 1, 0
        numbered = [found for each in reversed(taken) if (found := re.fullmatch(r"([a-z].*-)([0-9]{1,9})(?:-[a-z][a-z0-9]{4})?", each))]
        if numbered:
            self._stem, self._width = numbered[0][1], len(numbered[0][2])
            self._number = max(int(found[2]) for found in numbered if found[1] == self._stem)

    def next(self, taken: Container[str]) -> str:
        """The next id that is not taken."""
        while True:
            self._number += 1
            given = f"{self._stem}{self._number:0{self._width}d}{self._letters()}"
            if given not in taken:
                return given

    def _letters(self) -> str:
        return f"-{self._dice.choice(_LETTERS)}{''.join(self._dice.choices(_LETTERS + _DIGITS, k=4))}" if self._dice else ""
