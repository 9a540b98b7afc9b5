"""Whatever is in a file, the loader answers with findings; it never crashes, and never loses a row silently."""

import csv
import io
import tempfile
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from kb.words.errors import FileError
from kb.words.records import TABLES
from loaders.csvtable import parse
from loaders.folder import load
from loaders.inquiries import rows

junk = st.one_of(
    st.binary(max_size=200),
    st.text(alphabet='ab1,;\t"\r\n\0#é =', max_size=200).map(lambda text: text.encode("utf-8", "replace")),
)


@given(junk)
@example(b'"')
@example(b'a,b\n"x\n')
@example(b"a\xff,b\n1,2\n")
@example(b"sep=;\n")
@example(b"\xef\xbb\xbf")
def test_any_bytes_are_a_table_with_faults(data: bytes) -> None:
    table = parse(data)
    assert table.readable or table.faults
    assert all(len(cells) == len(table.header) for _, cells in table.rows)
    assert all(fault.problem and fault.remedy for fault in table.faults)


@given(junk, st.sampled_from(["csv", "jsonl"]))
@example(b"a,b\n1,2,3\n1,2\n#REF!,2\n\n3,4", "csv")
def test_any_list_of_inquiries_comes_row_by_row_in_its_order_or_is_refused(data: bytes, kind: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path, columns = Path(folder) / f"list.{kind}", list[str]()
        path.write_bytes(data)
        try:
            numbers = [row.number for row in rows(path, columns)]
        except FileError as error:
            assert str(error)
            return
    assert columns
    assert numbers == sorted(set(numbers))
    if kind == "csv":
        table = parse(data)
        assert numbers == sorted([*(row for row, _ in table.rows), *(row for row, _ in table.left_out)])


@given(junk, st.sampled_from(sorted(TABLES)))
def test_any_file_is_a_dataset_with_findings(data: bytes, table: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / f"{table}.csv").write_bytes(data)
        loaded = load([folder])
    assert all(finding.problem and finding.remedy for finding in loaded.findings)
    assert len(getattr(loaded.dataset, table)) == 0 or loaded.counts[f"{table}.csv"] > 0


cell = st.text(st.characters(blacklist_categories=["Cs", "Cc"], blacklist_characters="#"), min_size=1, max_size=8).filter(
    lambda text: text.strip() == text and text.strip(" \t\u00a0\ufeff") == text
)


@given(st.lists(st.tuples(cell, cell, cell), min_size=1, max_size=8), st.sampled_from([",", ";", "\t"]), st.sampled_from(["\n", "\r\n"]))
def test_what_a_csv_writer_writes_is_read_again(rows: list[tuple[str, str, str]], separator: str, end: str) -> None:
    """Oracle: `csv.writer` of the standard library."""
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=separator, lineterminator=end).writerows([("a", "b", "c"), *rows])
    table = parse(text.getvalue().encode())
    assert table.faults == []
    assert [tuple(cells) for _, cells in table.rows] == rows


@pytest.mark.parametrize("table", TABLES)
def test_a_file_with_only_its_header_has_no_rows(tmp_path: Path, table: str) -> None:
    (tmp_path / f"{table}.csv").write_text(",".join(TABLES[table].model_fields) + "\n", "utf-8")
    loaded = load([tmp_path])
    assert loaded.findings == ()
    assert loaded.counts == {f"{table}.csv": 0}
