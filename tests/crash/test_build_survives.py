"""`kb build` under hard conditions: killed at any moment, a full disk, a read-only folder, two builds at once.

The promise: the target file is at every moment either the old one or the new one, complete; a broken build leaves nothing that
trips the next one; what the system refuses is reported in one plain message. The builds are processes, because those get killed.
"""

import ctypes
import random
import resource
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

KB = [str(Path(sys.executable).with_name("kb"))]
PR_CAPBSET_DROP, CAP_DAC_OVERRIDE = 24, 1  # linux/prctl.h, linux/capability.h


@pytest.fixture(scope="module")
def dataset(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """So many rows that writing them is a good part of the work, and little to estimate."""
    folder = tmp_path_factory.mktemp("dataset")
    parts = "".join(f"14{number:06},Seal number {number},original,each,yes,no\n" for number in range(20_000))
    rows = {
        "sources.csv": "source_id,title,kind,grade\nlist,Parts list 7,parts list,B\n",
        "makers.csv": "maker_id,name\nharrow,Harrow & Sons\n",
        "series.csv": "series_id,maker_id,name,stamped_on\nframe,harrow,Frame numbers,head lug\n",
        "blocks.csv": "block_id,series_id,position,first,last,source_id\none,frame,1,1,5000,list\n",
        "parts.csv": f"part_number,description,kind,unit,available,safety_critical\n{parts}",
    }
    for name, text in rows.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def layer(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A second folder, so that the file built from both is another one."""
    folder = tmp_path_factory.mktemp("layer")
    (folder / "sources.csv").write_text("source_id,title,kind,grade\nmy-notes,My notes,other,D\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def whole(dataset: Path, layer: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, bytes]:
    """The bytes of the old file (one folder) and of the new one (with the layer), each built in peace."""
    folder = tmp_path_factory.mktemp("whole")
    for name, folders in (("old", [dataset]), ("new", [dataset, layer])):
        subprocess.run([*KB, "build", *folders, "--db", folder / name], check=True, capture_output=True, timeout=120)
    old, new = (folder / "old").read_bytes(), (folder / "new").read_bytes()
    assert old != new
    return old, new


def start(dataset: Path, layer: Path, target: Path, before: Callable[[], None] | None = None) -> "subprocess.Popen[str]":
    """Begin to build the new file."""
    return subprocess.Popen(
        [*KB, "build", dataset, layer, "--db", target], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, preexec_fn=before
    )


def put(target: Path, data: bytes) -> None:
    target.unlink(missing_ok=True)
    target.write_bytes(data)
    target.chmod(0o444)


def assert_refused(build: "subprocess.Popen[str]", *words: str) -> None:
    """Exit code 1 and one plain message on stderr."""
    out, err = build.communicate(timeout=120)
    assert build.returncode == 1, (build.returncode, out, err)
    assert "Traceback" not in err
    assert any(word in err for word in words), err


def test_a_killed_build_leaves_the_old_file_or_the_new_one_and_the_next_one_is_not_hindered(
    dataset: Path, layer: Path, whole: tuple[bytes, bytes], tmp_path: Path, campaign: bool
) -> None:
    old, new = whole
    target = tmp_path / "kb.db"
    put(target, old)
    begin = time.monotonic()
    start(dataset, layer, target).communicate(timeout=120)
    usual = time.monotonic() - begin
    assert target.read_bytes() == new

    dice = random.Random(None if campaign else 9)
    killed = 0
    for round_ in range(100 if campaign else 8):
        put(target, old)
        build = start(dataset, layer, target)
        if round_ % 2:  # at any moment
            time.sleep(dice.uniform(0.2, 1.0) * usual)
        else:  # while it is writing
            while build.poll() is None and len(list(tmp_path.iterdir())) == 1:
                time.sleep(0.001)
            time.sleep(dice.uniform(0.0, 0.3) * usual)
        build.send_signal(signal.SIGKILL)
        build.communicate(timeout=120)
        killed += build.returncode == -signal.SIGKILL
        assert target.read_bytes() in (old, new), "half a file"
        with sqlite3.connect(f"file:{target}?mode=ro", uri=True) as file:
            assert file.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        file.close()
    assert killed, "every build was faster than its killer"

    put(target, old)
    build = start(dataset, layer, target)
    _, err = build.communicate(timeout=120)
    assert build.returncode == 0, err
    assert target.read_bytes() == new
    assert [path.name for path in tmp_path.iterdir()] == ["kb.db"], "what the killed builds left must be gone after the next one"


@pytest.mark.parametrize("share", [0.02, 0.5, 0.97])
def test_a_full_disk_is_a_plain_message_and_the_old_file_stays(
    dataset: Path, layer: Path, whole: tuple[bytes, bytes], tmp_path: Path, share: float
) -> None:
    """No file of the process may grow beyond a share of what is needed: the system refuses the write as on a full disk."""
    old, new = whole
    target = tmp_path / "kb.db"
    put(target, old)
    most = int(len(new) * share)
    assert_refused(start(dataset, layer, target, lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))), "space", "could not be written")
    assert target.read_bytes() == old
    assert [path.name for path in tmp_path.iterdir()] == ["kb.db"]


def _without_root_rights() -> None:
    """Root writes anywhere; without this capability it does not. For anybody else the system refuses this call, and it is not needed."""
    ctypes.CDLL(None).prctl(PR_CAPBSET_DROP, CAP_DAC_OVERRIDE, 0, 0, 0)


@pytest.mark.parametrize("exists", [False, True])
def test_a_folder_that_must_not_be_written_is_a_plain_message(
    dataset: Path, layer: Path, whole: tuple[bytes, bytes], tmp_path: Path, exists: bool
) -> None:
    folder = tmp_path / "locked"
    folder.mkdir()
    target = folder / "kb.db"
    if exists:
        put(target, whole[0])
    folder.chmod(0o555)
    try:
        assert_refused(start(dataset, layer, target, _without_root_rights), "cannot be written")
    finally:
        folder.chmod(0o755)
    assert [path.name for path in folder.iterdir()] == ["kb.db"] * exists


def test_a_folder_that_is_not_there_is_a_plain_message(dataset: Path, layer: Path, tmp_path: Path) -> None:
    assert_refused(start(dataset, layer, tmp_path / "nowhere" / "kb.db"), "nowhere")
    assert not (tmp_path / "nowhere").exists()


def test_two_builds_at_once_make_one_whole_file(dataset: Path, layer: Path, whole: tuple[bytes, bytes], tmp_path: Path, campaign: bool) -> None:
    old, new = whole
    target = tmp_path / "kb.db"
    for _ in range(20 if campaign else 2):
        target.unlink(missing_ok=True)
        builds = [start(dataset, layer, target), subprocess.Popen([*KB, "build", dataset, "--db", target], stderr=subprocess.PIPE, text=True)]
        ends = [(build.communicate(timeout=120)[1], build.returncode) for build in builds]
        assert all(code in (0, 1) and "Traceback" not in err for err, code in ends), ends
        assert any(code == 0 for _, code in ends), ends
        assert target.read_bytes() in (old, new)
        assert [path.name for path in tmp_path.iterdir()] == ["kb.db"]


def test_a_stopped_build_can_be_started_again(dataset: Path, layer: Path, whole: tuple[bytes, bytes], tmp_path: Path) -> None:
    """Ctrl-C is not a crash: nothing is left, and no traceback is shown."""
    target = tmp_path / "kb.db"
    put(target, whole[0])
    build = start(dataset, layer, target)
    time.sleep(0.8)
    build.send_signal(signal.SIGINT)
    _, err = build.communicate(timeout=120)
    assert "Traceback" not in err
    assert target.read_bytes() in whole
    assert [path.name for path in tmp_path.iterdir()] == ["kb.db"]
