"""A CSV file byte by byte: what an edit leaves alone, and that others read it the same way.

Source: RFC 4180, and what spreadsheets write instead. Oracle: the csv module of the standard library.
"""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.dataset.csvbytes import CsvBytes, new_file
from kb.words.errors import DataError


@pytest.mark.parametrize(("data", "added", "expected"), [
    (b"a,b\n1,2\n", {"a": "3", "b": "4"}, b"a,b\n1,2\n3,4\n"),
    (b"a,b\n1,2", {"a": "3"}, b"a,b\n1,2\n3,\n"),  # no line end at the end of the file
    (b"a,b\n", {"b": "4"}, b"a,b\n,4\n"),
    (b"a,b", {"b": "4"}, b"a,b\n,4\n"),
    (b"a;b\r\n1;2\r\n", {"a": "x;y", "b": '"'}, b'a;b\r\n1;2\r\n"x;y";""""\r\n'),
    (b"a\tb\r1\t2\r", {"a": "x,y"}, b"a\tb\r1\t2\rx,y\t\r"),
    (b"\xef\xbb\xbfa,b\n1,2\n", {"a": "\xf6"}, b"\xef\xbb\xbfa,b\n1,2\n\xc3\xb6,\n"),
    (b"sep=;\r\na;b\r\n1;2\r\n", {"a": "3"}, b"sep=;\r\na;b\r\n1;2\r\n3;\r\n"),
    (b'"a","b"\n"1","x ""y"""\n', {"a": "3"}, b'"a","b"\n"1","x ""y"""\n3,\n'),
    (b"a,b\n1,2\n", {"a": "two\nlines"}, b'a,b\n1,2\n"two\nlines",\n'),
    (b"\na,b\n1,2\n\n,\n", {"a": "3"}, b"\na,b\n1,2\n\n,\n3,\n"),
    (b"a,b,,\n1,2,,\n", {"a": "3"}, b"a,b,,\n1,2,,\n3,\n"),
    (b"a,b\n1,2\n", {"a": "3", "c": "5"}, b"a,b,c\n1,2,\n3,,5\n"),  # a column the file lacks
    (b"a,b\n1,2\n", {"a": "3", "c": ""}, b"a,b\n1,2\n3,\n"),  # not for nothing
    (b"a,b,,\n1,2,,\n\n", {"c": "5"}, b"a,b,c\n1,2,\n\n,,5\n"),
])  # fmt: skip
def test_a_row_is_appended_and_the_rest_stays(data: bytes, added: dict[str, str], expected: bytes) -> None:
    assert CsvBytes(data).edited([added]) == expected


@pytest.mark.parametrize(("data", "changed", "expected"), [
    (b"a,b\n1,2\n3,4\n", {(2, "b"): "x"}, b"a,b\n1,x\n3,4\n"),
    (b'a,b\n"1","2"\n3,4\n', {(2, "b"): "x, y", (3, "a"): ""}, b'a,b\n"1","x, y"\n,4\n'),
    (b"a,b\r\n\r\n1,2\r\n", {(3, "a"): "x"}, b"a,b\r\n\r\nx,2\r\n"),
    (b'a,b\n"1\n1",2\n3,4\n', {(3, "a"): "x"}, b'a,b\n"1\n1",2\nx,4\n'),  # a cell with a line break is still one row
    (b"a,b\n1,2\n3,4\n", {(2, "c"): "x"}, b"a,b,c\n1,2,x\n3,4,\n"),
    (b"a,b\n1,2\n3,4", {(3, "d"): "y", (2, "c"): "x"}, b"a,b,d,c\n1,2,,x\n3,4,y,"),
])  # fmt: skip
def test_a_cell_is_changed_and_the_rest_stays(data: bytes, changed: dict[tuple[int, str], str], expected: bytes) -> None:
    assert CsvBytes(data).edited([], changed) == expected


@pytest.mark.parametrize(("data", "words"), [(b"", "empty"), (b"\n,,\n", "empty"), (b'a,b\n"1,2\n', "never closed"), (b"a,b\n\xe9,2\n", "UTF-8")])
def test_a_file_that_cannot_be_written_to_is_refused(data: bytes, words: str) -> None:
    with pytest.raises(DataError, match=words):
        CsvBytes(data)


CELLS = st.text(alphabet='ab1 ,;\t"\n\r', max_size=5)


@given(st.lists(st.lists(CELLS, min_size=2, max_size=2), max_size=4), st.sampled_from([",", ";", "\t"]), st.sampled_from(["\n", "\r\n", "\r"]))
def test_cells_are_found_where_the_csv_module_finds_them(rows: list[list[str]], separator: str, line_end: str) -> None:
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator=line_end, quoting=csv.QUOTE_ALL).writerows([["a", "b"], *rows])
    held = CsvBytes(out.getvalue().encode())
    read = list(csv.reader(io.StringIO(out.getvalue(), newline=""), delimiter=separator))
    expected = [[cell.strip(" \t") for cell in [*cells, "", ""][:2]] for cells in read[1:]]
    assert [[held.cell(row, name) for name in ("a", "b")] for row in range(2, len(read) + 1)] == expected
    assert held.edited() == out.getvalue().encode()
    appended = held.edited([{"a": "x", "b": "y"}])
    assert appended == out.getvalue().encode() + f"x{separator}y{line_end}".encode()


@given(st.text(alphabet='ab,"\n;', max_size=20))
def test_whatever_stands_in_a_file_is_read_as_the_csv_module_reads_it_or_refused(text: str) -> None:
    text = "a,b\n" + text
    try:
        held = CsvBytes(text.encode())
    except DataError as error:
        assert "never closed" in error.problem
        return
    read = list(csv.reader(io.StringIO(text, newline="")))
    assert held.next_row == len(read) + 1
    for row, cells in enumerate(read[1:], 2):
        assert held.cell(row, "a") == (cells[0] if cells else "").strip(" \t")


def test_a_new_file_has_all_columns_and_quotes_what_needs_it() -> None:
    assert new_file(["a", "b"], [["1", "x, y"], ["", "z"]]) == b'a,b\n1,"x, y"\n,z\n'
