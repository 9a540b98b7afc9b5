"""Blocks of a series against number tables that other people keep.

Source: the RangeMessage of the International ISBN Agency, the register of the IEEE, lists of banks, post codes, places and tax offices, as they
come with python-stdnum 2 (LGPL-2.1+).
Oracle: the look-up of that library (`stdnum.numdb`, `stdnum.isbn`), and for tables that hold numbers twice a sweep over all pairs.

A publisher's range of ISBNs is a block: prefix 978 or 979, nine digits, half of all numbers never given out.
"""

import random
import re
from collections.abc import Iterator
from itertools import combinations, groupby

import pytest
from stdnum import isbn, numdb

from kb.probability.channel.digits import format_serial
from kb.probability.production.serial_lookup import Lines, find, lay_out
from kb.words.dataset import Dataset
from kb.words.errors import DataError
from kb.words.records import Block, Series

Range = tuple[tuple[str, ...], str, str]  # the numbers above it in the table; first and last, without them


def ranges(table: str) -> Iterator[Range]:
    """Every range at the lowest level of a table, in the order of the file."""

    def walk(entries: "list[numdb.PrefixInfo]", above: tuple[str, ...]) -> Iterator[Range]:
        for _, low, high, _, children in entries:
            if children:
                yield from walk(children, (*above, low))
            else:
                yield above, low, high

    yield from walk(numdb.get(table).prefixes, ())


def laid_out(blocks: list[Block]) -> tuple[Lines, list[tuple[str, str]]]:
    """The lines, and of each problem the block and its text."""
    series = tuple(Series(series_id=key, maker_id="register", name=key, stamped_on="paper") for key in dict.fromkeys(b.series_id for b in blocks))
    lines, problems = lay_out(Dataset(blocks=tuple(blocks), series=series))
    return lines, [(problem.key, problem.problem) for problem in problems if problem.severity == "error"]


def block(key: str, series: str, position: int, first: int, last: int, width: int | None, prefix: str = "", suffix: str = "") -> Block:
    stamp = {"prefix": prefix or None, "suffix": suffix or None, "width": width}
    return Block(block_id=key, series_id=series, position=position, first=first, last=last, source_id="register", **stamp)


# --- ISBN: the whole table, every edge, thousands of random numbers ---------------------------------------------------------------

REGISTRANTS = [found for found in ranges("isbn") if len(found[0]) == 2]


def isbn_blocks() -> dict[str, Block]:
    """One block for each range of registrants; its id names the group and how many digits a registrant has there."""
    found = {}
    for position, ((ean, group), low, high) in enumerate(REGISTRANTS):
        rest = 9 - len(group)
        first, last = int(group + low.ljust(rest, "0")), int(group + high.ljust(rest, "9"))
        key = f"{ean}-{group}-{len(low)}-{low}"
        found[key] = block(key, "isbn", position, first, last, 9, prefix=ean)
    return found


@pytest.fixture(scope="module")
def books() -> Lines:
    lines, problems = laid_out(list(isbn_blocks().values()))
    assert problems == []
    return lines


def ours(books: Lines, number: str) -> tuple[str, ...] | None:
    """Prefix, group, registrant and the rest, as the block says; None if no block holds the number."""
    try:
        place = find(books, "isbn", number)
    except DataError:
        return None
    ean, group, digits, _ = place.line.blocks[place.block_index].block_id.split("-")
    cut = 3 + len(group)
    return ean, group, number[cut : cut + int(digits)], number[cut + int(digits) :]


def theirs(number: str) -> tuple[str, ...] | None:
    ean, group, registrant, item, _ = isbn.split(number + isbn.ean.calc_check_digit(number))
    return (ean, group, registrant, item) if registrant else None


def test_every_edge_of_every_range_is_found_as_the_agency_splits_it(books: Lines) -> None:
    edges = set()
    for each in isbn_blocks().values():
        assert each.first is not None
        assert each.last is not None
        edges |= {f"{each.prefix}{number:09}" for number in (each.first - 1, each.first, each.last, each.last + 1) if 0 <= number < 10**9}
    assert len(edges) > 3000
    differing = {number for number in edges if ours(books, number) != theirs(number)}
    assert differing == set()


def test_random_numbers_are_found_or_not_as_the_agency_splits_them(books: Lines) -> None:
    dice = random.Random(1970)
    numbers = [f"{dice.choice(('978', '979'))}{dice.randrange(10**9):09}" for _ in range(10_000)]
    assert [n for n in numbers if ours(books, n) != theirs(n)] == []
    known = sum(ours(books, n) is not None for n in numbers)
    assert 1000 < known < 9000, "the sample tells nothing if all are known or none"


def test_the_order_of_a_line_counts_every_number_once(books: Lines) -> None:
    (line,) = books
    assert line.count == sum(int(high.ljust(9 - len(group), "9")) - int(low.ljust(9 - len(group), "0")) + 1 for (_, group), low, high in REGISTRANTS)
    dice = random.Random(2007)
    for order in [0, line.count - 1, *(dice.randrange(line.count) for _ in range(1000))]:
        index, number = line.at(order)
        assert line.order(index, number) == order
        assert find(books, "isbn", format_serial(line.form(index), number)).order == order


# --- Other tables: the same numbers, and exactly the overlaps ---------------------------------------------------------------------------


def table_blocks(table: str) -> list[Block]:
    """Each entry a block of a series for each length of number, since numbers of different lengths are different series."""
    found = []
    for position, (above, low, high) in enumerate(ranges(table)):
        first, last = "".join((*above, low)), "".join((*above, high))
        found.append(block(f"{first}-{position}", f"of-{len(first)}", position, int(first), int(last), len(first)))
    return found


@pytest.mark.parametrize("table", ["nz/banks", "at/postleitzahl", "cn/loc", "id/loc"])
def test_a_table_without_overlaps_is_taken_and_every_number_looked_up_alike(table: str) -> None:
    blocks = table_blocks(table)
    lines, problems = laid_out(blocks)
    assert problems == []
    (series_id,) = {b.series_id for b in blocks}
    (width,) = {b.width for b in blocks}
    assert width is not None
    known = {number for b in blocks for number in range(b.first or 0, (b.last or 0) + 1)}
    depth = max(len(above) for above, _, _ in ranges(table)) + 1
    dice = random.Random(4)
    for number in known | {n + step for n in known for step in (-1, 1)} | {dice.randrange(10**width) for _ in range(1000)}:
        if not 0 <= number < 10**width:
            continue
        text = f"{number:0{width}}"
        parts = numdb.get(table).info(text)
        oracle = len(parts) == depth and all(properties for _, properties in parts)
        assert oracle == (number in known)
        if oracle:
            assert find(lines, series_id, text).number == number
        else:
            with pytest.raises(DataError):
                find(lines, series_id, text)


def doubled(blocks: list[Block]) -> set[tuple[str, str]]:
    """Pairs of blocks that hold a number in common, by trying all pairs that are printed alike."""

    def stamp(b: Block) -> tuple[str, str, str]:
        return b.series_id, b.prefix or "", b.suffix or ""

    pairs = set()
    for _, alike in groupby(sorted(blocks, key=stamp), key=stamp):
        ordered = sorted(alike, key=lambda b: (b.first or 0, b.position))
        if max((b.last or 0) - (b.first or 0) for b in ordered) == 0:  # single numbers: only equal ones meet
            for _, equal in groupby(ordered, key=lambda b: b.first):
                pairs |= {(a.block_id, b.block_id) for a, b in combinations(equal, 2)}
        else:
            pairs |= {(a.block_id, b.block_id) for a, b in combinations(ordered, 2) if (b.first or 0) <= (a.last or 0)}
    return pairs


def networks() -> list[Block]:
    """Mobile networks: a country's codes of two and of three digits draw on the same numbers."""
    found = []
    for position, ((country, *above), low, high) in enumerate(ranges("imsi")):
        first, last = "".join((*above, low)), "".join((*above, high))
        if len(first) <= 3:
            found.append(block(f"{country}-{first}-{position}", f"of-{country}", position, int(first.ljust(3, "0")), int(last.ljust(3, "9")), 3))
    return found


def interfaces() -> list[Block]:
    """Hexadecimal numbers of six characters: what stands before and after their last run of digits is prefix and suffix."""
    found = []
    numbers = [f"{n:06X}" for above, low, high in ranges("oui") if not above and len(low) == 6 for n in range(int(low, 16), int(high, 16) + 1)]
    for position, number in enumerate(numbers):
        if split := re.fullmatch(r"([0-9A-F]*?)([0-9]+)([A-F]*)", number):
            prefix, digits, suffix = split.groups()
            found.append(block(f"{number.lower()}-{position}", "oui", position, int(digits), int(digits), len(digits), prefix, suffix))
    return found


@pytest.mark.parametrize("blocks", [table_blocks("us/ein"), networks(), interfaces()], ids=["tax offices", "mobile networks", "network cards"])
def test_a_table_that_holds_numbers_twice_is_refused_with_exactly_its_overlaps(blocks: list[Block]) -> None:
    expected = doubled(blocks)
    assert expected, "the table has no overlap any more: it tests nothing"
    _, problems = laid_out(blocks)
    assert {key for key, _ in problems} == {later for _, later in expected}
    for key, problem in problems:
        assert any(later == key and earlier in problem for earlier, later in expected), problem
