"""Addresses on the site of a knowledge base, as answers name them: a path from its root, a query in the notation of the command line."""

from collections.abc import Iterable
from urllib.parse import quote, quote_plus


def step(name: str) -> str:
    """A name as one step of a path: everything but letters, digits, - and _ as ~XX, the way Datasette writes it.

    >>> step("AB/12.5"), step("1407-A")
    ('AB~2F12~2E5', '1407-A')
    """
    return quote(name, safe="").replace("~", "%7E").replace(".", "%2E").replace("%", "~")


def part_path(part_number: str) -> str:
    """The page of a part."""
    return f"/parts/{step(part_number)}"


def address(path: str, pairs: Iterable[tuple[str, str]] = ()) -> str:
    """A path with its query; empty fields are left out.

    >>> address("/identify", [("serial", "?1?42"), ("mark", "gear-case=18-E25"), ("model", "")])
    '/identify?serial=%3F1%3F42&mark=gear-case%3D18-E25'
    """
    return joined(path, [encoded(name, value) for name, value in pairs if value])


def encoded(name: str, value: str) -> str:
    """One field of a query."""
    return f"{name}={quote_plus(value, safe='@*:,')}"


def joined(path: str, fields: Iterable[str]) -> str:
    """A path with fields that are encoded already."""
    query = "&".join(fields)
    return f"{path}?{query}" if query else path
