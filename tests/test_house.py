"""The house keeps its order: imports run downward, modules stay small, what is public says what it is, asking starts quickly."""

import ast
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

# From bottom to top. A room may import rooms before it and itself; those in one row are neighbours and may not import each other.
ROOMS = (
    {"kb.words", "kb.assumptions"},
    {"kb.output"},
    {"kb.probability.channel"},
    {"kb.probability.production"},
    {"kb.probability.inference"},
    {"kb.probability.dating"},
    {"kb.probability.catalogue"},
    {"kb.probability"},
    {"kb.dataset"},
    {"kb.store"},
    {"kb.desk.evidence"},
    {"kb.desk.sentences"},
    {"kb.desk.posterior"},
    {"kb.desk.advice"},
    {"kb.desk.identify"},
    {"kb.desk.fitment"},
    {"kb.desk.trade"},
    {"kb.desk.workshop"},
    {"kb.desk.review"},
    {"kb.desk"},
    {"kb.api"},
    {"kb"},  # kb/__init__.py, which names what the API promises
    {"kb.batch"},
    {"kb.cli", "kb.web"},
)
HEIGHT = {room: height for height, rooms in enumerate(ROOMS) for room in rooms}
GROUND = {"kb.words", "kb.assumptions"}  # assumptions raise the errors of words, words may use assumptions
OPEN_TO_LOADERS = {"loaders", "kb.words", "kb.output", "kb.assumptions", "kb.dataset"}
LONGEST = 400  # lines of a module: beyond that there is a second concept in it
MOST_FILES = 25  # modules of a folder
LARGEST_ROOM = 3_500  # lines

MODULES = sorted([*(ROOT / "kb").rglob("*.py"), *(ROOT / "loaders").rglob("*.py")])
ORACLE = sorted((ROOT / "tests" / "enumerator").rglob("*.py"))
PROGRAMS = sorted([*MODULES, *(ROOT / "benchmarks").rglob("*.py"), *(ROOT / "docs").rglob("*.py"), *(ROOT / "tests").rglob("*.py")])


def name_of(path: Path) -> str:
    """kb/words/errors.py -> kb.words.errors; a package by its folder."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def room_of(module: str) -> str:
    """kb.words.errors -> kb.words, kb.desk.advice.checks -> kb.desk.advice; everything under loaders is one room."""
    parts = module.split(".")
    return parts[0] if parts[0] != "kb" else ".".join(parts[: 3 if parts[1:2] in (["probability"], ["desk"]) else 2])


def imports_of(tree: ast.Module, module: str, is_package: bool) -> Iterator[tuple[int, str]]:
    """Line and absolute name of everything imported, those inside functions and under TYPE_CHECKING included."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            base = module.split(".")
            stem = base[: len(base) - node.level + is_package] if node.level else []
            target = ".".join([*stem, *([node.module] if node.module else [])])
            for alias in node.names:  # `from kb import words` imports kb.words; `from kb import Evidence` what kb/__init__.py promises
                below = f"{target}.{alias.name}"
                yield node.lineno, below if room_of(below) in HEIGHT else target


def may_import(importer: str, imported: str) -> bool:
    """Whether an arrow from one room to another runs downward."""
    if imported == importer or {importer, imported} == GROUND:
        return True
    if importer == "loaders":
        return imported in OPEN_TO_LOADERS
    if imported == "loaders":
        return importer == "kb.cli"
    return HEIGHT[imported] < HEIGHT[importer]


@pytest.mark.parametrize(("importer", "imported", "allowed"), [
    ("kb.probability.channel", "kb.words", True),
    ("kb.words", "kb.probability.channel", False),
    ("kb.words", "kb.assumptions", True),
    ("kb.assumptions", "kb.words", True),
    ("kb.desk", "kb.store", True),
    ("kb.store", "kb.desk", False),
    ("kb.cli", "kb.web", False),
    ("kb.web", "kb.api", True),
    ("kb.cli", "loaders", True),
    ("kb.store", "loaders", False),
    ("loaders", "kb.dataset", True),
    ("loaders", "kb.store", False),
    ("kb.desk.trade", "kb", False),
])
def test_the_rule_of_the_arrows(importer: str, imported: str, allowed: bool) -> None:
    assert may_import(importer, imported) is allowed


def test_imports_are_found_wherever_they_stand() -> None:
    source = "import kb.words\nfrom kb import store\nfrom .wear import M\ndef f():\n    from kb.desk.identify import warnings\n"
    found = [name for _, name in imports_of(ast.parse(source), "kb.probability.channel.reading", is_package=False)]
    assert found == ["kb.words", "kb.store", "kb.probability.channel.wear.M", "kb.desk.identify.warnings"]


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_imports_run_downward(path: Path) -> None:
    importer = room_of(name_of(path))
    assert importer in HEIGHT or importer == "loaders", f"{path.name} stands in no room of the house"
    for line, imported in imports_of(ast.parse(path.read_text(encoding="utf-8")), name_of(path), path.name == "__init__.py"):
        if imported.split(".")[0] in ("kb", "loaders"):
            assert may_import(importer, room_of(imported)), f"{path.relative_to(ROOT)}:{line} imports {imported}, which is not below {importer}"
        assert imported.split(".")[0] not in ("tests", "benchmarks"), f"{path.relative_to(ROOT)}:{line} imports {imported}: not part of the program"


def test_no_modules_import_each_other_in_a_circle() -> None:
    """Inside a room too, and those imported late or for their types included."""
    known = {name_of(path) for path in MODULES}
    arrows: dict[str, set[str]] = {}
    for path in MODULES:
        name = name_of(path)
        imported = {each for _, each in imports_of(ast.parse(path.read_text(encoding="utf-8")), name, path.name == "__init__.py")}
        arrows[name] = {each if each in known else each.rpartition(".")[0] for each in imported} & known - {name}
    assert {"kb.desk.posterior.examination", "kb.desk.advice.checks"} <= arrows["kb.desk.identify.identification"], "the arrows are not seen"
    TopologicalSorter(arrows).prepare()  # raises CycleError, which names the circle


VERBS = "select|insert|update|delete|create|drop|alter|pragma"
SQL = re.compile(rf"\s*({VERBS}|{VERBS.upper()})\b.*\b(from|into|set|table|index|view|FROM|INTO|SET|TABLE|INDEX|VIEW)\b", re.DOTALL)


def sql_in(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Line and text of every string that is a statement, f-strings and texts put together included."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and SQL.match(node.value):
            yield node.lineno, node.value
        if isinstance(node, ast.JoinedStr):
            text = "".join(str(part.value) if isinstance(part, ast.Constant) else "x" for part in node.values)
            if SQL.match(text):
                yield node.lineno, text


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_only_the_store_knows_sql(path: Path) -> None:
    if room_of(name_of(path)) == "kb.store":
        return
    tree = ast.parse(path.read_text(encoding="utf-8"))
    docstrings = {ast.get_docstring(node, clean=False) for node in ast.walk(tree) if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)}
    found = [(line, text) for line, text in sql_in(tree) if text not in docstrings]
    assert not found, f"{path.relative_to(ROOT)}:{found[0][0]} asks the file: put the select into kb/store, with a row type, and call it"
    names = {name.split(".")[0] for _, name in imports_of(tree, name_of(path), path.name == "__init__.py")}
    assert not names & {"sqlite3", "sqlite_utils"}, "only kb/store opens the file"


@pytest.mark.parametrize("source", [
    'rows("select * from parts")', 'rows(f"select {x} from {y}")', 'rows("SELECT a" " from b")', 'x = """\n  delete from t"""',
])  # fmt: skip
def test_a_statement_is_found_however_it_is_written(source: str) -> None:
    assert list(sql_in(ast.parse(source)))


def test_words_that_a_statement_may_begin_with_are_no_statement() -> None:
    assert not list(sql_in(ast.parse('say("Select a maker.", "With a mark from the list you know more.", "update")')))


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_rows_have_types(path: Path) -> None:
    """A row that is Any hides every misspelt column."""
    assert not re.search(r"^Row\b.*=\s*Any", path.read_text(encoding="utf-8"), re.MULTILINE)


def named(requirements: list[str]) -> set[str]:
    """The packages that lines of pyproject.toml name."""
    return {re.split(r"[\[<>=]", line)[0].replace("-", "_") for line in requirements}


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_the_program_needs_only_what_its_installation_brings(path: Path) -> None:
    """The developers' tools must not be needed to run it, not even by accident."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    declared = named(project["dependencies"]) | {"pydantic_core"}  # which pydantic pins
    tree = ast.parse(path.read_text(encoding="utf-8"))
    needed = {name.split(".")[0] for _, name in imports_of(tree, name_of(path), path.name == "__init__.py")}
    at_once = {name.split(".")[0] for node in tree.body for _, name in imports_of(ast.Module([node], []), name_of(path), False)
               if not isinstance(node, ast.FunctionDef | ast.ClassDef)}  # fmt: skip
    extras = {name for extra in ("dask", "parquet") for name in named(project["optional-dependencies"][extra])}
    needed -= extras - at_once  # asked for where it is used, with a message that names the extra
    assert needed - sys.stdlib_module_names - {"kb", "loaders"} <= declared


@pytest.mark.parametrize("path", ORACLE, ids=name_of)
def test_the_oracle_knows_nothing_of_the_program_but_its_assumptions(path: Path) -> None:
    names = {name for _, name in imports_of(ast.parse(path.read_text(encoding="utf-8")), name_of(path), path.name == "__init__.py")}
    assert {room_of(name) for name in names if name.split(".")[0] in ("kb", "loaders")} <= {"kb.assumptions"}


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_a_module_is_one_concept_read_in_one_sitting(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").count("\n")
    if path.name == "rows.py" and "Written by `make docs`" in path.read_text(encoding="utf-8"):  # a list of tables, not to be read but looked up
        return
    assert lines <= LONGEST, f"{path.relative_to(ROOT)} has {lines} lines; at {LONGEST} there is a second concept in it that wants its own module"


@pytest.mark.parametrize("folder", sorted({path.parent for path in MODULES}), ids=lambda folder: str(folder.relative_to(ROOT)))
def test_a_folder_is_seen_at_a_glance(folder: Path) -> None:
    files = len(list(folder.glob("*.py")))
    assert files <= MOST_FILES, f"{folder.relative_to(ROOT)} has {files} modules; beyond {MOST_FILES} it wants to be two rooms"


@pytest.mark.parametrize("room", sorted(HEIGHT, key=str))
def test_a_room_is_not_larger_than_one_person_knows_by_heart(room: str) -> None:
    lines = sum(path.read_text(encoding="utf-8").count("\n") for path in MODULES if room_of(name_of(path)) == room)
    assert lines <= LARGEST_ROOM, f"{room} has {lines} lines; beyond {LARGEST_ROOM} move a subject into a room of its own"


def unexplained_floats(source: str) -> list[int]:
    """Lines with a number between 0 and 1 that say neither "# display" (how an answer is shown) nor "# numeric" (rounding, search, geometry)."""
    lines = source.splitlines()
    found = {
        node.lineno for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Constant) and isinstance(node.value, float) and 0 < node.value < 1
    }
    return sorted(number for number in found if not re.search(r"# (?:display|numeric)\b", lines[number - 1]))


def test_a_number_that_nobody_explains_is_found() -> None:
    source = "A = 0.5\nB = 1.0\nC = 0.0\nD = 1e-9  # numeric: rounding\nE = (\n    0.25,  # display\n    0.75,\n)\nF = '0.5'\nG = f(x=.1)\n"
    assert unexplained_floats(source) == [1, 7, 10]


@pytest.mark.parametrize("path", [path for path in MODULES if name_of(path).startswith("kb.") and path.name != "assumptions.py"], ids=name_of)
def test_what_moves_a_probability_or_a_verdict_is_an_assumption(path: Path) -> None:
    found = unexplained_floats(path.read_text(encoding="utf-8"))
    where = ", ".join(f"{path.relative_to(ROOT)}:{line}" for line in found)
    assert not found, f"{where}: put it into kb/assumptions.py with its reason, or mark its line # display or # numeric"


# Names that two classes bear. Shorten this list, do not add to it: name a class after what it is in its own room.
TWICE = {
    "Block", "Change", "ChangeOver", "Line", "Option", "Outcome", "Problem", "Seek", "Seen",
    "Whole",
}  # fmt: skip


def named_twice(sources: dict[str, str]) -> dict[str, list[str]]:
    """Names of classes that stand in several of these sources, or more than once in one, and where."""
    found: dict[str, list[str]] = {}
    for where, source in sources.items():
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.ClassDef):
                found.setdefault(node.name, []).append(where)
    return {name: places for name, places in found.items() if len(places) > 1}


def test_a_name_that_is_given_twice_is_found() -> None:
    assert named_twice({"a": "class A:\n    class B: pass\n", "b": "def f():\n    class B: pass\n", "c": "class C: pass\n"}) == {"B": ["a", "b"]}


def test_no_two_classes_have_one_name() -> None:
    found = named_twice({str(path.relative_to(ROOT)): path.read_text(encoding="utf-8") for path in MODULES if room_of(name_of(path)) != "loaders"})
    assert not found.keys() - TWICE, {name: found[name] for name in found.keys() - TWICE}
    assert not TWICE - found.keys(), "these are named once now: strike them off the list"


def undocumented(tree: ast.Module) -> Iterator[str]:
    """Names of the module, its public functions, its public classes and their public methods that have no docstring."""
    if tree.body and not ast.get_docstring(tree):
        yield "the module itself"
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            if not ast.get_docstring(node):
                yield node.name
            for inner in node.body if isinstance(node, ast.ClassDef) else []:
                if isinstance(inner, ast.FunctionDef | ast.AsyncFunctionDef) and not inner.name.startswith("_") and not ast.get_docstring(inner):
                    yield f"{node.name}.{inner.name}"


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_what_is_public_says_what_it_is(path: Path) -> None:
    assert not list(undocumented(ast.parse(path.read_text(encoding="utf-8"))))


WRITING = {"write_text", "write_bytes", "touch", "mkstemp", "NamedTemporaryFile", "copyfile", "copy", "copy2", "symlink_to"}


def opens_for_writing(tree: ast.Module) -> Iterator[int]:
    """The lines on which a file is opened for writing, or written by name."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else node.func.id if isinstance(node.func, ast.Name) else ""
        owner = node.func.value.id if isinstance(node.func, ast.Attribute) and isinstance(node.func.value, ast.Name) else ""
        given = [*node.args, *(each.value for each in node.keywords if each.arg == "mode")]
        texts = [each.value for each in given if isinstance(each, ast.Constant) and isinstance(each.value, str)]
        flags = {each.attr for each in ast.walk(node) if isinstance(each, ast.Attribute)}
        if name == "open" and owner == "os":
            found = bool(flags & {"O_WRONLY", "O_RDWR", "O_CREAT", "O_APPEND", "O_TRUNC"})
        elif name == "open" and owner not in ("packed", "made", "kept"):  # members of a ZIP file that is open already
            found = any(re.fullmatch(r"[rbt]*[wax+][rbt+]*", text) for text in texts)
        elif name in WRITING:
            found = not (name.startswith("copy") and owner != "shutil")
        else:
            found = owner == "os" and name in ("replace", "rename", "write")
        if found:
            yield node.lineno


def test_opening_for_writing_is_found() -> None:
    source = "open('file')\nopen('file', 'w')\np.open('xb')\np.write_text('x')\nos.open(p, os.O_RDWR)\ntext.copy()\n"
    source += "open(p, mode='r+')\nos.replace(a, b)"
    assert list(opens_for_writing(ast.parse(source))) == [2, 3, 4, 5, 7, 8]


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_files_are_written_by_one_module_alone(path: Path) -> None:
    """It knows what must not be replaced, and that an old file stays until the new one is whole."""
    if name_of(path) == "kb.output.writing":
        return
    lines = list(opens_for_writing(ast.parse(path.read_text(encoding="utf-8"))))
    assert not lines, f"{path.relative_to(ROOT)}, lines {lines}: write with kb.output.writing"


def test_a_missing_docstring_is_found() -> None:
    source = '"""Doc."""\ndef f():\n    pass\nclass C:\n    """Doc."""\n    def m(self):\n        pass\n    def _n(self):\n        pass\n'
    assert list(undocumented(ast.parse(source))) == ["f", "C.m"]


# Written in halves, so that this file does not find itself.
LEFT_LYING = re.compile("TO" + "DO|FIX" + "ME|X" + "XX|NotImplemented" + r"Error|(mark|pytest)\.sk" + "ip|xf" + "ail")


@pytest.mark.parametrize("path", PROGRAMS, ids=name_of)
def test_nothing_is_left_lying_about(path: Path) -> None:
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        assert not LEFT_LYING.search(line), f"{path.relative_to(ROOT)}:{number}: {line.strip()}"


HEAVY = {"kb.words.records", "sqlite_utils", "datasette", "rapidfuzz", "loaders"}
QUESTIONS = {
    "identify": ["identify", "--serial", "1042?1", "--mark", "mill-frame=V12?7", "--json"],
    "identify, in words": ["identify", "--serial", "1042?1", "--mark", "mill-frame=V12?7"],
    "trace": ["trace", "6104"],
    "help": ["--help"],
}


@pytest.mark.parametrize("question", QUESTIONS)
def test_asking_starts_without_what_only_building_needs(question: str, demo_db: Path) -> None:
    """Run the command in a fresh process and look at what it has imported."""
    script = "import sys\nfrom kb.cli import main\ntry:\n    main()\nfinally:\n    print(*sorted(sys.modules), file=sys.stderr)"
    environment = {**os.environ, "KB_DB": str(demo_db)}
    done = subprocess.run([sys.executable, "-c", script, *QUESTIONS[question]], env=environment, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    modules = set(done.stderr.splitlines()[-1].split())
    assert "kb.cli" in modules
    assert not modules & HEAVY
