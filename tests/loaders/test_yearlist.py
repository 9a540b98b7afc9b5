"""Year lists as books and web pages print them: into blocks, or refused at their cell.

Source of the layouts: common practice of serial number lists; from memory.
"""

from pathlib import Path

import pytest

from kb.words.dataset import Dataset
from kb.words.errors import FileError
from kb.words.records import Block
from loaders.yearlist import parse, read

COLUMNS = ("line", "position", "prefix", "first", "last", "width", "built_from", "built_to")


def blocks(text: str, lasts: dict[str, str] | None = None) -> list[tuple[str, ...]]:
    years = parse(text)
    assert not years.listing.findings
    return [tuple(row.values.get(name, "") for name in COLUMNS) for row in years.plan("s", {"source_id": "book"}, lasts)(Dataset())]


ONE = [
    ("", "1", "", "100001", "101800", "", "1921", "1923"),
    ("", "2", "", "101801", "104100", "", "1924", "1927"),
    ("", "3", "", "104101", "", "", "1928", ""),
]


@pytest.mark.parametrize("text", [
    "1921 100001\n1924 101801\n1928 104101\n",
    "Year  First serial\n1921  100001\n1924  101801\n1928  104101",
    "1921 ........ 100,001\n1924 ........ 101,801\n1928 ........ 104,101",
    "1921 . . . . 100001\n1924 . . . . 101801\n1928 . . . . 104101",
    "1921\t100001\n\n1924\t101801\n1928\t104101",
    "1921, 100001\n1924, 101801\n1928, 104101",
    "Year | First\n1921 | 100001\n1924 | 101801\n1928 | 104101",
])  # fmt: skip
def test_one_column_however_it_was_pasted(text: str) -> None:
    assert blocks(text) == ONE


@pytest.mark.parametrize(("ending", "lasts", "last"), [
    ("last 110900", {}, "110900"), ("End ... 110,900", {}, "110900"), ("", {"": "110900"}, "110900"), ("", {}, ""),
])  # fmt: skip
def test_where_the_last_block_ends(ending: str, lasts: dict[str, str], last: str) -> None:
    assert blocks(f"1921 100001\n{ending}", lasts)[0][4] == last


def test_a_column_for_each_plant_is_a_line_of_its_own() -> None:
    text = """Year   Lindenrood  Saint Orrin
1926   A0001   -
1928   A1901   R0001
1929   -       R0401
1930   B0001   -
last   B2200   R1200
"""
    assert blocks(text) == [
        ("lindenrood", "1", "A", "1", "1900", "4", "1926", "1927"),
        ("lindenrood", "2", "A", "1901", "", "4", "1928", "1928"),  # the letter changes: nothing says where A ends
        ("lindenrood", "3", "B", "1", "2200", "4", "1930", ""),
        ("saint-orrin", "1", "R", "1", "400", "4", "1928", "1928"),
        ("saint-orrin", "2", "R", "401", "1200", "4", "1929", "1929"),
    ]


def test_a_column_says_where_each_ends() -> None:
    assert [each[3:5] for each in blocks("Year  First  Last\n1926  A0001  A1900\n1928  B0001  B2400")] == [("1", "1900"), ("1", "2400")]


@pytest.mark.parametrize(("first", "second", "built"), [
    ("March 1921", "1921-06", ("1921-03", "1921-05")),
    ("Mar. 1921", "January 1922", ("1921-03", "1921-12")),
    ("3/1921", "4/1921", ("1921-03", "1921-03")),
    ("1921", "1922-03", ("1921", "1922-02")),
])  # fmt: skip
def test_months(first: str, second: str, built: tuple[str, str]) -> None:
    assert blocks(f"{first}   100\n{second}   200")[0][6:] == built


def test_blocks_follow_after_those_that_are_there() -> None:
    held = Block(block_id="s-1920", series_id="s", position=7, first=1, last=99, source_id="book")
    plan = parse("1921 100\n1922 200").plan("s", {"source_id": "book", "page": "3"})
    made = plan(Dataset(blocks=(held,)))
    assert [(row.values["block_id"], row.values["position"], row.values["page"]) for row in made] == [("s-1921", "8", "3"), ("s-1922", "9", "3")]
    assert [(row.file, row.row) for row in made] == [("pasted text", 1), ("pasted text", 2)]


def test_a_list_brought_again_changes_nothing() -> None:
    plan = parse("1921 100\n1922 200").plan("s", {"source_id": "book"})
    first = plan(Dataset())
    held = Dataset(blocks=tuple(Block.model_validate(dict(row.values)) for row in first))
    assert plan(held) == first


@pytest.mark.parametrize(("text", "row", "words"), [
    ("1921 100\n1920 200", 2, "Not later"),
    ("1921 100\n1921 200", 2, "Not later"),
    ("1921 300\n1922 200", 2, "Not higher than the first serial before it (300)"),
    ("1921 100\n1922 2?0", 2, "Not a serial"),
    ("1921 0100\n1922 0200\n1923 300", 3, "3 digits, but zeros in front say that there are 4"),
    ("1921 100\nabout 200", 2, "Not a year or month"),
    ("1921 100\n13/1922 200", 2, "Not a year or month"),
    ("Year  A  B\n1921  100  200  300", 2, "More columns"),
    ("1921 B100\nlast C200", 1, "no last serial of the block that begins at B100"),
])  # fmt: skip
def test_what_cannot_be_is_found_at_its_row(text: str, row: int, words: str) -> None:
    years = parse(text, "years.txt")
    assert [(each.file, each.row) for each in years.listing.findings] == [("years.txt", row)]
    assert words in years.listing.findings[0].problem and years.listing.findings[0].remedy
    assert [each.row for each in years.listing.rejected] == [row]


@pytest.mark.parametrize("text", ["", "Year\n1921\n", "Serial numbers of the mills\n", "Year  A  A\n1921  1  2"])
def test_what_is_no_list_is_refused(text: str) -> None:
    with pytest.raises(FileError, match="no year list"):
        parse(text)


def test_from_a_csv_file(tmp_path: Path) -> None:
    path = tmp_path / "years.csv"
    path.write_text('Year;Works A;Works B\n1921;"100,001";\n1924;101801;B1\n')
    years = read(path)
    assert {name: [(start.row, start.date, start.first) for start in starts] for name, starts in years.starts.items()} == {
        "Works A": [(2, "1921", 100001), (3, "1924", 101801)], "Works B": [(3, "1924", 1)],
    }  # fmt: skip
    with pytest.raises(FileError, match="cannot be read"):
        read(tmp_path / "nowhere.txt")


@pytest.mark.parametrize(("text", "hint"), [
    ("1921 A0001\n1922 AO801", True),  # the zeros in front
    ("1921 A1001\n1922 A17O1", True),  # no serial at all
    ("1921 A0001\n1922 A801", False),
    ("1921 FOX01\n1922 FOX001", False),  # an O among letters is a letter
])  # fmt: skip
def test_a_letter_o_beside_digits_is_asked_about(text: str, hint: bool) -> None:
    remedies = [each.remedy for each in parse(text).listing.findings]
    assert remedies and any("the letter O" in remedy for remedy in remedies) is hint
