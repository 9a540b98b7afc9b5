"""The whole program against docs/model.md written a second time: every serial, casting, change-over and donor walked one by one.

Tolerance 1e-9 on every probability; the cells of the database are exact (cell_tolerance 0).
"""

import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from kb import Assumptions, Evidence, KnowledgeBase
from kb.store.build import build
from loaders.folder import load
from tests import enumerator
from tests.small import small, write

ASSUMPTIONS = Assumptions().override(cell_tolerance=0.0)
TABLES = small()

QUESTIONS: dict[str, dict[str, Any]] = {
    "clear": {"serials": [(None, "0104", None)]},
    "export letter": {"serials": [(None, "0104X", None)]},
    "missing zero": {"serials": [(None, "104", None)]},
    "worn": {"serials": [(None, "0?[01]4", None)]},
    "broken corner": {"serials": [(None, "01*", None)]},
    "of either maker": {"serials": [(None, "*1", None)]},
    "nobody's number": {"serials": [(None, "ZZ99914", None)]},
    "with its check digit": {"serials": [(None, "A0174", None)]},
    "two readings of one number": {"serials": [(None, "01?4", None), (None, "0[19]04", "badly-worn")]},
    "marks": {"serials": [(None, "01??", None)], "marks": [("q-head", "left", "H41?7", None), ("q-case", "", "C 208", None)]},
    "no mark": {"serials": [(None, "0112", None)], "marks": [("q-lid", "", "none", None), ("q-case", "", "none", None)]},
    "foundry mark": {"marks": [("q-case", "", "VX", None)], "maker": "quenby"},
    "a mark somewhere": {"serials": [(None, "01?2", None)], "marks": [(None, "", "C20[80]", None)]},
    "features": {"serials": [(None, "0115", None)], "features": [("q-case", "", "drain-lug", "yes"), ("q-hub", "", "hub-width", 32.7)]},
    "other": {"features": [("q-case", "", "drain-lug", "other")], "maker": "quenby"},
    "engine number": {"serials": [(None, "A0?7?", None), ("o-engine", "E2?", None)]},
    "swapped engine": {
        "serials": [(None, "A0034", None), ("o-engine", "E40", None)],
        "marks": [("o-case", "", "OC17", None), ("o-head", "", "OH9", None)],
    },
    "foreign casting": {"serials": [(None, "0120", None)], "marks": [("o-case", "", "OC11", None)]},
    "own number of another maker": {"serials": [(None, "0120", None), ("o-engine", "E12", None)]},
    "model": {
        "serials": [(None, "01[23]?", None)],
        "model": "q2",
        "marks": [("q-head", "right", "H4701", "badly-worn"), ("q-head", "right", "T", None)],
    },
    "series named": {"serials": [("o-no", "?01??", None)]},
    "nothing known": {"maker": "ordish"},
    "cast in time": {"serials": [(None, "0104", None)], "dates": [("q-case", "", "C 14 2")]},
    "a date alone": {"dates": [("q-case", "", "C 14 3")], "maker": "quenby"},
    "dates that agree": {"serials": [(None, "01[019]?", None)], "dates": [("q-case", "", "C 14 3"), ("q-head", "left", "B 2? 3")]},
    "cast later": {"serials": [(None, "0090", None)], "dates": [("q-head", "right", "C 14 5")], "marks": [("q-head", "right", "H41?7", None)]},
    "a component without variants": {"serials": [(None, "0104", None)], "dates": [("q-belt", "", "L 3 1")]},
    "two dates on one casting": {"serials": [(None, "0112", None)], "dates": [("q-lid", "", "C 14 2"), ("q-lid", "", "C ?4 2")]},
    "engine castings": {"serials": [("o-engine", "E2?", None)], "dates": [("o-case", "", "L 30 K"), ("o-head", "", "31 33")]},
    "a unit without dates": {"serials": [("o-no", "B0018", None)], "dates": [("o-frame", "", "12 31")]},
    "a date of another maker": {"serials": [(None, "0120", None)], "dates": [("o-case", "", "C 33")]},
    "looked again": {"serials": [(None, "0?>1[01]>24", None)], "again": ["serial:2=1", "serial:3=2"]},
    "looked again at one of two readings": {
        "serials": [(None, "01?>94", None), (None, "0[19]04", "badly-worn")], "again": ["01?4:3=9"]
    },
    "looked again upside down": {"serials": [(None, "0?>6?1", None), (None, "?6>9", None)], "again": ["0??1:2=6", "?6:2=9"]},
    "looked again at marks": {
        "serials": [(None, "01??", None)], "marks": [("q-head", "left", "H41?>47", None), ("q-case", "", "C 20>78", "worn")],
        "again": ["q-head@left:4=4", "q-case:3=7"],
    },
    "looked again at a mark somewhere": {"serials": [(None, "01?2", None)], "marks": [(None, "", "C20[80]>8", None)], "again": ["mark:4=8"]},
    "looked again at an engine number": {"serials": [(None, "A0?7?", None), ("o-engine", "E2?>4", None)], "again": ["o-engine:3=4"]},
    "looked again at what nobody knows": {"serials": [(None, "ZZ99>4914", None)], "again": ["serial:4=4"]},
    "swapped assembly": {"serials": [(None, "A0034", None)], "dates": [("o-case", "", "C 33"), ("o-head", "", "06 33")]},
}


def evidence(question: dict[str, Any]) -> Evidence:
    return Evidence(
        maker=question.get("maker"),
        model=question.get("model"),
        again=question.get("again", ()),
        serial=[{"series": s or "", "reading": once(r), "wear": w} for s, r, w in question.get("serials", [])],  # type: ignore[arg-type]
        marks=[{"component": c or "", "place": p, "reading": once(r), "wear": w} for c, p, r, w in question.get("marks", [])],  # type: ignore[arg-type]
        features=[{"component": c, "place": p, "feature": f, "value": str(v)} for c, p, f, v in question.get("features", [])],  # type: ignore[arg-type]
        cast_dates=[{"component": c, "place": p, "code": code} for c, p, code in question.get("dates", [])],  # type: ignore[arg-type]
    )


def once(reading: str) -> str:
    """A reading without what second looks showed."""
    return re.sub(">.", "", reading)


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> KnowledgeBase:
    folder = tmp_path_factory.mktemp("small")
    loaded = load([write(TABLES, folder / "data")])
    assert not [f for f in loaded.findings if f.severity == "error"], loaded.findings
    build(loaded.dataset, Path(folder / "kb.db"), assumptions=ASSUMPTIONS)
    return KnowledgeBase.open(folder / "kb.db", ASSUMPTIONS)


@pytest.mark.parametrize("name", QUESTIONS)
def test_identify(book: KnowledgeBase, name: str) -> None:
    found = book.identify(evidence(QUESTIONS[name]))
    maker = "ordish" if found.fitted and found.fitted[0].component.startswith("o-") else "quenby"  # castings are those of the likeliest maker
    expected = enumerator.identify(TABLES, QUESTIONS[name], ASSUMPTIONS, maker)
    assert by_maker(expected)[maker] == max(by_maker(expected).values())
    assert found.not_in_knowledge_base == pytest.approx(expected["not_in_knowledge_base"], abs=1e-9)
    listed = {(u.model, u.block): u.probability for u in found.units}
    for key, probability in expected["units"].items():
        assert listed.get(key, probability if probability < 2e-4 else 0.0) == pytest.approx(probability, abs=1e-9), key
    assert found.rest == pytest.approx(sum(p for key, p in expected["units"].items() if key not in listed), abs=1e-9)
    for entry in found.serials:
        assert entry.probability == pytest.approx(expected["serials"][entry.serial, entry.model], abs=1e-9), entry
    if found.serials:
        best = sorted(expected["serials"].values(), reverse=True)[: len(found.serials)]
        assert [s.probability for s in found.serials] == pytest.approx(best, abs=1e-9)
    for row in found.fitted:
        spot = (row.component, row.place)
        assert row.probability == pytest.approx(max(expected["fitted"][spot].values()), abs=1e-9), row
        assert row.probability == pytest.approx(expected["fitted"][spot][row.variant], abs=1e-9), row
        assert row.as_built_probability == pytest.approx(expected["as_built"][spot][row.as_built], abs=1e-9), row
        assert row.swapped == (expected["swapped"][spot] > 0.5), row
    assert {(r.component, r.place) for r in found.fitted} == set(expected["fitted"])
    for date in found.dates:
        assert 1 - date.not_original == pytest.approx(expected["original"][date.component, date.place], abs=1e-9), date
        assert not date.meanings or sum(m.probability for m in date.meanings) == pytest.approx(1)
    assert {(d.component, d.place) for d in found.dates} == set(expected["original"])


def by_maker(expected: dict[str, Any]) -> dict[str, float]:
    """The probability of each maker, from what the enumerator says of the units."""
    works = {block["block_id"]: block["series_id"] for block in TABLES["blocks"]}
    return {m: sum(p for (_, block), p in expected["units"].items() if works[block].startswith(m[0])) for m in ("quenby", "ordish")}


@cache
def makers_of(name: str) -> dict[str, float]:
    return by_maker(enumerator.identify(TABLES, QUESTIONS[name], ASSUMPTIONS, "quenby"))


@pytest.mark.parametrize("part", ["1407", "1407-A", "1408", "1500", "1501", "1600", "1601", "1700", "1800", "1801", "1900"])
@pytest.mark.parametrize(
    "name",
    [
        "clear", "worn", "marks", "features", "engine number", "swapped engine", "foreign casting", "no mark", "of either maker",
        "looked again at marks",
    ],
)  # fmt: skip
def test_fits(book: KnowledgeBase, name: str, part: str) -> None:
    question = QUESTIONS[name]
    makers = makers_of(name)
    asked = {m for m, p in makers.items() if p >= ASSUMPTIONS.maker_asked or p == max(makers.values())}
    assert (len(asked) == 2) is (name == "of either maker")
    expected = enumerator.fits(TABLES, question, part, ASSUMPTIONS)
    expected = {key: masses for key, masses in expected.items() if key[0][0] in {m[0] for m in asked}}
    entries = book.fits(part, evidence(question))
    assert {(e.component, e.place, e.role) for e in entries if e.component} == set(expected)
    for entry in entries:
        if entry.component:
            masses = expected[entry.component, entry.place, entry.role]
            assert entry.probability == pytest.approx(masses["yes"], abs=1e-9), entry
            assert entry.against == pytest.approx(masses["no"], abs=1e-9), entry
            elsewhere = sum(p for m, p in makers.items() if m[0] != entry.component[0])
            silent = 1 - elsewhere - masses["yes"] - masses["no"] >= 0.5 * (1 - elsewhere)
            assert (entry.verdict == "not recorded") is (silent and max(masses["yes"], masses["no"]) < 0.95), entry


def test_a_unit_that_may_be_of_either_maker_is_asked_for_its_maker_first(book: KnowledgeBase) -> None:
    unit = evidence(QUESTIONS["of either maker"])
    makers = makers_of("of either maker")
    quenby, ordish = book.fits("1407", unit), book.fits("1800", unit)
    assert {entry.component[0] for entry in quenby} == {"q"}
    assert {entry.component[0] for entry in ordish} == {"o"}  # the less probable maker's: not "not recorded"
    for entry in [*quenby, *ordish]:
        assert entry.name.startswith(("Quenby, ", "Ordish, "))
        assert "it may also be of" in entry.because[-1]
        (asked,) = [check for check in entry.check_next if check.check.startswith("Find out who made the unit")]
        assert {outcome.adds["maker"]: outcome.probability for outcome in asked.outcomes} == pytest.approx(makers)
    settled = book.fits("1800", Evidence.read(unit.model_dump() | {"maker": "ordish"}))
    assert [entry.name.startswith("Ordish, ") for entry in settled] == [False] * len(ordish)


@pytest.mark.parametrize(
    ("reading", "wear", "maker", "again"),
    [
        ("H41?7", None, None, {}), ("C20[80]", "badly-worn", None, {}), ("VX", None, None, {}), ("*1", None, "ordish", {}), ("60", None, None, {}),
        ("H41?>47", None, None, {4: "4"}), ("6>90", "worn", None, {1: "9"}), ("6>40", "worn", None, {1: "4"}),
        ("C20[80]>3", "badly-worn", None, {4: "3"}),
    ],
)  # fmt: skip
def test_casting(book: KnowledgeBase, reading: str, wear: str | None, maker: str | None, again: dict[int, str]) -> None:
    found = book.casting(once(reading), wear, maker, again)
    expected = enumerator.casting(TABLES, reading, wear, ASSUMPTIONS, maker)
    assert found.not_in_knowledge_base == pytest.approx(expected.pop(None), abs=1e-9)
    by_text: dict[str, float] = {}
    for match in found.matches:
        text = match.text.replace(" ", "")
        by_text[text] = by_text.get(text, 0.0) + match.probability
    for text, probability in expected.items():
        assert by_text.get(text or "", 0.0) == pytest.approx(probability, abs=1e-9 if text in by_text else 1e-4)


@pytest.mark.parametrize("reading", ["H41?7", "C20[80]"])
@pytest.mark.parametrize(
    "origin",
    [
        {"component": "q-case"}, {"component": "q-head", "maker": "quenby"}, {"model": "q2"}, {"model": "q1", "component": "q-head"},
        {"between": ("0100", "0112"), "component": "q-case"}, {"between": ("0104", "0104")}, {"between": ("0110", ""), "model": "q2"},
        {"between": ("", "A0034")}, {"maker": "ordish", "between": ("A0018", "A0034")},
    ],
)  # fmt: skip
def test_casting_of_known_origin(book: KnowledgeBase, reading: str, origin: dict[str, Any]) -> None:
    told = {name: text for name, text in origin.items() if name != "between"}
    first, last = origin.get("between", ("", ""))
    found = book.casting(reading, **told, serial_from=first, serial_to=last)
    expected = enumerator.casting(TABLES, reading, None, ASSUMPTIONS, **origin)
    assert found.not_in_knowledge_base == pytest.approx(expected.pop(None), abs=1e-9)
    by_text: dict[str, float] = {}
    for match in found.matches:
        assert match.component == origin.get("component", match.component)
        by_text[match.text.replace(" ", "")] = by_text.get(match.text.replace(" ", ""), 0.0) + match.probability
    for text, probability in expected.items():
        assert by_text.get(text or "", 0.0) == pytest.approx(probability, abs=1e-9 if text in by_text else 1e-4)


def test_a_part_asked_alone_and_all_parts_of_the_unit_give_the_same_verdicts(book: KnowledgeBase) -> None:
    for name in ("clear", "marks", "engine number", "features"):
        unit = evidence(QUESTIONS[name])
        for entry in book.parts(unit, everything=True):
            alone = [e for e in book.fits(entry.part_number, unit) if (e.component, e.place, e.role) == (entry.component, entry.place, entry.role)]
            assert len(alone) == 1
            assert (entry.verdict, entry.probability, entry.against) == (
                alone[0].verdict,
                pytest.approx(alone[0].probability),
                pytest.approx(alone[0].against),
            )
            shipped = [(each.part_number, each.quantity, each.verdict, pytest.approx(each.probability)) for each in alone[0].current]
            assert [(each.part_number, each.quantity, each.verdict, each.probability) for each in entry.current] == shipped
