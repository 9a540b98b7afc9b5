"""The web, the command line and the Python interface give the same answers, to the last digit."""

import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from click.testing import CliRunner

from kb import Evidence, KnowledgeBase
from kb.cli import main
from kb.probability.inference.costs import Costs
from kb.store.book import Book
from kb.words.notation import normalise
from tests.web.conftest import Site

Pairs = list[tuple[str, str]]
COSTS = Costs(40, 20)
OPTION = {"serial": "--serial", "mark": "--mark", "saw": "--saw", "maker": "--maker", "model": "--model", "wear": "--wear", "again": "--again"}
FIELD = {"serial": "serial", "mark": "marks", "saw": "features", "again": "again"}


def worn(text: str, dice: random.Random) -> str:
    """A number with some characters gone."""
    kept = [c if not c.isalnum() or dice.random() > 0.2 else dice.choice(["?", "?", f"[{c}{dice.choice('0123456789')}]"]) for c in text]
    return "".join(kept) if any(c.isalnum() for c in kept) else text


def questions(book: Book, dice: random.Random) -> Iterator[Pairs]:
    """Evidence about units that there are: worn serials, marks of one maker, things seen, and now and then a maker."""
    while True:
        line = dice.choice([line for line in book.lines if not book.series[line.series_id].component_id])
        maker = book.series[line.series_id].maker_id
        components = [c for c in book.components.values() if c.maker_id == maker]
        pairs: Pairs = [("serial", worn(line.serial(dice.randrange(line.count)), dice))]
        if dice.random() < 0.3:
            pairs.append(("again", f"serial:1={dice.choice(pairs[0][1].strip('[?')[:1] or '1')}"))
        for component in dice.sample(components, dice.randrange(3)):
            spot = component.component_id + (f"@{place}" if (place := dice.choice(component.places)) else "")
            features = [f for f in book.features_of.get(component.component_id, []) if f.kind != "measure"]
            marks = book.marks_of(component.component_id)
            if features and dice.random() < 0.5:
                feature = dice.choice(features)
                values = [v.value for v in book.feature_values[feature.feature_id].values() if v.value]
                pairs.append(("saw", f"{spot}.{feature.feature_id}={dice.choice(values)}"))
            elif marks:
                pairs.append(("mark", f"{spot}={worn(dice.choice(marks).text, dice)}"))
        if dice.random() < 0.3:
            pairs.append(("maker", maker))
        if dice.random() < 0.2:
            pairs.append(("wear", dice.choice(["clean", "worn", "badly-worn"])))
        yield pairs


def from_command_line(db: Path, *words: str) -> Any:
    done = CliRunner().invoke(main, [*words, "--json", "--db", str(db)])
    assert done.exit_code == 0, done.output
    return json.loads(done.output)


def from_page(site: Site, path: str, pairs: Pairs) -> Any:
    page = site.get(f"{path}?{urlencode(pairs)}")
    assert page.status_code == 200, page.text
    return page.json()


def ageless(sale: dict[str, Any]) -> dict[str, Any]:
    """Without the age of offers: the command line counts it from today, a page that may be kept does not say it."""
    return {**sale, "offers": [{**offer, "age": ""} for offer in sale["offers"]]}


def plain(answer: Any) -> Any:
    return [each.model_dump(mode="json") for each in answer] if isinstance(answer, list) else answer.model_dump(mode="json")


@pytest.fixture(scope="module")
def book(demo_db: Path) -> Iterator[KnowledgeBase]:
    with KnowledgeBase.open(demo_db) as opened:
        yield opened


def test_units_and_parts(site: Site, demo_db: Path, book: KnowledgeBase, campaign: bool) -> None:
    """Identify, fits and parts on generated units."""
    rows, dice = Book(demo_db), random.Random(20)
    numbers = [row.part_number for row in rows.rows("select part_number from parts order by rowid")]
    asked = questions(rows, dice)
    for _ in range(200 if campaign else 12):
        pairs = next(asked)
        words = [word for name, value in pairs for word in (OPTION[name], value)]
        evidence: dict[str, Any] = {}
        for name, value in pairs:
            if name in FIELD:
                evidence.setdefault(FIELD[name], []).append(value)
            else:
                evidence[name] = value
        unit = Evidence(**evidence)
        part = dice.choice(numbers)
        assert from_page(site, "/identify.json", pairs) == from_command_line(demo_db, "identify", *words) == plain(book.identify(unit)), pairs
        in_page = from_page(site, "/fits.json", [("part", part), *pairs])
        assert in_page == from_command_line(demo_db, "fits", part, *words) == plain(book.fits(part, unit)), (part, pairs)
        assert from_page(site, "/parts.json", pairs) == from_command_line(demo_db, "parts", *words) == plain(book.parts(unit)), pairs
        in_page = from_page(site, "/sell.json", [("part", part), *pairs, ("return_cost", "40"), ("sale_value", "20")])
        said = from_command_line(demo_db, "sell", part, *words, "--return-cost", "40", "--sale-value", "20")
        assert in_page == ageless(said) == plain(book.sell(part, unit, costs=COSTS)), (part, pairs)
    rows.close()


def test_castings(site: Site, demo_db: Path, book: KnowledgeBase, campaign: bool) -> None:
    rows, dice = Book(demo_db), random.Random(21)
    for mark in dice.sample([row.text for row in rows.rows("select text from marks order by rowid")], 60 if campaign else 10):
        reading = worn(mark, dice)
        in_page = from_page(site, "/castings.json", [("mark", reading)])
        assert in_page == from_command_line(demo_db, "casting", reading) == plain(book.casting(reading))
        component, told = rows.rows_of_mark(normalise(mark))[0][1], {}
        if component is not None:
            told = {"component": component.component_id, "model": next(m for m in rows.models if rows.models[m].maker_id == component.maker_id)}
        in_page = from_page(site, "/castings.json", [("mark", reading), *told.items()])
        words = [word for name, text in told.items() for word in (f"--{name}", text)]
        assert in_page == from_command_line(demo_db, "casting", reading, *words) == plain(book.casting(reading, **told))
    rows.close()


def test_part_numbers(site: Site, demo_db: Path, book: KnowledgeBase, campaign: bool) -> None:
    rows, dice = Book(demo_db), random.Random(22)
    for row in dice.sample(rows.rows("select part_number, description from parts order by rowid"), 60 if campaign else 10):
        page = from_page(site, f"/parts/{row.part_number}.json", [])
        assert page["description"] == row.description
        assert page["trace"] == from_command_line(demo_db, "trace", row.part_number) == plain(book.current(row.part_number))
        assert page["units"] == from_command_line(demo_db, "units", row.part_number) == plain(book.units(row.part_number))
    rows.close()


@pytest.mark.parametrize(("query", "series", "component"), [("", None, None), ("?series=pw-unit-no", "pw-unit-no", None)])
def test_review(site: Site, demo_db: Path, book: KnowledgeBase, query: str, series: str | None, component: str | None) -> None:
    words = ["--series", series] if series else []
    answers = [site.get(f"/changeovers.json{query}").json(), plain(book.review(series, component)), from_command_line(demo_db, "review", *words)]
    assert answers[0] == answers[1] == answers[2]


def test_what_readings_taught(site: Site, demo_db: Path, book: KnowledgeBase) -> None:
    assert site.get("/readings.json").json() == plain(book.review_readings()) == from_command_line(demo_db, "review", "--readings")


@pytest.mark.parametrize(
    ("step", "value", "shims"), [("arbor-10", "0.35mm", []), ("arbor-10", "0.014in", ["6131-10=2", "6131-25=1"]), ("pump-9", "6", [])]
)
def test_measures(site: Site, demo_db: Path, book: KnowledgeBase, step: str, value: str, shims: list[str]) -> None:
    in_page = from_page(site, "/measure.json", [("step", step), ("value", value), *(("at_hand", shim) for shim in shims)])
    words = [word for shim in shims for word in ("--at-hand", shim)]
    counts = {shim.partition("=")[0]: int(shim.partition("=")[2]) for shim in shims}
    assert in_page == from_command_line(demo_db, "measure", step, value, *words) == plain(book.measure(step, value, counts or None))


def test_sightings(site: Site, book: KnowledgeBase) -> None:
    pairs = [("serial", "105112"), ("mark", "arbor-housing@left=V2141"), ("saw", "arbor-housing@right.housing-face=wide")]
    assert from_page(site, "/sighting.json", pairs) == plain(book.sightings(Evidence(serial="105112", marks=[pairs[1][1]], features=[pairs[2][1]])))


@pytest.mark.parametrize("model", ["wren-30"])
def test_guides(site: Site, book: KnowledgeBase, model: str) -> None:
    assert from_page(site, f"/guides/{model}.json", []) == plain(book.guide(model))


@pytest.mark.parametrize("assembly", ["pump"])
def test_work_sheets(site: Site, demo_db: Path, book: KnowledgeBase, assembly: str) -> None:
    in_page = from_page(site, "/sheet.json", [("assembly", assembly), ("serial", "C1542")])
    unit = Evidence.read({"serial": "C1542"})
    assert in_page == from_command_line(demo_db, "sheet", "--assembly", assembly, "--serial", "C1542") == plain(book.sheet(unit, assembly))


@pytest.mark.parametrize("text", ["6104", "V21?1", "arbor housing", "105112", "35 x 52 x 7", "FR-3525"])
def test_what_a_text_may_mean(site: Site, demo_db: Path, book: KnowledgeBase, text: str) -> None:
    in_page = from_page(site, "/find.json", [("q", text)])
    assert in_page["meanings"]
    assert in_page == from_command_line(demo_db, "look", *text.split()) == plain(book.look(text))


def test_variants_side_by_side(site: Site, demo_db: Path, book: KnowledgeBase) -> None:
    rows = Book(demo_db)
    for component in rows.components:
        in_page = from_page(site, f"/compare/{component}.json", [])
        assert [each["variant"] for each in in_page["variants"]] == [each.variant_id for each in rows.variants_of.get(component, ())]
        assert in_page == from_command_line(demo_db, "compare", component) == plain(book.compare(component))
    rows.close()


def test_a_part(site: Site, book: KnowledgeBase) -> None:
    for number in ("6104", "PE-214"):
        assert from_page(site, f"/parts/{number}.json", []) == plain(book.part(number))
