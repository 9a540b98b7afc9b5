"""What is written replaces nothing but an older file of its own kind, as a whole or not at all."""

import json
import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest

from kb.output import writing as output
from kb.output.kinds import DATABASE, PAGE, PDF, TABLE_NAMES, UNIT, WORKBOOK, Kind, answers
from kb.words.errors import FileError
from kb.words.records import TABLES

VERDICTS = answers(["inquiry", "verdict"])
OLDER = {
    DATABASE: b"SQLite format 3\0" + bytes(100) + b"CREATE TABLE build_info",
    UNIT: b'{"evidence": {}, "units": []}',
    PAGE: b'<!doctype html>\n<html><meta name="generator" content="kb">',
    PDF: b"%PDF-1.7 /Producer (WeasyPrint)",
    VERDICTS: b"part,inquiry,kb_verdict\n6104,2,fits\n",
}
OTHERS = [
    b"SQLite format 3\0" + bytes(100) + b"CREATE TABLE moz_places", b'{"name": "package"}', b"[1, 2]", b"<!doctype html><p>mine", b"%PDF-1.4 scan",
    b"part,price\n6104,12.50\n", b"PK\3\4 no zip", b"PAR1 inquiry", b"a letter", b"\xff\xd8\xff\xe0 JFIF",
]  # fmt: skip


def test_the_names_of_the_tables_are_those_of_the_records() -> None:
    assert frozenset(TABLES) == TABLE_NAMES


@pytest.mark.parametrize("kind", OLDER, ids=lambda kind: kind.name)
def test_an_older_file_of_the_kind_is_replaced_and_anything_else_only_by_force(kind: Kind, tmp_path: Path) -> None:
    path = tmp_path / "target"
    for older in (None, b"", OLDER[kind]):
        path.unlink(missing_ok=True)
        if older is not None:
            path.write_bytes(older)
        output.write(path, b"new", kind)
        assert path.read_bytes() == b"new"
    for other in [*OTHERS, *(data for each, data in OLDER.items() if each is not kind)]:
        path.write_bytes(other)
        with pytest.raises(FileError, match=f"is there already, and is not {kind.name}"):
            output.write(path, b"new", kind)
        assert path.read_bytes() == other
        output.write(path, b"new", kind, force=True)
        assert path.read_bytes() == b"new"
    assert os.listdir(tmp_path) == ["target"]


@pytest.mark.parametrize("kind", [*OLDER, WORKBOOK], ids=lambda kind: kind.name)
def test_what_is_no_plain_file_is_refused_by_force_too(kind: Kind, tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "real").write_bytes(OLDER.get(kind, b""))
    (tmp_path / "link").symlink_to(tmp_path / "real")
    (tmp_path / "dangling").symlink_to(tmp_path / "nothing")
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "parts.csv").write_text("part_number,description\n")
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "my list.csv").write_text("anything\n")
    (tmp_path / "datapackage.json").write_text(json.dumps({"resources": [{"name": "parts", "path": "data/my list.csv"}]}))
    refused = {
        "folder": "is a folder", "link": "is a link to another file", "dangling": "is a link", "pipe": "is a device or a pipe",
        "parts.csv": "is a file of a dataset", "data/my list.csv": "is a file of a dataset", "datapackage.json": "is a file of a dataset",
        "no/where": "There is no folder",
    }  # fmt: skip
    for name, said in {**refused, "/dev/null": "is a device or a pipe"}.items():
        with pytest.raises(FileError, match=said):
            output.write(tmp_path / name, b"new", kind, force=True)
    assert (tmp_path / "parts.csv").read_text() == "part_number,description\n"
    assert not (tmp_path / "nothing").exists()


def test_the_own_input_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(OLDER[VERDICTS])
    with pytest.raises(FileError, match="is what the answer is made from"):
        output.write(path, b"new", VERDICTS, inputs=[tmp_path / "nothing", tmp_path / "." / "list.csv"])


FULL = """
import resource, signal, sys
from pathlib import Path
from kb.output import writing as output
from kb.output.kinds import UNIT
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
try:
    output.write(Path(sys.argv[1]), b"x" * 2000, UNIT)
except Exception as error:
    sys.exit(f"{type(error).__name__} {error}")
"""


def test_a_full_disk_leaves_the_old_file_whole_and_nothing_else(tmp_path: Path) -> None:
    """A limit of the system on the size of files stands for the disk."""
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] != 1000
    path = tmp_path / "unit.json"
    path.write_bytes(OLDER[UNIT])
    done = subprocess.run([sys.executable, "-c", FULL, str(path)], capture_output=True, text=True, timeout=60)
    assert done.stderr.startswith("FileError") and "cannot be written: File too large" in done.stderr
    assert path.read_bytes() == OLDER[UNIT]
    assert os.listdir(tmp_path) == ["unit.json"]


def test_what_a_killed_writer_left_is_gone_after_the_next_one(tmp_path: Path) -> None:
    (tmp_path / ".unit.json.abc.unfinished").write_bytes(b"half")
    with output.place(tmp_path / "unit.json") as at_work:
        output.write(tmp_path / "unit.json", b"new", UNIT)
        assert at_work.exists(), "that of a living one stays"
        output.put(at_work, b"newer")
    assert os.listdir(tmp_path) == ["unit.json"]
    assert (tmp_path / "unit.json").read_bytes() == b"newer"
