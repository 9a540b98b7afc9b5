"""Every face calls the same units "not in this knowledge base": command line, page, list, work sheet, sale and comparison."""

import random
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from kb import Evidence, KnowledgeBase
from kb.cli import main
from kb.desk.posterior.examination import Examination
from kb.desk.review.answer_changes import changed_answers
from kb.desk.workshop.print.sheet import html
from kb.store.build import build
from kb.web.site import Setup
from kb.words.errors import KbError, QuestionError
from loaders.folder import load
from tests.web.conftest import Site

PARTS = {"mills-and-pumps": "6104", "one-of-everything": "1408"}
MANY = 40


class Mute:
    """A knowledge base that answers nothing: what another one says is all a change."""

    def identify(self, evidence: Evidence) -> Any:
        raise QuestionError("Nothing.", "")

    def fits(self, part_number: str, found: Evidence) -> Any:
        raise QuestionError("Nothing.", "")


class Faces:
    """One knowledge base and all that speak for it."""

    def __init__(self, root: Path, folder: Path, name: str) -> None:
        loaded = load([root / "demo_data" / name])
        self.db = folder / f"{name}.db"
        build(loaded.dataset, self.db, extras=loaded.extras, pictures=loaded.pictures, problems=loaded.problems)
        self.part, self.book, self.site = PARTS[name], KnowledgeBase.open(self.db), Site(Setup(str(self.db)))

    def say(self, serial: str, wear: str) -> dict[str, bool]:
        """face -> whether it says "not in this knowledge base"; a face that has nothing to say of the unit is left out."""
        row = {"serial": serial, "wear": wear}
        evidence = Evidence(**row)
        text = CliRunner().invoke(main, ["identify", "--serial", serial, "--wear", wear, "--db", str(self.db)])
        assert text.exit_code == 0, text.output
        page = self.site.get("/identify", params={"serial": serial, "wear": wear}).text
        heading = re.search(r"<h1>(.*?)</h1>", page)
        assert heading is not None
        (listed,) = self.book.inquire({**row, "part": self.part})
        (changed,) = changed_answers(self.book, Mute(), [(2, row)])
        said = {
            "command line": text.output.startswith("Not in this knowledge base"),
            "page": heading[1] == "Not in this knowledge base",
            "list": listed["unit"].startswith("not in this knowledge base"),
            "sale": "suits no unit recorded here" in self.book.sell(self.part, evidence).ask,
            "conflicts": any("suits no unit recorded here" in conflict for conflict in self.book.identify(evidence).conflicts),
            "comparison": changed.before == "not in this knowledge base",
        }
        for assembly in ("arbor", "pump"):
            try:
                said[f"sheet, {assembly}"] = "probably not in this knowledge base" in html(self.book.sheet(evidence, assembly), self.book.names)
            except KbError:
                continue
        return said


@pytest.fixture(scope="module", params=PARTS)
def faces(request: pytest.FixtureRequest, root: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Faces]:
    found = Faces(root, tmp_path_factory.mktemp("faces"), request.param)
    yield found
    found.site.close()
    found.book.close()


def serials(faces: Faces, dice: random.Random) -> Iterator[tuple[str, str]]:
    """Numbers that there are, misread ones, worn ones, and ones that nobody recorded."""
    lines = [line for line in faces.book._book.lines if not faces.book._book.series[line.series_id].component_id]
    while True:
        line = dice.choice(lines)
        text = list(line.serial(dice.randrange(line.count)))
        for position in dice.sample(range(len(text)), dice.randrange(len(text))):
            text[position] = dice.choice("?0123456789ABXZ")
        yield "".join(text), dice.choice(["clean", "worn", "badly-worn"])


def test_all_faces_say_it_of_the_same_units(faces: Faces) -> None:
    drawn = serials(faces, random.Random(20))
    answers = [faces.say(*next(drawn)) for _ in range(MANY)]
    assert [said for said in answers if len(set(said.values())) > 1] == []
    assert {said["command line"] for said in answers} == {True, False}


@pytest.mark.parametrize(("unknown", "expected"), [(0.3, False), (0.4999999, False), (0.5, True), (0.5000001, True)])
def test_and_so_they_do_at_the_boundary(faces: Faces, unknown: float, expected: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """At least as likely not recorded as recorded: unknown. The posterior is set; that no single unit comes near is no reason."""
    examine = KnowledgeBase._examine

    def fenced(book: KnowledgeBase, *asked: Any) -> Examination:
        found = examine(book, *asked)
        scale = {maker: factor * (1 - unknown) / (1 - found.posterior.unknown) for maker, factor in found.posterior.scale.items()}
        found.posterior = replace(found.posterior, scale=scale, unknown=unknown)
        return found

    monkeypatch.setattr(KnowledgeBase, "_examine", fenced)
    line = next(line for line in faces.book._book.lines if not faces.book._book.series[line.series_id].component_id)
    reading = f"{line.serial(0)[:-2]}??"
    said = faces.say(reading, "badly-worn")
    assert set(said.values()) == {expected}, said
