"""The knowledge bases that are asked: the demo, a large one, and one maker with many fitments. Each is built once a run."""

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path

from benchmarks.generator import generate
from benchmarks.truth import Truth
from kb.store.build import build
from loaders.folder import load

DEMO = Path(__file__).resolve().parent.parent / "demo_data" / "mills-and-pumps"


@cache
def demo() -> Path:
    """The demo, built."""
    return _built(DEMO, "demo")


@cache
def large() -> tuple[Path, Truth]:
    """500 change-overs and 100,000 marks, built."""
    folder = _room() / "large"
    truth = generate(folder, seed=1, change_overs=500, marks=100_000)
    return _built(folder, "large"), truth


@cache
def counter() -> tuple[Path, Truth]:
    """A parts seller's: 1,000,000 fitments, 200,000 parts, 100,000 marks, 500 change-overs, built."""
    folder = _room() / "counter"
    truth = generate(
        folder, seed=4, change_overs=500, marks=100_000, sightings=5000, parts=200_000, fitments=1_000_000, supersessions=20_000
    )
    return _built(folder, "counter"), truth


@cache
def million() -> tuple[Path, Truth]:
    """1,000,000 marks, 500 change-overs, 20,000 parts with 100,000 fitments, built."""
    folder = _room() / "million"
    truth = generate(folder, seed=3, change_overs=500, marks=1_000_000, parts=20_000, fitments=100_000, supersessions=2000)
    return _built(folder, "million"), truth


@cache
def well_stocked() -> tuple[Path, Truth]:
    """One maker with 40 components and 2,000 fitments, built."""
    folder = _room() / "stocked"
    truth = generate(folder, seed=2, makers=1, change_overs=40, marks=400, sightings=800, parts=1500, fitments=2000, supersessions=300)
    return _built(folder, "stocked"), truth


def _built(folder: Path, name: str) -> Path:
    loaded = load([folder])
    if loaded.wrong:
        raise AssertionError("\n".join(str(finding) for finding in loaded.findings[:10]))
    target = _room() / f"{name}.db"
    build(loaded.dataset, target, problems=loaded.problems, pictures=loaded.pictures)
    return target


@cache
def _room() -> Path:
    room = Path(tempfile.mkdtemp(prefix="kb-benchmarks-"))
    atexit.register(shutil.rmtree, room)
    return room
