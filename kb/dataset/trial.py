"""A change tried on a copy of a dataset folder: what would `kb check` say that it does not say now?"""

import os
import tempfile
from collections import Counter
from collections.abc import Mapping
from pathlib import Path

from kb.dataset.changes import Held, Load
from kb.output.writing import copied, scratch
from kb.words.errors import FileError, Finding


def as_it_is(folder: Path, load: Load) -> Held | None:
    """The folder as it stands; None if it holds no file yet.

    Raises:
        FileError: there is no such folder.
    """
    if not folder.is_dir():
        raise FileError(f'"{folder}" is not a folder.', "Name the folder that holds the CSV files; kb template writes an empty one.")
    empty = not any(path.suffix.lower() == ".csv" or path.name == "datapackage.json" for path in folder.iterdir())
    return None if empty else load([folder])


def with_files(folder: Path, changed: Mapping[str, bytes], load: Load) -> Held:
    """The folder as the loader reads it with some files changed (bytes by their path in it), without changing it."""
    with tempfile.TemporaryDirectory(prefix="kb-") as name:
        copy = Path(name) / folder.resolve().name
        copy.mkdir()
        within = {Path(path): data for path, data in changed.items()}
        _mirror(folder, copy, Path(), set(within))
        for path, data in within.items():
            (copy / path).parent.mkdir(parents=True, exist_ok=True)
            scratch(copy / path, data)
        return load([copy])


def news(before: Held | None, after: Held, severity: str) -> list[Finding]:
    """Findings that were not there before. One whose words alone have changed is an old one."""
    old = Counter(_place(each) for each in before.findings) if before else Counter()
    found = []
    for each in after.findings:
        if each.severity != severity:
            continue
        if old[_place(each)] > 0:
            old[_place(each)] -= 1
        else:
            found.append(each)
    return found


def _mirror(folder: Path, copy: Path, at: Path, changed: set[Path]) -> None:
    """The same files under the same names: other names for them where the system can, copies where it cannot.

    No symbolic links: a picture that is one is refused where it leads out of the folder.
    """
    for each in (folder / at).iterdir():
        path = at / each.name
        if each.name.startswith("."):
            continue
        if each.is_dir():
            (copy / path).mkdir()
            _mirror(folder, copy, path, changed)
        elif path not in changed:
            try:
                os.link(each, copy / path, follow_symlinks=False)
            except OSError:
                copied(each, copy / path)


def _place(each: Finding) -> tuple[str, str, int, str, str]:
    return each.severity, each.file, each.row, each.column, each.value
