"""A damaged file, a file of another format and a file that is not a knowledge base are refused before anything is answered from them."""

import json
import random
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from kb.cli import main
from kb.store.book import Book
from kb.store.seal import FORMAT, check_seal, seal
from kb.store.verify import verify_database
from kb.words.errors import FileError

DAMAGES = 100  # of each kind; `make campaign` makes ten times as many
QUESTION = ["identify", "--serial", "C1542", "--mark", "gear-case=18-E25", "--json"]

Damage = Callable[[bytearray, random.Random], None]


def flip_a_bit(data: bytearray, rng: random.Random) -> None:
    data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)


def zero_a_sector(data: bytearray, rng: random.Random) -> None:
    start = next(at for at in iter(lambda: rng.randrange(0, len(data), 512), None) if any(data[at : at + 512]))
    data[start : start + 512] = bytes(512)


def swap_two_pages(data: bytearray, rng: random.Random) -> None:
    while True:
        one, two = (4096 * rng.randrange(1, len(data) // 4096) for _ in range(2))
        if data[one : one + 4096] != data[two : two + 4096]:
            data[one : one + 4096], data[two : two + 4096] = data[two : two + 4096], data[one : one + 4096]
            return


def cut_the_end_off(data: bytearray, rng: random.Random) -> None:
    del data[rng.randrange(len(data)) :]


def append(data: bytearray, rng: random.Random) -> None:
    data.extend(rng.randbytes(rng.randrange(1, 5000)))


def other_letters(data: bytearray, rng: random.Random) -> None:
    """What is read without an error: another digit in a text."""
    digits = [at for at in (rng.randrange(4096, len(data)) for _ in range(4000)) if 48 <= data[at] <= 57]
    at = digits[0]
    data[at] = 48 + (data[at] - 48 + 1) % 10


DAMAGED_BY = (flip_a_bit, zero_a_sector, swap_two_pages, cut_the_end_off, append, other_letters)


@pytest.mark.parametrize("damage", DAMAGED_BY, ids=lambda each: each.__name__)
def test_no_damage_is_answered_from(damage: Damage, demo_db: Path, tmp_path: Path, campaign: bool) -> None:
    whole, damaged, rng = demo_db.read_bytes(), tmp_path / "kb.db", random.Random(damage.__name__)
    for _ in range(DAMAGES * (10 if campaign else 1)):
        data = bytearray(whole)
        damage(data, rng)
        damaged.write_bytes(data)
        with pytest.raises(FileError):
            Book(damaged)


def test_every_byte_of_the_header_counts(demo_db: Path, tmp_path: Path) -> None:
    whole, damaged = demo_db.read_bytes(), tmp_path / "kb.db"
    for at in range(100):
        data = bytearray(whole)
        data[at] ^= 0xFF
        damaged.write_bytes(data)
        with pytest.raises(FileError):
            check_seal(damaged)


def test_the_command_says_that_the_file_is_damaged_and_what_to_do(demo_db: Path, tmp_path: Path) -> None:
    data = bytearray(demo_db.read_bytes())
    data[len(data) // 2] ^= 1
    (tmp_path / "kb.db").write_bytes(data)
    result = CliRunner().invoke(main, [*QUESTION, "--db", str(tmp_path / "kb.db")])
    assert result.exit_code == 1 and result.stdout == ""
    assert "is damaged" in result.stderr and "Build it again" in result.stderr and "Traceback" not in result.stderr


def test_another_format_is_named_with_what_to_do(demo_db: Path, tmp_path: Path) -> None:
    other = tmp_path / "kb.db"
    other.write_bytes(demo_db.read_bytes())
    data = bytearray(other.read_bytes())
    data[68:72] = (0x4B42_0000 | (FORMAT + 1)).to_bytes(4, "big")
    other.write_bytes(data)
    with pytest.raises(FileError, match=f"has format {FORMAT + 1}; this version reads format {FORMAT}") as caught:
        Book(other)
    assert caught.value.remedy.startswith("Build it again with this version")


def test_a_database_of_somebody_else_and_one_of_an_older_version_are_refused(tmp_path: Path) -> None:
    connection = sqlite3.connect(tmp_path / "other.db")
    connection.execute("create table build_info (name text, value text)")
    connection.execute("insert into build_info values ('format', '1')")
    connection.commit()
    connection.close()
    with pytest.raises(FileError, match="not a knowledge base of this format"):
        Book(tmp_path / "other.db")


@pytest.mark.parametrize("content", [b"", b"SQLite format 3\0", b"no database", bytes(4096)])
def test_what_is_no_database_is_refused(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "kb.db").write_bytes(content)
    with pytest.raises(FileError, match="is not a knowledge base"):
        Book(tmp_path / "kb.db")


def test_a_sealed_file_is_whole_for_everybody(demo_db: Path) -> None:
    verified = verify_database(demo_db)
    assert verified.rows["sightings"] > 0 and len(verified.sha256) == 64
    connection = sqlite3.connect(f"file:{demo_db}?mode=ro&immutable=1", uri=True)
    assert connection.execute("pragma integrity_check").fetchall() == [("ok",)]
    assert connection.execute("pragma application_id").fetchone()[0] & 0xFFFF == FORMAT
    connection.close()


def test_rows_that_are_missing_are_missed_even_under_a_fresh_seal(demo_db: Path, tmp_path: Path) -> None:
    copy = tmp_path / "kb.db"
    shutil.copyfile(demo_db, copy)
    connection = sqlite3.connect(copy)
    connection.execute("delete from readings where rowid = 1")
    connection.commit()
    connection.close()
    seal(copy)
    with pytest.raises(FileError, match="readings has . rows where the build stored"):
        verify_database(copy)


def test_the_command_says_that_a_file_is_whole(demo_db: Path) -> None:
    result = CliRunner().invoke(main, ["verify", str(demo_db)])
    assert result.exit_code == 0 and "is whole" in result.stdout and verify_database(demo_db).sha256 in result.stdout
    told = json.loads(CliRunner().invoke(main, ["verify", str(demo_db), "--json"]).stdout)
    assert told["rows"]["sightings"] == 300 and told["public"] is False


def test_the_command_refuses_a_damaged_file(demo_db: Path, tmp_path: Path) -> None:
    data = bytearray(demo_db.read_bytes())
    data[-1] ^= 1
    (tmp_path / "kb.db").write_bytes(data)
    result = CliRunner().invoke(main, ["verify", str(tmp_path / "kb.db"), "--json"])
    assert result.exit_code == 1 and result.stdout == "" and "is damaged" in result.stderr
