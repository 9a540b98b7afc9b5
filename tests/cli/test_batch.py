"""A list of inquiries: every format in and out, the same answers as one question at a time, bad rows in place, and nothing taken for a formula."""

import csv
import json
import os
import socket
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner, Result
from pyarrow import Table, parquet

from kb import KnowledgeBase
from kb.batch.answering import InquiryRow, answer_chunk, task
from kb.batch.journal import Journal
from kb.batch.lock import RunLock
from kb.cli import main
from kb.desk.trade.inquiry import ANSWERS, heading, parse
from kb.desk.trade.sale import overall
from kb.words.errors import DataError, FileError

COLUMNS = ["customer", "part", "serial", "mark cover@left", "saw"]
ROWS = [
    ["=1+1", "1407", "B00100", "", ""],
    ["@anna", "1407", "B00412", "H4110A", ""],
    ["+bob", "1407 a", "B00?12", "", "cover@right.holes=4; cover@left.holes=4"],
    ["-carl", "1470", "B00100", "", ""],  # no such part
    ["dora", "", "B00500", "", ""],  # which parts fit
    ["erna", "", "", "", ""],  # asks nothing
    ["fritz", "1409", "B0[05", "", ""],  # no reading
    ["gerda", "1409", "B00600", "", "cover@left.holes=7"],  # no such value
]


def answers(result: Result, path: Path) -> list[dict[str, str]]:
    assert result.exit_code == 0, result.output
    with path.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def batch(db: Path, inquiries: Path, output: Path, *options: str) -> Result:
    return CliRunner().invoke(main, ["batch", str(inquiries), "-o", str(output), "--db", str(db), "--workers", "1", *options], catch_exceptions=False)


@pytest.fixture
def inquiries(tmp_path: Path) -> Path:
    path = tmp_path / "inquiries.csv"
    with path.open("w", encoding="utf-8", newline="") as opened:
        csv.writer(opened).writerows([COLUMNS, *ROWS])
    return path


def test_every_row_is_answered_in_its_order_and_a_bad_one_says_why(db: Path, inquiries: Path, tmp_path: Path) -> None:
    rows = answers(batch(db, inquiries, tmp_path / "out.csv"), tmp_path / "out.csv")
    assert list(rows[0]) == [*COLUMNS, "inquiry", *ANSWERS]
    numbers = [int(row["inquiry"]) for row in rows]
    assert numbers == sorted(numbers)
    assert set(numbers) == set(range(2, 2 + len(ROWS)))
    by_number = {int(row["inquiry"]): row for row in rows}
    assert by_number[2]["verdict"] == "fits"
    assert by_number[2]["order"] == "2 x 1407-A"  # for both places, the number that can be bought
    assert by_number[4]["answer_part"] == "1407-A"
    assert 'There is no part "1470". Did you mean 1407 (two characters swapped)' in by_number[5]["error"]
    assert [row["answer_part"] for row in rows if row["inquiry"] == "6"][0] == "1409"  # the most probable of several
    assert by_number[7]["error"].startswith("The row asks nothing.")
    assert "has a [ without its ]" in by_number[8]["error"]
    assert 'Answer "3", "4" or "other".' in by_number[9]["error"]
    assert all(bool(row["error"]) is not bool(row["verdict"]) for row in rows)


def test_the_same_as_one_question_at_a_time(db: Path, inquiries: Path, tmp_path: Path) -> None:
    rows = answers(batch(db, inquiries, tmp_path / "out.csv"), tmp_path / "out.csv")
    with KnowledgeBase.open(db) as book:
        for row in (row for row in rows if row["verdict"]):
            inquiry = dict(zip(COLUMNS, ROWS[int(row["inquiry"]) - 2], strict=True))
            evidence = {"serial": inquiry["serial"], "features": [each.strip() for each in inquiry["saw"].split(";") if each]}
            evidence |= {"marks": {"cover@left": inquiry["mark cover@left"]}} if inquiry["mark cover@left"] else {}
            fits = book.fits(row["answer_part"], book.identify(evidence))
            assert row["verdict"] == overall(fits)
            assert float(row["probability"]) == pytest.approx(min(fit.probability for fit in fits), abs=5e-5)
            assert row["places"] == "; ".join(f"{fit.name}: {fit.verdict}" for fit in fits)


@pytest.mark.parametrize("kind", ["csv", "xlsx", "jsonl", "parquet"])
def test_every_format_in_gives_the_same_answers(kind: str, db: Path, inquiries: Path, tmp_path: Path) -> None:
    other = tmp_path / f"in.{kind}"
    plain = [dict(zip(COLUMNS, row, strict=True)) for row in ROWS]
    if kind == "xlsx":
        book = openpyxl.Workbook()
        assert book.active is not None
        for line in [COLUMNS, *ROWS]:
            book.active.append(line)
        for row in book.active.iter_rows():
            for cell in row:
                cell.data_type = "s"
        book.save(other)
    elif kind == "jsonl":
        other.write_text("".join(json.dumps(row) + "\n" for row in plain))
    elif kind == "parquet":
        parquet.write_table(Table.from_pylist(plain), other)
    else:
        other = inquiries
    wanted = answers(batch(db, inquiries, tmp_path / "a.csv"), tmp_path / "a.csv")
    found = answers(batch(db, other, tmp_path / "b.csv"), tmp_path / "b.csv")
    ours = [name for name in ANSWERS if name != "inquiry"]
    assert [[row[name] for name in ours] for row in found] == [[row[name] for name in ours] for row in wanted]


@pytest.mark.parametrize("kind", ["csv", "xlsx", "jsonl", "parquet"])
def test_every_format_out_is_read_back_and_the_same_bytes_each_time(kind: str, db: Path, inquiries: Path, tmp_path: Path) -> None:
    first, second, plain = tmp_path / f"1.{kind}", tmp_path / f"2.{kind}", tmp_path / "plain.csv"
    assert batch(db, inquiries, first).exit_code == batch(db, inquiries, second, "--chunk", "1").exit_code == 0
    assert first.read_bytes() == second.read_bytes()
    wanted = answers(batch(db, inquiries, plain), plain)
    read: list[dict[str, Any]]
    if kind == "xlsx":
        lines = list(openpyxl.load_workbook(first).active.iter_rows(values_only=True))  # type: ignore[union-attr]
        read = [dict(zip(map(str, lines[0]), line, strict=True)) for line in lines[1:]]
    elif kind == "jsonl":
        read = [json.loads(line) for line in first.read_text().splitlines()]
    elif kind == "parquet":
        read = parquet.read_table(first).to_pylist()
    else:
        read = [dict(row) for row in wanted]
    assert [row["verdict"] or "" for row in read] == [row["verdict"] for row in wanted]
    assert [row["customer"].lstrip("'") for row in read] == [row["customer"].lstrip("'") for row in wanted]
    assert [float(row["probability"] or 0) for row in read] == [float(row["probability"] or 0) for row in wanted]


def test_nothing_comes_out_as_a_formula(db: Path, inquiries: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.xlsx"
    assert batch(db, inquiries, out).exit_code == 0
    for line in openpyxl.load_workbook(out).active.iter_rows():  # type: ignore[union-attr]
        for cell in line:
            assert cell.data_type != "f"
            if isinstance(cell.value, str) and cell.value[:1] in "=+-@":
                assert (cell.data_type, cell.quotePrefix) == ("s", True)
    rows = answers(batch(db, inquiries, tmp_path / "out.csv"), tmp_path / "out.csv")
    assert {row["customer"] for row in rows} >= {"'=1+1", "'@anna", "'+bob", "'-carl"}
    assert not any(cell[:1] in ("=", "+", "-", "@") for row in rows for cell in row.values() if cell)
    again = answers(batch(db, tmp_path / "out.csv", tmp_path / "again.csv"), tmp_path / "again.csv")  # answers asked again: no second apostrophe
    assert {row["customer"] for row in again} == {row["customer"] for row in rows}
    assert "kb_verdict" in again[0]


@pytest.mark.parametrize(("text", "field", "before"), [
    ("Part number", "part", ""),
    ("part", "part", ""),
    ("SERIAL", "serial", ""),
    ("serial frame", "serial", "frame"),
    ("mark:cover@left", "marks", "cover@left"),
    ("saw cover.holes", "features", "cover.holes"),
    ("cast-date", "cast_dates", ""),
    ("Again", "again", ""),
    ("again cover@left", "again", "cover@left"),
])
def test_headings_that_are_read(text: str, field: str, before: str) -> None:
    found = heading(text)
    assert found is not None
    assert (found.field, found.before) == (field, before)


@pytest.mark.parametrize("text", ["customer", "market", "sawdust", "part of town", "marked", ""])
def test_headings_that_are_only_carried_along(text: str) -> None:
    assert heading(text) is None


def test_costs_in_a_row_move_its_verdict(db: Path) -> None:
    row = {"part": "1407", "serial": "B00100"}
    with KnowledgeBase.open(db) as book:
        assert book.inquire(row)[0]["verdict"] == "fits"
        assert book.inquire(row | {"return_cost": "500", "sale_value": "5"})[0]["verdict"] == "check first"
        with pytest.raises(DataError, match="together"):
            book.inquire(row | {"return_cost": "500"})


def test_evidence_in_its_json_form() -> None:
    asked = parse({"part": "1407", "unit": {"serial": "B1", "marks": {"cover@left": "H4110A"}}}, {"part": heading("part"), "unit": heading("unit")})  # type: ignore[dict-item]
    assert [str(mark) for mark in asked.evidence.marks] == ["cover@left=H4110A"]


@pytest.mark.parametrize(("column", "cell"), [
    ("again", "serial:2=8; cover@left:3=B"), ("again cover@left", "3=B"), ("again cover@left:", "3=B"),
    ("again", ["cover@left:3=B"]), ("again", {"cover@left": "3=B"}),
])  # fmt: skip
def test_second_looks(column: str, cell: Any) -> None:
    row = {"serial": "B?1", "mark": "cover@left=H4?", column: cell}
    asked = parse(row, {name: found for name in row if (found := heading(name)) is not None})
    assert str(asked.evidence.again[-1]) == "cover@left:3=B"


def test_a_list_without_a_column_that_is_read_is_refused(db: Path, tmp_path: Path) -> None:
    (tmp_path / "in.csv").write_text("customer\nanna\n")
    result = batch(db, tmp_path / "in.csv", tmp_path / "out.csv")
    assert result.exit_code == 1
    assert "No column" in result.output
    assert [path.name for path in tmp_path.iterdir() if path.is_dir()] == []  # nothing is left of it


def test_the_list_itself_is_not_written_over_and_no_folder_is_made(db: Path, inquiries: Path, tmp_path: Path) -> None:
    before = inquiries.read_bytes()
    for output, said in ((inquiries, "is what the answer is made from"), (tmp_path / "no" / "out.csv", "There is no folder")):
        result = batch(db, inquiries, output)
        assert result.exit_code == 1
        assert said in result.output
    assert inquiries.read_bytes() == before
    assert not (tmp_path / "no").exists()


@pytest.mark.parametrize(("name", "data", "said"), [
    ("in.docx", b"x", "no known ending"),
    ("in.xlsx", b"not a workbook", "is no workbook"),
    ("in.parquet", b"not parquet", "is not Parquet"),
    ("in.csv", b"", "The file is empty"),
])
def test_what_is_no_list_is_refused(name: str, data: bytes, said: str, db: Path, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(data)
    result = batch(db, tmp_path / name, tmp_path / "out.csv")
    assert result.exit_code == 1
    assert said in result.output


def test_rows_that_cannot_be_read_stay_in_their_place(db: Path, tmp_path: Path) -> None:
    (tmp_path / "in.csv").write_bytes(b"part,serial\n1407,B00100\n1407,B00100,too,many\n1407,#REF!\n1407,B00100\n")
    rows = answers(batch(db, tmp_path / "in.csv", tmp_path / "out.csv"), tmp_path / "out.csv")
    assert [row["inquiry"] for row in rows] == ["2", "3", "4", "5"]
    assert [bool(row["error"]) for row in rows] == [False, True, True, False]
    (tmp_path / "in.jsonl").write_text('{"part": "1407", "serial": "B00100"}\nnot json\n[1]\n')
    rows = answers(batch(db, tmp_path / "in.jsonl", tmp_path / "o2.csv"), tmp_path / "o2.csv")
    assert [bool(row["error"]) for row in rows] == [False, True, True]


def test_another_list_begins_anew_and_the_same_goes_on(tmp_path: Path) -> None:
    folder, asked = tmp_path / ".out.unfinished", [InquiryRow({"part": "é"}, "", number) for number in range(10)]

    def journal(about: str, chunk: int) -> Journal:
        return Journal(folder, {"inquiries": about}, iter(asked), ["part"], chunk)

    def again(about: str) -> Journal:
        opened = journal(about, 5)
        opened.release()
        return opened

    first = journal("a", 3)
    first.keep(1, [[{"verdict": "fits"}]])
    with pytest.raises(FileError, match=rf'Process {os.getpid()} on .*, since 20.* is at work on "out"\.'):
        journal("b", 3)
    first.release()
    assert again("a").done == {1}
    assert again("a").chunk == 3
    assert (again("a").inquiries, again("a").left) == (10, [0, 2, 3])
    assert [each for index in range(first.chunks) for each in again("a").asked(index)] == asked
    (folder / "00000002.json").write_text('{"run": "')  # a chunk that is not whole is not taken
    assert again("a").done == {1}
    (folder / "00000002.json").write_text('{"run": "another", "answers": [[{"verdict": "fits"}]]}')  # nor one of another run
    assert again("a").done == {1}
    (folder / "run.json").unlink()  # killed while the list was being read
    assert again("a").done == set()
    assert again("b").done == set()


def test_the_lock_of_a_dead_process_is_taken_over_with_a_word_and_that_of_another_machine_left_while_chunks_come_in(tmp_path: Path) -> None:
    folder = tmp_path / ".out.unfinished"
    folder.mkdir()
    holder = {"pid": 77, "host": socket.gethostname(), "since": "2024-05-17 10:00:00+00:00"}
    (folder / "lock").write_text(json.dumps(holder))
    taken = RunLock(folder)
    assert taken.left_by.startswith("Process 77 on ")
    taken.release()
    free = RunLock(folder)
    assert free.left_by == ""
    free.release()
    (folder / "lock").write_text(json.dumps(holder | {"host": "another-machine"}))
    with pytest.raises(FileError, match="Process 77 on another-machine"):
        RunLock(folder)
    os.utime(folder / "lock", (0, 0))
    assert RunLock(folder).left_by.startswith("Process 77 on another-machine")


def test_a_worker_with_another_knowledge_base_refuses(db: Path) -> None:
    job = task(db, None)
    with pytest.raises(FileError, match="not the knowledge base"):
        answer_chunk(job._replace(digest="another"), [InquiryRow({"part": "1407"})])
