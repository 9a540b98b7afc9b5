"""Worn marks: numbers nobody recorded that cannot be told from their neighbours; marks, and names, that may have been meant."""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from kb import Evidence, KnowledgeBase
from kb.assumptions import Assumptions
from kb.desk.evidence.names import suggestion
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.nearest import nearest
from kb.probability.channel.reading import Reading
from kb.probability.channel.unrecorded_runs import gaps
from kb.store.build import build
from tests.desk.review.test_changeovers import ROWS
from tests.probability.production.rows import Given, dataset

A = Assumptions()
RUN = [f"V{n}" for n in range(2100, 2200) if n % 3]  # two in three are recorded
MARKS: list[Given] = [{"variant_ids": "ab"[i % 2], "text": f"{text[0]}-{text[1:]}"} for i, text in enumerate(RUN)]


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Iterator[KnowledgeBase]:
    path = tmp_path_factory.mktemp("run") / "kb.db"
    build(dataset(**{**ROWS, "marks": MARKS}), path)
    with KnowledgeBase.open(path) as book:
        yield book


@pytest.mark.parametrize(("reading", "wear", "suited"), [
    ("V21?1", None, "V2121, V2151 and V2181"),
    ("V21[38]0", None, "V2130"),
    ("V2130", "worn", "V2130"),  # typed without a doubt, off a worn number: it may be, and may be a neighbour
    ("V2111", "clean", ""),  # recorded, and read without a doubt
    ("V2130", None, ""),  # not recorded, but read without a doubt: that is said otherwise
    ("X2?77", None, ""),
])  # fmt: skip
def test_gaps_in_a_run_are_named_where_a_worn_reading_suits_them_as_well(run: KnowledgeBase, reading: str, wear: str | None, suited: str) -> None:
    unit = Evidence.read({"marks": [{"component": "head", "reading": reading, **({"wear": wear} if wear else {})}]})
    for said in (run.casting(reading, wear=wear).cannot_tell, run.identify(unit).cannot_tell):
        assert len(said) == bool(suited)
        if suited:
            assert said[0].startswith(f"{reading} suits {suited} as well. ") and said[0].endswith("cannot be told from this reading.")
            assert not set(suited.replace(" and", ",").split(", ")) & set(RUN)


def test_what_is_named_lies_within_a_run_and_suits_as_well() -> None:
    compiled = compile_readings([Reading.parse("V21?1")], [None], A)
    found = gaps(compiled, "V2131", RUN, Assumptions())
    assert found is not None and found.texts == ("V2121", "V2151", "V2181")
    assert min(map(compiled.weight, found.texts)) >= 0.5 * compiled.weight("V2131")
    assert (found.recorded, found.numbers) == (sum(found.first <= text <= found.last for text in RUN), int(found.last[1:]) - int(found.first[1:]) + 1)
    assert gaps(compiled, "V2131", [text for text in RUN if text.endswith("1")], Assumptions()) is None  # a few numbers far apart are no run


@pytest.mark.parametrize(("reading", "expected"), [
    ("V2114B", [("V2114", 1)]),
    ("V1231", [("V2131", 1)]),  # swapped: one slip
    ("2131", [("V2131", 1)]),
    ("W2?31", [("V2131", 1)]),
    ("W2[13]31", [("V2131", 1)]),
    ("*W131", [("V2131", 1)]),
    ("W2131*", [("V2131", 1)]),
    ("V2131", []),  # it is recorded
    ("X9977", []),  # nothing is near
    ("????1", []),  # everything is
])  # fmt: skip
def test_marks_near_one_that_is_recorded_nowhere(reading: str, expected: list[tuple[str, int]]) -> None:
    found = nearest(Reading.parse(reading), RUN, A)
    assert set(expected) <= set(found) and bool(found) == bool(expected)
    assert len(found) <= 6 and not {text for text, _ in found} - set(RUN)


def test_a_look_alike_is_named_before_any_other_character() -> None:
    assert [text for text, _ in nearest(Reading.parse("V2I31"), ["V2931", "V2131", "V2431"], A)] == ["V2131", "V2431", "V2931"]


def test_a_mark_recorded_nowhere_is_offered_what_is_near_and_taken_for_none(run: KnowledgeBase) -> None:
    found = run.casting("V-2130")
    assert {each.text for each in found.near} >= {"V-2131"} and {each.apart for each in found.near} == {1}
    assert all(each.name == "Component: flat" or each.name == "Component: domed" for each in found.near)
    assert run.casting("V-2131").near == []
    assert [each.text for each in run.casting("V-2131-X").near] == ["V-2131"]
    conflicts = run.identify(Evidence(marks={"head": "V-2130"})).conflicts
    (said,) = [each for each in conflicts if "no mark recorded" in each]
    assert said.startswith("V-2130 is no mark recorded for the component: read it again. Did you mean V-2") and said.count("1 character apart") == 3
    assert not any("no mark recorded" in each for each in run.identify(Evidence(marks={"head": "V-2131"})).conflicts)


@pytest.mark.parametrize(("typed", "known", "remedy"), [
    ("Orlap", ["orlop", "quenby"], 'Did you mean "orlop"?'),
    ("crankcse", ["crankcase", "gear-case"], 'Did you mean "crankcase"?'),
    ("WREN30", ["wren-30", "rook-36"], 'Did you mean "wren-30"?'),
    ("nose", ["crankcase", "cover"], 'Known are "crankcase" or "cover".'),
    ("nose", [], ""),
])  # fmt: skip
def test_a_name_that_is_not_known(typed: str, known: list[str], remedy: str) -> None:
    assert suggestion(typed, known) == remedy


def test_what_is_recorded_is_answered_without_loading_what_only_a_wrong_mark_needs(run: KnowledgeBase, tmp_path: Path) -> None:
    path = tmp_path / "kb.db"
    build(dataset(**{**ROWS, "marks": MARKS}), path)
    script = f"import sys; from kb import KnowledgeBase; b = KnowledgeBase.open({str(path)!r});"
    script += "ask = lambda m: (b.casting(m), b.identify({'marks': ['head=' + m]}));"
    script += "ask('V21?1'); print('rapidfuzz' in sys.modules); ask('V2130'); print('rapidfuzz' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "True"]


def test_a_part_of_a_number_that_does_not_say_so_is_shown_how_to_say_it(demo_db: Path) -> None:
    with KnowledgeBase.open(demo_db) as book:
        assert book.casting("V21").part_of.endswith("Where characters are missing write *: V21*.")
        assert book.casting("2148").part_of == "2148 is only a part of V2148. Where characters are missing write *: *2148."
        assert not any(book.casting(other).part_of for other in ("V2141", "V21*", "X777"))
        (said,) = book.identify({"marks": {"arbor-housing@left": "V214"}, "serial": "105112"}).conflicts[:1]
        assert said.startswith("V214 is only a part of V2140")
        (_, said) = book.identify({"serial": "1051"}).conflicts
        assert said == "1051 is no whole serial recorded here, only a part of some. Where characters are missing write *: 1051*."
        assert len(book.identify({"serial": "777777777"}).conflicts) == 1, "it is a part of none"


def test_marks_of_a_maker_of_whom_no_numbers_are_recorded(tmp_path: Path) -> None:
    path = tmp_path / "kb.db"
    build(dataset(**{table: ROWS[table] for table in ("makers", "sources", "components", "variants", "marks")}), path)
    with KnowledgeBase.open(path) as book:
        found = book.casting("H41?")
        assert [(each.text, each.serial_first, each.models) for each in found.matches[:1]] == [("H410", "", [])]
        assert book.identify(Evidence(marks={"head": "H410"})).not_in_knowledge_base == 1.0
