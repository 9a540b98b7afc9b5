"""What an expert would say, written down from the data and the trade; the demo must say it.

cases.csv: who asks what, what somebody who knows these machines answers, and which words of that the answer has to hold, or must not hold.
"""

import csv
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from kb.cli import main

with (Path(__file__).parent / "cases.csv").open(encoding="utf-8", newline="") as file:
    CASES = list(csv.DictReader(file))


def test_there_is_a_table_for_each_of_the_three() -> None:
    assert {case["who"] for case in CASES} == {"restorer", "seller", "archivist"} and len(CASES) >= 20
    assert all(case["must_say"] and case["expert"] for case in CASES)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["case"])
def test_the_answer_is_the_expert_s(case: dict[str, str], demo_db: Path) -> None:
    result = CliRunner().invoke(main, [*shlex.split(case["command"]), "--db", str(demo_db)])
    assert result.exit_code == 0, result.output
    said = " ".join(result.stdout.split()).lower()
    missing = [each for each in case["must_say"].split("|") if each.lower() not in said]
    wrong = [each for each in case["must_not_say"].split("|") if each and " ".join(each.split()).lower() in said]
    assert (missing, wrong) == ([], []), f"{case['expert']}\n\n{result.stdout}"
