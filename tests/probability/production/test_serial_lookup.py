"""Blocks become lines: open ends, order, shared models, and what is refused. Rows follow docs/model.md, section 2."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.probability.production.serial_lookup import Lines, find, lay_out
from kb.words.errors import DataError
from tests.probability.production.rows import dataset


def lines_of(*blocks: dict[str, Any], **tables: list[dict[str, Any]]) -> Lines:
    lines, problems = lay_out(dataset(series=[{"series_id": "s"}], blocks=list(blocks), **tables))
    assert not problems
    return lines


@pytest.mark.parametrize(("blocks", "ranges", "why"), [
    ([{"first": 5, "last": 9}], [(5, 9)], "both ends given"),
    ([{"first": 5, "units": 3}], [(5, 7)], "last = first + units - 1"),
    ([{"first": 1}, {"position": 2, "first": 10, "last": 12}], [(1, 9), (10, 12)], "before the next higher first"),
    ([{"first": 1, "units": 4}, {"position": 2, "first": 10, "last": 12}], [(1, 9), (10, 12)], "the next first goes before units"),
    ([{"first": 1, "units": 4}, {"position": 2, "prefix": "B", "first": 10, "last": 12}], [(1, 4), (10, 12)], "another prefix does not end it"),
    ([{"first": 1, "units": 4}, {"position": 2, "suffix": "B", "first": 10, "last": 12}], [(1, 4), (10, 12)], "nor another suffix"),
    ([{"first": 1}, {"line": "north", "first": 10, "last": 12}], [(1, 9), (10, 12)], "a block of another line ends it"),
    ([{"units": 4}, {"position": 2, "units": 3}], [(1, 4), (5, 7)], "an empty first counts on"),
    ([{"last": 4}, {"position": 2, "prefix": "B", "units": 3}], [(1, 4), (1, 3)], "with another prefix from 1"),
    ([{"last": 4}, {"position": 2, "prefix": "B", "units": 3}, {"position": 3, "units": 2}], [(1, 4), (1, 3), (5, 6)], "from its own prefix on"),
])
def test_ends_of_blocks(blocks: list[dict[str, Any]], ranges: list[tuple[int, int]], why: str) -> None:
    found = [(block.first, block.last) for line in lines_of(*blocks) for block in line.blocks]
    assert found == ranges, why


@pytest.mark.parametrize(("blocks", "column", "problem", "severity"), [
    ([{"first": 5}], "last", "Nothing says where the block ends.", "error"),
    ([{"first": 5, "last": 9}, {"position": 2, "last": 4}], "last", "The block ends at 4, before it begins at 10.", "error"),
    ([{"first": 1, "last": 9}, {"position": 2, "first": 9, "last": 12}], "first",
     "The blocks blocks-1 and blocks-2 of one line both hold the numbers 9 to 9.", "error"),
    ([{"first": 1, "last": 99}, {"position": 2, "first": 5, "last": 6}, {"position": 3, "first": 50, "last": 60}], "first",
     "The blocks blocks-1 and blocks-3 of one line both hold the numbers 50 to 60.", "error"),
    ([{"first": 1, "last": 9}, {"first": 10, "last": 12}], "position",
     "The block blocks-1 of the same line has the position 1 too, so their order is a guess.", "doubt"),
])  # fmt: skip
def test_blocks_that_cannot_be_are_reported(blocks: list[dict[str, Any]], column: str, problem: str, severity: str) -> None:
    _, problems = lay_out(dataset(series=[{"series_id": "s"}], blocks=blocks))
    last = problems[-1]
    assert (last.table, last.column, last.problem, last.severity) == ("blocks", column, problem, severity)
    assert last.remedy


@pytest.mark.parametrize("blocks", [
    [{"first": 1, "last": 9}, {"position": 2, "first": 10, "last": 12}],  # they meet
    [{"first": 1, "last": 9}, {"position": 2, "first": 5, "last": 12, "rival_of": "blocks-1"}],  # another source's version
    [{"first": 1, "last": 9}, {"position": 2, "first": 5, "last": 12, "retracted": "misread"}],
    [{"first": 1, "last": 9}, {"line": "north", "first": 5, "last": 12}],  # two plants may use the same numbers
    [{"first": 1, "last": 9}, {"position": 2, "prefix": "B", "first": 5, "last": 12}],
])  # fmt: skip
def test_blocks_that_do_not_overlap(blocks: list[dict[str, Any]]) -> None:
    _, problems = lay_out(dataset(series=[{"series_id": "s"}], blocks=blocks))
    assert problems == []


def test_units_are_those_of_the_models_then_those_written_then_the_span() -> None:
    shared = [{"block_id": "a", "model_id": "m", "units": 30}, {"block_id": "a", "model_id": "n", "units": 10}]
    (line,) = lines_of(
        {"block_id": "a", "first": 1, "last": 100, "units": 99},
        {"block_id": "b", "position": 2, "first": 101, "last": 200, "units": 50, "model_id": "m"},
        {"block_id": "c", "position": 3, "first": 201, "last": 300},
        block_models=shared,
    )
    assert [(block.models, block.units) for block in line.blocks] == [
        ((("m", 30.0), ("n", 10.0)), 40.0), ((("m", 50.0),), 50.0), ((("", 100.0),), 100.0),
    ]  # fmt: skip


def test_the_order_runs_through_the_blocks_by_position() -> None:
    (line,) = lines_of({"position": 2, "prefix": "B", "first": 1, "last": 10, "width": 3}, {"position": 1, "first": 90, "last": 99, "width": 3})
    assert line.count == 20
    assert [line.at(order) for order in (0, 9, 10, 19)] == [(0, 90), (0, 99), (1, 1), (1, 10)]
    with pytest.raises(IndexError):
        line.at(20)


@given(st.lists(st.tuples(st.integers(1, 10**17), st.integers(1, 5)), min_size=1, max_size=6), st.data())
def test_order_and_number_are_each_others_inverse(spans: list[tuple[int, int]], data: st.DataObject) -> None:
    blocks = [{"position": i, "prefix": "ABCDEF"[i], "first": first, "last": first + count * first} for i, (first, count) in enumerate(spans)]
    (line,) = lines_of(*blocks)
    order = data.draw(st.integers(0, line.count - 1))
    assert line.order(*line.at(order)) == order


BLOCKS: tuple[dict[str, Any], ...] = (
    {"block_id": "early", "first": 1, "last": 850, "width": 5},
    {"block_id": "b", "position": 2, "prefix": "B", "first": 851, "last": 1200, "width": 4},
    {"block_id": "late", "position": 3, "first": 2000, "last": 2999, "suffix": "k"},
)
AFFIXES = [{"affix": "X"}, {"affix": "R", "at": "suffix"}]


@pytest.mark.parametrize(("text", "block", "number", "affixes"), [
    ("00412", "early", 412, ()),
    ("412", "early", 412, ()),  # leading zeros may be left out
    ("b-0851", "b", 851, ()),  # case and dashes do not count
    ("B851", "b", 851, ()),
    ("2500K", "late", 2500, ()),
    ("X412", "early", 412, ("X",)),
    ("X 412 R", "early", 412, ("X", "R")),
    ("B0851r", "b", 851, ("R",)),
])
def test_find(text: str, block: str, number: int, affixes: tuple[str, ...]) -> None:
    place = find(lines_of(*BLOCKS, affixes=AFFIXES), "s", text)
    assert (place.line.blocks[place.block_index].block_id, place.number, place.affixes) == (block, number, affixes)
    assert place.line.at(place.order) == (place.block_index, number)


@pytest.mark.parametrize(("text", "message"), [
    ("851", '"851": No block of "s" holds the number 851. Known near it: 00001 to 00850.'),
    ("B0850", '"B0850": No block of "s" holds the number 850. Known near it: B0851 to B1200.'),
    ("000412", '"000412": The serial has more leading zeros than are stamped. Write 00412.'),
    ("Q412", '"Q412" does not begin and end as any serial of "s". Its serials look like 00001, 2000K, B0851. '
     "If a letter at an end has a meaning of its own, add it to affixes.csv."),
    ("4?2", '"4?2" contains "?". Use only letters A-Z, digits, spaces, dashes, dots and slashes.'),
])  # fmt: skip
def test_find_says_why_not(text: str, message: str) -> None:
    with pytest.raises(DataError) as raised:
        find(lines_of(*BLOCKS, affixes=AFFIXES), "s", text)
    assert str(raised.value) == message


def test_find_in_a_series_without_blocks() -> None:
    with pytest.raises(DataError, match='The series "t" has no blocks'):
        find(lines_of(*BLOCKS), "t", "1")


def test_find_refuses_to_choose_between_two_lines() -> None:
    lines = lines_of({"block_id": "a", "first": 1, "last": 9}, {"block_id": "b", "line": "north", "first": 5, "last": 9})
    assert find(lines, "s", "4").line.line_id == "s"
    with pytest.raises(DataError, match='"5" can be a serial of a and b.'):
        find(lines, "s", "5")


def test_a_prefix_is_preferred_to_an_affix() -> None:
    lines = lines_of({"first": 1, "last": 9}, {"position": 2, "prefix": "X", "first": 1, "last": 9}, affixes=[{"affix": "X"}])
    assert find(lines, "s", "X5").affixes == ()


def test_check_characters_are_verified() -> None:
    rows = dataset(series=[{"series_id": "s", "check": "luhn"}], blocks=[{"first": 7992739800, "last": 7992739899, "width": 10}])
    lines, _ = lay_out(rows)
    assert find(lines, "s", "79927398713").number == 7992739871  # the example of ISO/IEC 7812-1, annex B, as it is usually printed
    with pytest.raises(DataError, match="The check characters are wrong. The number 7992739871 is stamped 79927398713."):
        find(lines, "s", "79927398714")


@given(st.data())
def test_what_is_printed_is_found(data: st.DataObject) -> None:
    lines = lines_of(*BLOCKS)
    order = data.draw(st.integers(0, lines[0].count - 1))
    index, number = lines[0].at(order)
    block = lines[0].blocks[index]
    printed = f"{block.prefix}{number:0{block.width or 1}}{block.suffix}"
    assert find(lines, "s", printed).order == order


@given(st.text(alphabet="0123456789BXKRM# -", max_size=8))
def test_junk_is_found_or_refused(text: str) -> None:
    try:
        place = find(lines_of(*BLOCKS, affixes=AFFIXES), "s", text)
    except DataError as error:
        assert error.problem and error.remedy
    else:
        assert place.line.blocks[place.block_index].first <= place.number <= place.line.blocks[place.block_index].last
