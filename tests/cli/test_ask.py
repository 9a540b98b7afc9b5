"""Every question: the JSON is the answer of the API, the text says what matters, and a wrong question gets an error that says how to mend it."""

import json
import os
import pty
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from pydantic import BaseModel

from kb import Evidence, KnowledgeBase
from kb.cli import main

LATE = ["--serial", "B00420"]
SEEN = [*LATE, "--mark", "cover@left=H4120B", "--mark", "cover@right=H4120B"]


def ask(db: Path, *arguments: str) -> Result:
    return CliRunner(env={"KB_DB": str(db)}).invoke(main, list(arguments), catch_exceptions=False)


def plain(answer: Any) -> Any:
    return answer.model_dump(mode="json") if isinstance(answer, BaseModel) else [each.model_dump(mode="json") for each in answer]


@pytest.mark.parametrize(("arguments", "question"), [
    (["identify", *LATE, "--mark", "cover@left=H41?0A"], lambda book: book.identify(Evidence(serial="B00420", marks={"cover@left": "H41?0A"}))),
    (["identify", "--serial", "B004?0", "--wear", "badly-worn", "--saw", "cover@left.holes=3", "--replaced-rate", "0.3"],
     lambda book: book.identify(Evidence(serial="B004?0", wear="badly-worn", features={"cover@left.holes": "3"}), replaced_rate=0.3)),
    (["casting", "H41?0B", "--wear", "worn", "--maker", "orlop"], lambda book: book.casting("H41?0B", wear="worn", maker="orlop")),
    (["casting", "H41?0B", "--again", "4=2", "--again", "1=h"], lambda book: book.casting("H41?0B", again={4: "2", 1: "H"})),
    (["fits", "1407", *LATE], lambda book: book.fits("1407", Evidence(serial="B00420"))),
    (["fits", "1407", *LATE, "--mark", "cover@left=H4110A", "--for", "as-built"],
     lambda book: book.fits("1407", Evidence(serial="B00420", marks={"cover@left": "H4110A"}), for_="as-built")),
    (["parts", *LATE, "--assembly", "drive", "--all"], lambda book: book.parts(Evidence(serial="B00420"), assembly="drive", everything=True)),
    (["parts", *LATE], lambda book: book.parts(Evidence(serial="B00420"))),
    (["units", "1409"], lambda book: book.units("1409")),
    (["trace", "1407"], lambda book: book.current("1407")),
    (["review", "--series", "frame", "--component", "cover"], lambda book: book.review(series="frame", component="cover")),
    (["review", "--readings"], lambda book: book.review_readings()),
])  # fmt: skip
def test_json_is_the_answer_of_the_api(db: Path, arguments: list[str], question: Any) -> None:
    result = ask(db, *arguments, "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    with KnowledgeBase.open(db) as book:
        assert json.loads(result.stdout) == plain(question(book))


@pytest.mark.parametrize(("arguments", "said"), [
    (["identify", *LATE], ["M1: ", "block B00001 to B00500", "Cover (left) ", "late "]),
    (["identify", "--serial", "B00880", "--mark", "cover@left=H4110A"], ["early (replaced since?)", "Does not go together"]),
    (["identify", "--serial", "ZZ99"], ["Not in this knowledge base: "]),
    (["casting", "H412?B"], ["H4120B", "Cover: late"]),
    (["fits", "1409", *SEEN], ["FITS  1409, Seal 38 mm: Cover (left)\n", "FITS  1409, Seal 38 mm: Cover (right)\n", "[Parts list, 1948, p. 12,"]),
    (["fits", "1407", *SEEN], ["DOES NOT FIT  1407, Seal 35 mm: Cover (left)\n", "  1407-A         1  does not fit"]),
    (["parts", *SEEN], ["Fits", "1409", "2 x 1409"]),
    (["units", "1409"], ["Fits ", "Check first", "B00521 to B00900  late (left, right)"]),
    (["trace", "1407"], ["1407: can be bought today\n  - 1407-A", "1407 -> 1407-A [Bulletin 7]"]),
    (["review"], ["Cover: early to late (Frame numbers)", "First new one: B00412, almost certain", "1 sighting counted."]),
    (["review", "--readings"], ["No confirmed reading is recorded, so nothing was learned", "kb add reading --reading"]),
])
def test_text_says_what_matters(db: Path, arguments: list[str], said: list[str]) -> None:
    result = ask(db, *arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    for each in said:
        assert each in result.stdout
    assert max(map(len, result.stdout.splitlines())) <= 80


@pytest.mark.parametrize(("arguments", "said"), [
    (["identify", "--serial", "B[04"], ['"B[04" has a [ without its ].', 'Write one of these as in "2[38]5".']),
    (["identify", "--mark", "cylinder=H41"], ['"cylinder"']),
    (["identify", "--saw", "cover@left.holes=purple"], ["purple"]),
    (["identify", "--maker", "Orlap"], ['There is no maker "Orlap" in this knowledge base.', "Did you mean"]),
    (["casting", "H41?0B", "--again", "9=2"], ["H41?0B has no character 9 to look at again.", "from 1 to 6"]),
    (["casting", "H41?0B", "--again", "4"], ['"4" does not say what a second look showed.', '"3=8"']),
    (["fits", "1408"], ['There is no part "1408".', "Did you mean 1407 (8 for 7) or 1409 (8 for 9)?"]),
    (["fits", "14*7"], ["14*7"]),
    (["parts", "--assembly", "wings"], ['There is no assembly "wings"']),
    (["review", "--series", "frames"], ['There is no series "frames"']),
])
def test_a_wrong_question_is_answered_with_a_remedy_and_exit_code_1(db: Path, arguments: list[str], said: list[str]) -> None:
    result = ask(db, *arguments)
    assert (result.exit_code, result.stdout) == (1, "")
    for each in said:
        assert each in result.stderr
    assert result.stderr.startswith("Error: ")
    assert len(result.stderr.splitlines()) == 2, "problem and remedy"


def test_one_answer_is_the_next_question(db: Path) -> None:
    found = ask(db, "identify", *LATE, "--mark", "cover@left=H4110A", "--json").stdout
    piped = CliRunner(env={"KB_DB": str(db)}).invoke(main, ["fits", "1407", "--unit", "-", "--json"], input=found)
    assert json.loads(piped.stdout) == json.loads(ask(db, "fits", "1407", *LATE, "--mark", "cover@left=H4110A", "--json").stdout)


@pytest.mark.parametrize("environment", [{}, {"NO_COLOR": "1"}, {"FORCE_COLOR": "1"}, {"TERM": "xterm-256color", "COLUMNS": "300"}])
def test_in_a_pipe_no_colours_no_progress_and_80_columns(db: Path, environment: dict[str, str]) -> None:
    here = {"PYTHONPATH": str(Path(__file__).resolve().parents[2])}
    program = [sys.executable, "-m", "kb.cli", "identify", *LATE, "--db", str(db)]
    result = subprocess.run(program, capture_output=True, text=True, env={**os.environ, **here, **environment})
    assert (result.returncode, result.stderr) == (0, "")
    assert "\x1b" not in result.stdout
    assert max(map(len, result.stdout.splitlines())) <= 80


@pytest.mark.parametrize(("environment", "coloured"), [({}, True), ({"NO_COLOR": "1"}, False)])
def test_on_a_terminal_colours_unless_the_user_wants_none(db: Path, environment: dict[str, str], coloured: bool) -> None:
    here = {"PYTHONPATH": str(Path(__file__).resolve().parents[2]), "TERM": "xterm-256color", "COLUMNS": "90"}
    plain_environment = {name: value for name, value in os.environ.items() if name not in ("NO_COLOR", "FORCE_COLOR")}
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "kb.cli", "fits", "1409", *SEEN, "--db", str(db)], stdout=theirs, env={**plain_environment, **here, **environment}
    )
    os.close(theirs)
    said = b""
    while True:
        try:
            piece = os.read(ours, 65536)
        except OSError:  # the other end is closed
            break
        if not piece:
            break
        said += piece
    os.close(ours)
    assert process.wait(timeout=60) == 0
    assert (b"\x1b[1;32m" in said) is coloured
    assert b"FITS" in said
