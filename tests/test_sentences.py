"""Sentences stand in one room, and each stands there once: what is said on terminal, page and paper is found, and put right, in one place."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from kb.desk.sentences.numbers import chance

ROOT = Path(__file__).resolve().parent.parent
SAYING = ROOT / "kb" / "desk" / "sentences"
# Below the room, or not said by the desk: errors and findings of records and rows, SQL, what the command line says of files and of its own work,
# descriptions of tables and of the interface, the texts of hazards, the notes of a supersession.
ELSEWHERE = (
    "kb/words", "kb/dataset", "kb/store", "kb/batch", "kb/cli", "kb/probability/production", "kb/probability/channel",
    "kb/probability/catalogue/hazards.py", "kb/probability/catalogue/trace.py", "kb/probability/catalogue/partnumbers.py",
    "kb/web/openapi.py", "kb/web/tables.py", "kb/web/server.py", "kb/web/problems.py", "kb/web/figures.py",
)  # fmt: skip
BACK = ("kb/cli/views",)  # of those, the views show answers and say nothing of their own but what is listed here
OF_THEIR_OWN = {"kb/cli/views/findings.py", "kb/cli/views/found.py", "kb/cli/views/readings.py", "kb/cli/views/stocked.py"}
ERRORS = re.compile(r"(Error|Problem|Finding|NotHere|suggestion|listed)$")
LONG, TWICE = 3, 6  # words


def text_of(node: ast.AST) -> str | None:
    """A literal, with {} for what is put into it."""
    if isinstance(node, ast.JoinedStr):
        return "".join(each.value if isinstance(each, ast.Constant) and isinstance(each.value, str) else "{}" for each in node.values)
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def literals(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Every literal that is neither documentation nor part of an error: line and text."""
    passed: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and text_of(node.value) is not None:
            passed.add(id(node.value))
        called = getattr(node.func, "id", getattr(node.func, "attr", "")) if isinstance(node, ast.Call) else ""
        named = [target.id for target in node.targets if isinstance(target, ast.Name)] if isinstance(node, ast.Assign) else []
        if isinstance(node, ast.Raise) or ERRORS.search(called) or {"remedy", "problem"} & set(named):
            passed.update(map(id, ast.walk(node)))
        if isinstance(node, ast.keyword) and node.arg in ("description", "help", "remedy", "problem"):
            passed.update(map(id, ast.walk(node)))
        if isinstance(node, ast.JoinedStr):
            passed.update(map(id, node.values))
    for node in ast.walk(tree):
        text = text_of(node) if id(node) not in passed else None
        if text is not None:
            yield getattr(node, "lineno", 0), text


def sentences(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Those of more than three words that end with a full stop."""
    for line, text in literals(tree):
        if len(re.findall(r"[^\W\d]+", text)) > LONG and text.rstrip().endswith("."):
            yield line, text


def looked_at(path: Path) -> bool:
    name = path.relative_to(ROOT).as_posix()
    return SAYING not in path.parents and (not name.startswith(ELSEWHERE) or (name.startswith(BACK) and name not in OF_THEIR_OWN))


PROGRAM = sorted((ROOT / "kb").rglob("*.py"))


@pytest.mark.parametrize("path", [path for path in PROGRAM if looked_at(path)], ids=lambda path: path.relative_to(ROOT).as_posix())
def test_sentences_are_made_in_their_room_only(path: Path) -> None:
    found = list(sentences(ast.parse(path.read_text(encoding="utf-8"))))
    assert not found, f"{path.relative_to(ROOT)}: put it into kb/desk/sentences, by its subject, and call it: {found}"


def test_a_sentence_outside_its_room_is_found() -> None:
    source = '''
"""A module may say this much of itself."""
SAID = "The unit is not known to us."
def f(x):
    """A function may say what it does here."""
    remedy = "Write it as the examples show."
    if x:
        raise QuestionError("This is what went wrong.", remedy)
    g(help="What the option is there for.", note=f"The unit {x} is not recorded here.")
    return "not a sentence, without a stop"
'''
    assert list(sentences(ast.parse(source))) == [(3, "The unit is not known to us."), (9, "The unit {} is not recorded here.")]


def phrases(path: Path) -> Iterator[str]:
    """The long phrases of a module or a template, without regard to case and to what is put into them."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".html":
        text = re.sub(r"\{([{%#]).*?[}%#]\}", "\0", re.sub(r"<(style|script).*?</\1>", "\0", text, flags=re.DOTALL), flags=re.DOTALL)
        pieces = re.split(r"<[^>]*>|\0", text)
    else:
        pieces = [piece for _, piece in literals(ast.parse(text)) if not re.match(r"\s*(select|insert|create|with)\b|<", piece)]
    for piece in pieces:
        plain = " ".join(re.sub(r"\{[^}]*\}", "{}", piece).lower().split()).strip(".,;: ")
        if len(re.findall(r"[^\W\d]+", plain)) > TWICE:
            yield plain


def twice(paths: list[Path]) -> dict[str, list[str]]:
    """The phrases that stand in several files."""
    found: dict[str, dict[str, None]] = {}
    for path in paths:
        for phrase in phrases(path):
            found.setdefault(phrase, {})[path.name] = None
    return {phrase: list(files) for phrase, files in found.items() if len(files) > 1}


def test_no_sentence_stands_twice() -> None:
    """What stands in two files is one phrase of kb/desk/sentences that both call."""
    assert twice([*PROGRAM, *sorted((ROOT / "kb").rglob("*.html"))]) == {}


def test_a_sentence_that_stands_twice_is_found(tmp_path: Path) -> None:
    (tmp_path / "a.py").write_text('"""Doc."""\nA = "Nothing of it can be had for any money today."\n')
    (tmp_path / "b.html").write_text("<p>{{ x }}</p><p>Nothing of it can be had\n for any money today.</p>")
    assert list(twice([tmp_path / "a.py", tmp_path / "b.html"]).values()) == [["a.py", "b.html"]]


FRACTIONS = {
    "about 19 in 20": 19 / 20, "about nine in ten": 9 / 10, "about four in five": 4 / 5, "about three in four": 3 / 4, "about two in three": 2 / 3,
    "about three in five": 3 / 5, "about even": 1 / 2, "about two in five": 2 / 5, "about one in three": 1 / 3, "about one in four": 1 / 4,
    "about one in five": 1 / 5, "about one in seven": 1 / 7, "about one in ten": 1 / 10, "about one in 20": 1 / 20,
}  # fmt: skip


@pytest.mark.parametrize(("probability", "said"), [
    (1.0, "almost certain"), (0.995, "almost certain"), (0.97, "very likely"), (0.95, "about 19 in 20"), (0.9, "about nine in ten"),
    (0.8, "about four in five"), (0.75, "about three in four"), (0.67, "about two in three"), (0.6, "about three in five"), (0.5, "about even"),
    (0.4, "about two in five"), (0.33, "about one in three"), (0.25, "about one in four"), (0.2, "about one in five"), (0.14, "about one in seven"),
    (0.1, "about one in ten"), (0.05, "about one in 20"), (0.02, "unlikely"), (0.001, "hardly possible"), (0.0, "hardly possible"),
])  # fmt: skip
def test_a_chance_is_said_as_one_would_say_it(probability: float, said: str) -> None:
    assert chance(probability) == said


def test_a_fraction_is_never_far_from_what_it_stands_for() -> None:
    """Over 0..1, and every one of them is said somewhere."""
    told = {chance(step / 1000) for step in range(1001)}
    assert set(FRACTIONS) <= told
    for step in range(1001):
        said = FRACTIONS.get(chance(step / 1000))
        assert said is None or abs(said - step / 1000) <= 0.051, (step, chance(step / 1000))
