"""Addresses: a question as a query string and back. Evidence is written in the notation that the command line uses.

/identify?serial=%3F1%3F42&mark=gear-case%3D18-E25      as  kb identify --serial "?1?42" --mark gear-case=18-E25
"""

from collections.abc import Iterable, Mapping
from typing import Any
from urllib.parse import parse_qsl, quote, urlencode

from kb.words.errors import DataError
from kb.words.evidence import LISTS, SINGLES, Evidence

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


def address(path: str, pairs: Iterable[tuple[str, str]] = ()) -> str:
    """A path with its query; empty fields are left out."""
    query = urlencode([(name, value) for name, value in pairs if value], safe="@*:,")
    return f"{path}?{query}" if query else path


def step(name: str) -> str:
    """A name as one step of a path: everything but letters, digits, - and _ as ~XX, the way Datasette writes it.

    >>> step("AB/12.5"), step("1407-A")
    ('AB~2F12~2E5', '1407-A')
    """
    return quote(name, safe="").replace("~", "%7E").replace(".", "%2E").replace("%", "~")


def part_path(part_number: str) -> str:
    """The page of a part."""
    return f"/parts/{step(part_number)}"


def adding(evidence: Evidence, adds: Mapping[str, Any]) -> Evidence:
    """The evidence that the outcome of a check leads to: more of it, or one reading made clearer.

    >>> str(adding(Evidence(serial="engine=E4?"), {"serial": "E41", "instead_of": "engine=E4?"}).serial[0])
    'engine=E41'
    """
    more = {name: value for name, value in adds.items() if name != "instead_of"}
    replaced = adds.get("instead_of")
    if replaced is None:
        return evidence.adding(**more)
    plain = {field: [piece for piece in getattr(evidence, field) if str(piece) != replaced] for field in LISTS.values()}
    before, equals, _ = replaced.rpartition("=")
    if "serial" in more and equals:
        more["serial"] = f"{before}={more['serial']}"
    kept = {name: getattr(evidence, name) for name in SINGLES}
    return Evidence(**kept, **plain).adding(**more)
