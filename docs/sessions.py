"""Terminal sessions in the pages: run them, and write their real output back.

A fenced block marked `console` is a session: lines that begin with `$ ` are typed, what follows is what the program answers. A line `...`
stands for any number of lines left out. `python docs/sessions.py build/kb.db` rewrites every session that leaves nothing out; the tests run
them all. Numbers in JSON are shown to six decimals.
"""

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
_BLOCK = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Session:
    """One command and the answer printed below it."""

    command: str
    answer: str

    @property
    def shortened(self) -> bool:
        """Lines are left out."""
        return "..." in self.answer.splitlines()

    def agrees(self, real: str) -> bool:
        """The real answer is the printed one, with anything where lines are left out; JSON to six decimals."""
        if self.answer.startswith(("{", "[")) and not self.shortened:
            return _shown(real) == self.answer
        parts = [re.escape(part.strip("\n")) for part in re.split(r"^\.\.\.$", self.answer.rstrip("\n"), flags=re.MULTILINE)]
        return re.fullmatch(r"(?:.*\n)?".join(rf"{part}\n?" if part else "" for part in parts), real.rstrip("\n") + "\n", re.DOTALL) is not None


def sessions(page: str) -> Iterator[Session]:
    """The sessions of a page, in order."""
    for block in _BLOCK.findall(page):
        for typed in re.split(r"^(?=\$ )", block, flags=re.MULTILINE):
            if typed:
                command, _, answer = typed[2:].partition("\n")
                while command.endswith("\\"):
                    more, _, answer = answer.partition("\n")
                    command = f"{command}\n{more}"
                yield Session(command, answer)


def run(command: str, database: Path) -> str:
    """What a command answers, on standard output and error, as on a terminal of 80 columns without colours."""
    settings = {"KB_DB": str(database), "COLUMNS": "80", "NO_COLOR": "1", "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"}
    done = subprocess.run(
        ["bash", "-c", command], cwd=ROOT, env={**os.environ, **settings}, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    return done.stdout


def _shown(real: str) -> str:
    """An answer as a page shows it."""
    return json.dumps(_rounded(json.loads(real)), indent=2, ensure_ascii=False) + "\n" if real.startswith(("{", "[")) else real.rstrip() + "\n"


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _rounded(each) for name, each in value.items()}
    if isinstance(value, list):
        return [_rounded(each) for each in value]
    return round(value, 6) if isinstance(value, float) else value


def rewritten(page: str, database: Path) -> str:
    """The page with the real answers in it."""

    def block(found: re.Match[str]) -> str:
        answers = [f"$ {s.command}\n{s.answer if s.shortened else _shown(run(s.command, database))}" for s in sessions(found[0] + "\n")]
        return f"```console\n{''.join(answers)}```"

    return _BLOCK.sub(block, page)


if __name__ == "__main__":
    for path in PAGES:
        path.write_text(rewritten(path.read_text(encoding="utf-8"), Path(sys.argv[1]).resolve()), encoding="utf-8")
