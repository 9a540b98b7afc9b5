"""Every module, file and name of the program that a page or a docstring mentions is there."""

import ast
import importlib
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
PAGES = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").glob("*.md")])
FOLDERS = ("kb", "loaders", "benchmarks", "docs", "tests")
SOURCES = sorted(path for folder in FOLDERS for path in (ROOT / folder).rglob("*.py"))

_FILE = re.compile(r"(?<![\w/.~-])(?:kb|loaders|benchmarks|docs|tests|demo_data)/[\w./-]*[\w/]")
_NAME = re.compile(r"(?<![\w./@-])(?:kb|loaders|benchmarks)\.[a-z_]\w*(?:\.\w+)*")
_FILE_OF_A_USER = re.compile(r"kb\.(?:db|csv|json|sqlite)\b")
_FENCE = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)


def mentioned(text: str) -> Iterator[str]:
    """The paths of files and the dotted names of the program in a text, outside printed sessions."""
    prose = _FENCE.sub("", text)
    yield from (found[0].rstrip(".") for found in _FILE.finditer(prose))
    yield from (found[0] for found in _NAME.finditer(prose) if not _FILE_OF_A_USER.match(found[0]))


def exists(name: str) -> bool:
    """Whether a path is a file or folder, and a dotted name a module or something in one."""
    if "/" in name:
        return (ROOT / name).exists() or (ROOT / f"{name}.py").exists()
    parts = name.split(".")
    for length in range(len(parts), 0, -1):
        module = ROOT.joinpath(*parts[:length])
        if module.with_suffix(".py").exists() or (module / "__init__.py").exists():
            found: object = importlib.import_module(".".join(parts[:length]))
            for attribute in parts[length:]:
                if not hasattr(found, attribute):
                    return attribute in getattr(found, "__annotations__", {})
                found = getattr(found, attribute)
            return True
    return False


def docstrings(source: str) -> Iterator[str]:
    """The docstrings of a module, its classes and its functions."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            yield ast.get_docstring(node) or ""


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_what_a_page_names_is_there(page: Path) -> None:
    gone = [name for name in mentioned(page.read_text(encoding="utf-8")) if not exists(name)]
    assert not gone, f"{page.name} names what is not there: {', '.join(gone)}"


@pytest.mark.parametrize("source", SOURCES, ids=lambda source: str(source.relative_to(ROOT)))
def test_what_a_docstring_names_is_there(source: Path) -> None:
    texts = docstrings(source.read_text(encoding="utf-8"))
    gone = [name for text in texts for name in mentioned(text) if not exists(name)]
    assert not gone, f"{source.relative_to(ROOT)} names what is not there: {', '.join(gone)}"


@pytest.mark.parametrize(("text", "names", "there"), [
    ("`kb/words/errors.py`, the errors", ["kb/words/errors.py"], True),
    ("`kb/words` and", ["kb/words"], True),
    ("Marks are weighed in kb/channel/marks.py.", ["kb/channel/marks.py"], False),
    ("see kb.words.errors.KbError", ["kb.words.errors.KbError"], True),
    ("see kb.words.errors.NoSuchError", ["kb.words.errors.NoSuchError"], False),
    ("`kb.changeovers` estimates", ["kb.changeovers"], False),
    ("open kb.db, /kb/parts.json and https://example.org/kb/nothing", [], True),
    ("```\nkb/nowhere.py\n```", [], True),
])  # fmt: skip
def test_names_are_found_and_looked_up(text: str, names: list[str], there: bool) -> None:
    assert list(mentioned(text)) == names
    assert all(map(exists, names)) is there
