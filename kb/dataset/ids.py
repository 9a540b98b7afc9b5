"""Ids that only number rows: of sightings, breakpoints, fitments. Where people choose an id (for a source, a variant) none is made up."""

import re
from collections.abc import Container, Sequence

from kb.words.records import TABLES

NUMBERED = ("blocks", "options", "marks", "breakpoints", "sightings", "fitments", "supersessions", "readings", "offers", "outcomes")


class NextIds:
    """The ids that follow the last one of a file.

    >>> ids = NextIds("sightings", ["seen-008", "seen-009", "aunt-mary"])
    >>> ids.next({"seen-010"}), ids.next(())
    ('seen-011', 'seen-012')
    >>> NextIds("marks", []).next(())
    'mark-1'
    """

    def __init__(self, table: str, taken: Sequence[str]) -> None:
        self._stem, self._width, self._number = f"{TABLES[table].key[0].removesuffix('_id').replace('_', '-')}-", 1, 0
        numbered = [found for each in reversed(taken) if (found := re.fullmatch(r"([a-z].*-)([0-9]{1,9})", each))]
        if numbered:
            self._stem, self._width = numbered[0][1], len(numbered[0][2])
            self._number = max(int(found[2]) for found in numbered if found[1] == self._stem)

    def next(self, taken: Container[str]) -> str:
        """The next id that is not taken."""
        while True:
            self._number += 1
            given = f"{self._stem}{self._number:0{self._width}d}"
            if given not in taken:
                return given
