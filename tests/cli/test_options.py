"""The evidence options: the same notation on every command, from a file, or both; and what is refused with which exit code."""

import json
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from kb.cli import Commands
from kb.cli.options import evidence_options
from kb.words.evidence import Evidence


@click.group(cls=Commands)
def group() -> None:
    pass


@group.command()
@evidence_options
def ask(evidence: Evidence, replaced_rate: float | None) -> None:
    """Say back what was understood."""
    click.echo(json.dumps({**evidence.model_dump(), "rate": replaced_rate}))


def run(*arguments: str, stdin: str = "") -> Result:
    return CliRunner().invoke(group, ["ask", *arguments], input=stdin)


@pytest.mark.parametrize(("arguments", "understood"), [
    ([], {}),
    (["--maker", "orlop", "--model", "m-1"], {"maker": "orlop", "model": "m-1"}),
    (["--serial", "2?5[38]61"], {"serial": ["2?5[38]61"]}),
    (["--serial", "engine=E41*", "--serial", "B?1"], {"serial": ["engine=E41*", "B?1"]}),
    (["--mark", "H41?0B", "--mark", "cover@left=none"], {"marks": ["H41?0B", "cover@left=none"]}),
    (["--saw", "cover@left.holes=3", "--saw", "shaft.width=34.9mm"], {"features": ["cover@left.holes=3", "shaft.width=34.9mm"]}),
    (["--cast-date", "cover@left=C 14 8"], {"cast_dates": ["cover@left=C 14 8"]}),
    (["--again", "serial:2=8", "--again", "cover@left:3=b"], {"again": ["serial:2=8", "cover@left:3=B"]}),
    (["--wear", "badly-worn"], {"wear": "badly-worn"}),
    (["--replaced-rate", "0.2"], {"rate": 0.2}),
])
def test_options_are_evidence(arguments: list[str], understood: dict[str, Any]) -> None:
    result = run(*arguments)
    assert result.exit_code == 0, result.output
    assert json.loads(result.output) == {"rate": None, **understood}


def test_a_file_and_options_add_up_and_options_win(tmp_path: Path) -> None:
    unit = tmp_path / "unit.json"
    unit.write_text(json.dumps({"maker": "orlop", "serial": "B?1", "marks": {"cover@left": "H41"}}), "utf-8")
    result = run("--unit", str(unit), "--maker", "other", "--mark", "cover@right=H42")
    assert json.loads(result.output) == {"maker": "other", "serial": ["B?1"], "marks": ["cover@left=H41", "cover@right=H42"], "rate": None}


def test_an_answer_is_a_unit_too() -> None:
    answer = {"evidence": {"serial": ["B?1"]}, "units": [], "rest": 0}
    assert json.loads(run("--unit", "-", stdin=json.dumps(answer)).output) == {"serial": ["B?1"], "rate": None}


def test_a_file_with_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    (tmp_path / "unit.json").write_bytes(b"\xef\xbb\xbf{}")
    assert run("--unit", str(tmp_path / "unit.json")).exit_code == 0


@pytest.mark.parametrize(("arguments", "stdin", "said"), [
    (["--mark", "cover="], "", 'Error: "cover=" has no reading.\nWrite what can be read: ?'),
    (["--saw", "cover=3"], "", 'Error: "cover=3" does not say what was seen.\nWrite COMPONENT.FEATURE=VALUE'),
    (["--cast-date", "C148"], "", 'Error: "C148" does not name the component.\n'),
    (["--unit", "nowhere.json"], "", 'Error: "nowhere.json" cannot be read: No such file or directory.\nName a JSON file with --unit'),
    (["--unit", "-"], "{'serial'}", "Error: standard input is not JSON: Expecting property name enclosed in double quotes: line 1"),
    (["--unit", "-"], "", 'Error: standard input is not JSON: Expecting value: line 1 column 1 (char 0).\nWrite {"serial": "2?5[38]61"'),
    (["--unit", "-"], "[" * 100_000, "Error: standard input is not JSON: maximum recursion depth exceeded"),
    (["--unit", "-"], "[1]", "Error: Evidence is not a JSON object."),
    (["--unit", "-"], '{"seriel": "B1"}', "Error: Evidence, seriel: Extra inputs are not permitted.\nEvidence has maker, model, serial"),
])
def test_a_wrong_question_is_a_message_and_exit_code_1(arguments: list[str], stdin: str, said: str) -> None:
    result = run(*arguments, stdin=stdin)
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.startswith(said)
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize("arguments", [["--wear", "rusty"], ["--replaced-rate", "3"], ["--seriel", "B1"], ["extra"]])
def test_wrong_usage_is_exit_code_2(arguments: list[str]) -> None:
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith("Usage:")
