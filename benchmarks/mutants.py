"""Small faults put into the rules one at a time, to see which test notices: `python -m benchmarks.mutants [COUNT] [SEED]`.

A mutant is the program with one operator, comparison or number changed. The tests of its room run first, then those that compare the program
with the plain second implementation of the model. A mutant that no test notices either changes nothing that anybody could see, and
docs/mutants.md says why, or it shows a test that is missing. Each runs in a copy of the project; the project itself is left alone.
"""

import ast
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "mutants.md"
COUNT, SEED = 60, 1
ROOMS = {
    "kb/probability/channel": ("tests/probability/channel", "tests/desk/identify"),
    "kb/probability/production": ("tests/probability/production", "tests/desk/review"),
    "kb/probability/inference": ("tests/probability/inference",),
    "kb/probability/catalogue": ("tests/probability/catalogue", "tests/desk/trade", "tests/desk/test_stories.py"),
    "kb/probability/dating": ("tests/probability/dating", "tests/desk/identify"),
    "kb/desk/fitment": ("tests/desk/fitment", "tests/desk/test_stories.py", "tests/desk/trade"),
}
ENUMERATED = (
    "tests/test_enumerator.py", "tests/desk/test_against_enumerator.py", "tests/desk/advice/test_advice_against_enumerator.py",
    "tests/docs/test_answers.py",
)  # fmt: skip
LEAST_TIME = 60.0  # seconds before a run is taken to hang, and at least
TIMES = 4  # as long as the program without a fault takes

_OTHER: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change of one place. `number`: which of its file's."""

    file: str
    line: int
    was: str
    now: str
    number: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}  {self.was}  ->  {self.now}"


def places(tree: ast.AST) -> Iterator[ast.AST]:
    """Every node whose meaning can be changed, in the order of the source; annotations mean nothing when the program runs."""
    for name, value in ast.iter_fields(tree):
        if name in ("annotation", "returns") or (isinstance(tree, ast.JoinedStr) and name == "values"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                if changed(child):
                    yield child
                yield from places(child)


def changed(node: ast.AST, change: bool = False) -> bool:
    """Whether a node can be changed, and on request the change itself."""
    if isinstance(node, ast.Compare) and type(node.ops[0]) in _OTHER:
        if change:
            node.ops[0] = _OTHER[type(node.ops[0])]()  # type: ignore[call-overload]
    elif isinstance(node, ast.BinOp | ast.BoolOp | ast.AugAssign) and type(node.op) in _OTHER:
        if isinstance(node, ast.BinOp) and any(isinstance(side, ast.JoinedStr) or _is_text(side) for side in (node.left, node.right)):
            return False
        if change:
            node.op = _OTHER[type(node.op)]()  # type: ignore[assignment]
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        if change:
            node.op = ast.UAdd() if isinstance(node.op, ast.USub) else ast.Not()
            node.operand = node.operand if isinstance(node.op, ast.UAdd) else ast.UnaryOp(ast.Not(), node.operand)
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        if change:
            node.value = _another(node.value)
    else:
        return False
    return True


def _another(value: float) -> float:
    if isinstance(value, bool):
        return not value
    return value + 1 if isinstance(value, int) else value * 1.5 + 0.01


def _is_text(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def mutants_of(file: str) -> list[Mutant]:
    """All mutants of a file."""
    found = []
    source = (ROOT / file).read_text(encoding="utf-8")
    for number, node in enumerate(list(places(ast.parse(source)))):
        was = ast.unparse(node)
        changed(node, change=True)
        found.append(Mutant(file, getattr(node, "lineno", 0), was, ast.unparse(node), number))
    return found


def mutated(mutant: Mutant) -> str:
    """The source of the file with the one change."""
    tree = ast.parse((ROOT / mutant.file).read_text(encoding="utf-8"))
    changed(list(places(tree))[mutant.number], change=True)
    return ast.unparse(ast.fix_missing_locations(tree)) + "\n"


def sample(count: int, seed: int) -> list[Mutant]:
    """As many mutants, drawn at random from all rooms."""
    files = sorted(path.relative_to(ROOT).as_posix() for room in ROOMS for path in (ROOT / room).rglob("*.py"))
    every = [mutant for file in files for mutant in mutants_of(file)]
    return sorted(random.Random(seed).sample(every, min(count, len(every))), key=lambda mutant: (mutant.file, mutant.line))


def explained() -> dict[tuple[str, str], str]:
    """Of the table in docs/mutants.md: why a mutant may live, by its file and its change."""
    rows = re.findall(r"^\| (kb/\S+) \| `` (.*?) `` \| (.+?) \|$", PAGE.read_text(encoding="utf-8"), re.MULTILINE) if PAGE.exists() else []
    return {(file, change): why for file, change, why in rows}


def room_of(file: str) -> str:
    """The room that a file stands in."""
    return next(room for room in ROOMS if file.startswith(room + "/"))


def noticed(copy: Path, room: str, limit: float) -> str:
    """The first test that fails in a copy; "" if none does."""
    tests = [test for test in ROOMS[room] if (copy / test).exists()]
    for chosen in (tests, ENUMERATED):
        command = [sys.executable, "-m", "pytest", "-q", "-x", "--no-header", "--tb=no", "-p", "no:cacheprovider", "-p", "no:xdist", *chosen]
        settings = {"PYTHONDONTWRITEBYTECODE": "1", "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(copy)}
        try:
            done = subprocess.run(command, cwd=copy, env={**os.environ, **settings}, capture_output=True, text=True, timeout=limit)
        except subprocess.TimeoutExpired:
            return "it hangs"
        if done.returncode:
            failed = re.search(r"^(?:FAILED|ERROR) (\S+)", done.stdout, re.MULTILINE)
            return failed[1] if failed else "it does not start"
    return ""


def main(count: int = COUNT, seed: int = SEED) -> int:
    """Try the mutants and print a table. Returns 1 if one lives that docs/mutants.md does not explain."""
    chosen, known = sample(count, seed), explained()
    workers = os.cpu_count() or 1
    with tempfile.TemporaryDirectory(prefix="kb-mutants-") as name:
        copies: SimpleQueue[Path] = SimpleQueue()
        for number in range(workers):
            copy = Path(name) / str(number)
            for part in ("kb", "loaders", "tests", "docs", "demo_data", "benchmarks", "pyproject.toml", "README.md"):
                take = shutil.copytree if (ROOT / part).is_dir() else shutil.copy
                copy.mkdir(exist_ok=True)
                take(ROOT / part, copy / part)
            copies.put(copy)

        def tried(mutant: Mutant | None, room: str, limit: float) -> str:
            copy = copies.get()
            try:
                if mutant is None:
                    return noticed(copy, room, limit)
                (copy / mutant.file).write_text(mutated(mutant), encoding="utf-8")
                return noticed(copy, room, limit)
            finally:
                if mutant is not None:
                    shutil.copy(ROOT / mutant.file, copy / mutant.file)
                copies.put(copy)

        with ThreadPoolExecutor(workers) as pool:
            rooms = sorted({room_of(mutant.file) for mutant in chosen})
            begin = time.monotonic()
            if wrong := {room: test for room, test in zip(rooms, pool.map(lambda room: tried(None, room, 1800.0), rooms), strict=True) if test}:
                print(f"These tests fail without any fault put in: {wrong}", file=sys.stderr)
                return 2
            limit = max(LEAST_TIME, TIMES * (time.monotonic() - begin))
            lives = []
            for mutant, by in zip(chosen, pool.map(lambda mutant: tried(mutant, room_of(mutant.file), limit), chosen), strict=True):
                why = known.get((mutant.file, f"{mutant.was} -> {mutant.now}"), "")
                print(f"{mutant}\n    {by or f'may live: {why}' if by or why else 'SURVIVED'}", flush=True)
                if not by:
                    lives.append((mutant, why))
    unexplained = [mutant for mutant, why in lives if not why]
    print(f"\n{len(chosen)} mutants (seed {seed}): {len(chosen) - len(lives)} noticed, {len(lives)} live, {len(unexplained)} of these unexplained.")
    return 1 if unexplained else 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
