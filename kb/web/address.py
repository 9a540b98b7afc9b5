"""Addresses: a question as a query string and back. Evidence is written in the notation that the command line uses.

/identify?serial=%3F1%3F42&mark=gear-case%3D18-E25      as  kb identify --serial "?1?42" --mark gear-case=18-E25
"""

from collections.abc import Iterable, Mapping
from urllib.parse import parse_qsl

from kb.words.addresses import encoded, joined
from kb.words.errors import DataError
from kb.words.evidence import CONTEXT, WRITTEN

Pairs = list[tuple[str, str]]
MOST_FIELDS = 400


class Query:
    """The fields of a query string; a name may come several times."""

    def __init__(self, text: str) -> None:
        """Take it apart.

        Raises:
            DataError: more fields than anybody fills in.
        """
        try:
            self.pairs: Pairs = parse_qsl(text, keep_blank_values=True, max_num_fields=MOST_FIELDS)
        except ValueError as error:
            raise DataError(f"The address has more than {MOST_FIELDS} fields.", "Give less evidence at a time.") from error

    def one(self, name: str) -> str:
        """The first value without spaces around it; "" if there is none."""
        return next((value.strip() for each, value in self.pairs if each == name), "")

    def all(self, name: str) -> list[str]:
        """Every value, empty ones too, so that two columns of a form stay side by side."""
        return [value.strip() for each, value in self.pairs if each == name]

    def __contains__(self, name: str) -> bool:
        return any(each == name for each, _ in self.pairs)


class Asked:
    """What is known of a unit as the query of an address, every piece encoded once: a page has it in dozens of links."""

    def __init__(self, fields: Pairs) -> None:
        self._pieces = [(_KINDS.index(name), value, encoded(name, value)) for name, value in fields if value]

    def link(self, path: str, further: Iterable[tuple[str, str]] = ()) -> str:
        """The address that asks about the unit, with further fields in front.

        >>> Asked([("serial", "C1542")]).link("/fits", [("part", "PE-214")])
        '/fits?part=PE-214&serial=C1542'
        """
        return _with(path, further, [text for _, _, text in self._pieces])

    def adding(self, path: str, adds: Mapping[str, str], further: Iterable[tuple[str, str]] = ()) -> str:
        """The address that the outcome of a check leads to: more is known.

        >>> known = Asked([("serial", "engine=E4?"), ("saw", "head.studs=6")])
        >>> known.adding("/identify", {"again": "engine:3=1"})
        '/identify?serial=engine%3DE4%3F&saw=head.studs%3D6&again=engine:3%3D1'
        """
        pieces = list(self._pieces)
        for field, value in adds.items():
            name = _NAMES[field]
            pieces.append((_KINDS.index(name), value, encoded(name, value)))
        return _with(path, further, [text for _, _, text in sorted(pieces, key=lambda piece: piece[0])])


_KINDS = [*(each.name for each in CONTEXT), *(kind.name for kind in WRITTEN)]
_NAMES = {**{each.name: each.name for each in CONTEXT}, **{kind.field: kind.name for kind in WRITTEN}}


def _with(path: str, further: Iterable[tuple[str, str]], known: Iterable[str]) -> str:
    return joined(path, [*(encoded(name, value) for name, value in further if value), *known])
