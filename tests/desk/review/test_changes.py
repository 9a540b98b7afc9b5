"""What changed between two knowledge bases, in trade words, and why; and the answers that change with it."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from kb.api import KnowledgeBase
from kb.cli import main
from kb.desk.review.answer_changes import changed_answers
from kb.desk.review.changes import changes
from kb.store.book import Book
from kb.store.build import build
from tests.probability.production.rows import Given, dataset

PART = {"kind": "original", "unit": "each", "available": "yes", "safety_critical": "no", "description": "seal"}
ROWS: dict[str, list[Given]] = {
    "makers": [{}], "models": [{"model_id": "m", "name": "Wren"}], "series": [{"series_id": "s"}],
    "sources": [{"source_id": "list"}, {"source_id": "letter", "title": "A letter", "grade": "D"}],
    "blocks": [{"block_id": "one", "first": 4001, "last": 4400, "model_id": "m"}],
    "components": [{"component_id": "case", "name": "crankcase"}],
    "variants": [{"variant_id": each, "component_id": "case", "name": f"{each} wall"} for each in ("thin", "thick")],
    "breakpoints": [{"breakpoint_id": "break", "component_id": "case", "old_variant_id": "thin", "new_variant_id": "thick", "first_new": 4100}],
    "parts": [{"part_number": number, **PART} for number in ("1407-A", "1407-B", "1500")],
    "fitments": [{"fitment_id": "fit", "part_number": "1500", "component_id": "case", "variant_id": "thick"}],
}  # fmt: skip
SEEN = [
    {"component_id": "case", "serial": serial, "variant_id": variant, "original": "believed"}
    for serial, variant in ((4094, "thin"), (4095, "thin"), (4096, "thick"), (4097, "thick"), (4098, "thick"), (4099, "thick"))
]
CHANGE = "Change-over of the crankcase, thin wall to thick wall (Numbers)"
SUPERSEDED = [{"supersession_id": "a-b", "old_part": "1407-A", "new_part": "1407-B", "direction": "one-way", "source_id": "list"}]


def file(folder: Path, name: str, **tables: list[Given]) -> Path:
    build(dataset(**{**ROWS, **tables}), folder / name)
    return folder / name


def told(folder: Path, before: dict[str, list[Given]], after: dict[str, list[Given]]) -> list[str]:
    books = [Book(file(folder, name, **tables)) for name, tables in (("old.db", before), ("new.db", after))]
    found = changes(*books)
    for book in books:
        book.close()
    return [each.text for each in found]


@pytest.mark.parametrize(("before", "after", "expected"), [
    ({}, {}, []),
    ({}, {"sightings": SEEN}, [f"{CHANGE} moved from 4100 to 4096 because of 6 sightings.", "sightings: 6 rows added."]),
    ({"sightings": SEEN}, {"sightings": [{**SEEN[0], "retracted": "misread"}, *SEEN[1:]]},
     [f"{CHANGE} became less certain, 4090 to 4097 instead of 4096, because of 1 sighting withdrawn.", "sightings: sightings-1 withdrawn."]),
    ({}, {"supersessions": SUPERSEDED}, ["Part 1407-B now supersedes 1407-A."]),
    ({"supersessions": SUPERSEDED}, {}, ["Part 1407-B no longer supersedes 1407-A."]),
    ({"supersessions": SUPERSEDED}, {"supersessions": [{**SUPERSEDED[0], "retracted": "slip"}]}, ["Part 1407-B no longer supersedes 1407-A."]),
    ({}, {"parts": [*ROWS["parts"][:2], {**ROWS["parts"][2], "available": "no"}]}, ["Part 1500 (seal) can no longer be bought."]),
    ({}, {"fitments": [{**ROWS["fitments"][0], "quantity": 2}]}, ["Part 1500 as seal of the case: fit now has quantity 2.0 instead of 1.0."]),
    ({}, {"breakpoints": [{**ROWS["breakpoints"][0], "first_new": 4101}]},
     [f"{CHANGE} moved from 4100 to 4101 because of 1 breakpoint corrected.", "breakpoints break: first_new 4101 instead of 4100."]),
    ({}, {"breakpoints": []}, [f"{CHANGE}, first new 4100, is no longer recorded.", "breakpoints: break withdrawn."]),
    ({}, {"sources": [{"source_id": "list", "grade": "D"}, ROWS["sources"][1]]},
     [f'{CHANGE} became less certain, 4001 to 4201 instead of 4100, because of "A list" being graded D.', 'Source "A list": grade D instead of B.']),
])  # fmt: skip
def test_what_changed_is_said_in_trade_words(
    tmp_path: Path, before: dict[str, list[Given]], after: dict[str, list[Given]], expected: list[str]
) -> None:
    assert told(tmp_path, before, after) == expected


def test_the_answers_that_change_are_named_and_no_others(tmp_path: Path) -> None:
    paths = [file(tmp_path, name, **tables) for name, tables in (("old.db", {}), ("new.db", {"sightings": SEEN}))]
    questions = [(2, {"part": "1500", "serial": "4097"}), (3, {"part": "1500", "serial": "4300"}), (4, {"part": "9999", "serial": "4300"})]
    with KnowledgeBase.open(paths[0]) as old, KnowledgeBase.open(paths[1]) as new:
        (changed,) = changed_answers(old, new, questions)
    assert (changed.row, changed.question) == (2, "part 1500, serial 4097")
    assert (changed.before, changed.after) == ("crankcase: not recorded", "crankcase: check first")


def test_the_command_compares_a_folder_with_a_file_and_asks_a_list(tmp_path: Path, root: Path) -> None:
    demo = root / "demo_data" / "mills-and-pumps"
    built = CliRunner().invoke(main, ["build", str(demo), "--db", str(tmp_path / "kb.db")])
    assert built.exit_code == 0, built.output
    questions = tmp_path / "questions.csv"
    questions.write_text("part,serial\n6104,105112\n", encoding="utf-8")
    same = CliRunner().invoke(main, ["diff", str(tmp_path / "kb.db"), str(demo), "--questions", str(questions)])
    assert (same.exit_code, same.output) == (0, "Nothing changed.\n\n0 answers of 1 question change\n")
    missing = CliRunner().invoke(main, ["diff", str(tmp_path / "none"), str(demo)])
    assert missing.exit_code == 1 and "There is no file or folder" in missing.output
