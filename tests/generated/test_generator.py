"""Generated datasets: valid, reproducible, and as true to the model as they claim to be.

Shares are compared with a tolerance of four standard errors; the seeds are fixed, so a failure is a change and not luck.
"""

from collections import Counter
from math import log, sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from benchmarks.drawn import DrawnUnit, draw_units
from benchmarks.generated_claims import SOURCES, claims
from benchmarks.generator import generate
from benchmarks.noise import Channel, StrangeTexts
from benchmarks.truth import Truth, truth_file
from kb import Evidence
from kb.assumptions import Assumptions
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.reading import Reading
from loaders.folder import load

USUAL = Assumptions()
SMALL: dict[str, Any] = {"makers": 3, "change_overs": 30, "marks": 400, "sightings": 900, "parts": 120, "fitments": 200, "supersessions": 20}


def is_share(hits: float, cases: int, share: float) -> bool:
    return cases > 0 and abs(hits - cases * share) <= 4 * sqrt(cases * share * (1 - share)) + 1e-9


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("generated") / "small"


@pytest.fixture(scope="module")
def truth(folder: Path) -> Truth:
    return generate(folder, seed=4, **SMALL)


@pytest.fixture(scope="module")
def drawn(truth: Truth) -> list[DrawnUnit]:
    return draw_units(truth, seed=5, count=3000)


def test_same_arguments_same_bytes(folder: Path, truth: Truth, tmp_path: Path) -> None:
    generate(tmp_path / "again", seed=4, **SMALL)
    written = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert written == {path.name: path.read_bytes() for path in (tmp_path / "again").iterdir()}
    generate(tmp_path / "other", seed=6, **SMALL)
    assert written["breakpoints.csv"] != (tmp_path / "other" / "breakpoints.csv").read_bytes()


def test_it_is_a_dataset_of_the_size_asked_for(folder: Path, truth: Truth) -> None:
    loaded = load([folder])
    assert {finding.severity for finding in loaded.findings} <= {"doubt"}
    rows = loaded.dataset
    assert len(rows.makers) == 3 and len(rows.components) == 30
    assert (len(rows.sightings), len(rows.parts), len(rows.fitments), len(rows.supersessions)) == (900, 120, 200, 20)
    assert 0.7 * 400 <= len(rows.marks) <= 1.3 * 400


def test_truth_is_kept_beside_it(folder: Path, truth: Truth) -> None:
    assert Truth.load(truth_file(folder)) == truth
    assert not truth_file(folder).is_relative_to(folder)


@pytest.mark.parametrize("wrong", [{"makers": 0}, {"change_overs": 2}, {"supersessions": 61}, {"sightings": -1}, {"sightings": 10**9}])
def test_numbers_that_do_not_go_together_are_refused(wrong: dict[str, int], tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="makers|fewer than none|too many"):
        generate(tmp_path / "none", seed=1, **{**SMALL, **wrong})


def test_exact_claims_are_right_as_often_as_their_grade_says(tmp_path: Path) -> None:
    none: dict[str, Any] = {"marks": 0, "sightings": 0, "parts": 0, "fitments": 0, "supersessions": 0}
    truth = generate(tmp_path / "claims", seed=8, makers=10, change_overs=3000, **none)
    grades = {source.name.replace(" ", "-"): source.grade for source in SOURCES}
    right, cases = Counter[str](), Counter[str]()
    rng = np.random.default_rng(8)
    for maker in truth.makers:
        true = {component.component_id: component.first_new for component in maker.components}
        for said in claims(rng, maker, USUAL):
            if said.row["breakpoint_id"] == f"{said.component_id}-exact":
                grade = grades[str(said.row["source_id"]).removeprefix(f"{maker.maker_id}-")]
                cases[grade] += 1
                right[grade] += said.order == true[said.component_id]
    assert set(cases) == set("ABCD")
    slip = 0.5 / (2 * 10 + 1)  # of the wrong ones, about so many are a slip by nothing at all
    for grade, share in USUAL.grade_reliability.items():
        assert is_share(right[grade], cases[grade], share + (1 - share) * slip), grade
    widths = Counter(component.mixed for maker in truth.makers for component in maker.components if not component.stated_width)
    assert all(is_share(widths[w], widths.total(), share) for w, share in USUAL.mixed_width.items())


def test_sighted_castings_are_replaced_as_often_as_the_model_says(folder: Path, truth: Truth) -> None:
    makers = {maker.series_id: maker for maker in truth.makers}
    components = {component.component_id: component for maker in truth.makers for component in maker.components}
    order = {(m.series_id, m.serial(i)): i for m in makers.values() for i in range(m.count)}
    expected = seen = variance = 0.0
    for row in load([folder]).dataset.sightings:
        component = components[row.component_id]
        new = component.built_new(order[row.series_id, row.serial])
        if row.variant_id is None or row.original == "replaced" or new not in (0, 1):
            continue
        unknown = USUAL.replaced_when_unknown if component.replaced_rate is None else component.replaced_rate
        rho = USUAL.replaced_when_believed_original if row.original == "believed" else unknown
        built = component.variants[int(new)]
        other = rho * (1 - built.service_share / sum(variant.service_share for variant in component.variants))
        expected, variance = expected + other, variance + other * (1 - other)
        seen += row.variant_id != built.variant_id
    assert expected > 10 and abs(seen - expected) <= 4 * sqrt(variance)


def test_readings_follow_the_channel_of_the_program() -> None:
    """The same reading of two texts: it is drawn as many times more often as the channel says it is likelier."""
    channel = Channel(np.random.default_rng(2), USUAL)
    one, other, draws = "3A", "BA", 40_000
    counts = [Counter(channel.read(text, "badly-worn") for _ in range(draws)) for text in (one, other)]
    compared = 0
    for reading in set(counts[0]) & set(counts[1]):
        a, b = counts[0][reading], counts[1][reading]
        if min(a, b) >= 50:
            compiled = compile_readings([Reading.parse(reading)], ["badly-worn"], USUAL.override(sharpness=1.0))
            stated = log(compiled.weight(one) / compiled.weight(other))
            assert abs(log(a / b) - stated) <= 4.5 * sqrt(1 / a + 1 / b), reading
            compared += 1
    assert compared >= 12


def test_strange_texts_look_like_the_known_ones_half_the_time() -> None:
    """All known texts have one shape. The other half may have it too, so at least half and not all have it."""
    texts = StrangeTexts([("AB00123", 1.0), ("AC00417", 1.0)], np.random.default_rng(3), USUAL)
    shaped = [text[:2].isalpha() and text[2:].isdigit() and len(text) == 7 for text in (texts.draw() for _ in range(2000))]
    assert 0.46 < sum(shaped) / 2000 < 0.7


def test_drawn_units_are_evidence_about_units_of_the_dataset(truth: Truth, drawn: list[DrawnUnit]) -> None:
    assert draw_units(truth, seed=5, count=40) == drawn[:40]
    assert is_share(sum(not unit.maker for unit in drawn), len(drawn), USUAL.not_in_knowledge_base)
    makers = {maker.maker_id: maker for maker in truth.makers}
    for unit in drawn:
        Evidence.read(unit.evidence)
        if unit.maker:
            maker = makers[unit.maker]
            assert maker.serial(unit.order) == unit.serial
            block, _ = maker.at(unit.order)
            assert block.block_id == unit.block and unit.model in dict(block.models)


def test_most_clean_serials_are_read_as_they_are(drawn: list[DrawnUnit]) -> None:
    clean = [(unit.evidence["serial"][0]["reading"], unit.serial) for unit in drawn if unit.maker and "serial" in unit.evidence]
    clean = [(reading, serial) for reading, serial in clean if reading.isalnum() and len(reading) == len(serial)]
    assert sum(reading == serial for reading, serial in clean) / len(clean) > 0.75
    worn = [unit for unit in drawn if unit.maker and unit.evidence.get("serial", [{}])[0].get("wear") == "worn"]
    could = sum(Reading.parse(unit.evidence["serial"][0]["reading"]).could_be(unit.serial) for unit in worn)
    assert 0.88**7 < could / len(worn) < 0.88**4  # of seven characters some are given up


def test_castings_are_swapped_as_often_as_the_model_says(truth: Truth, drawn: list[DrawnUnit]) -> None:
    components = {component.component_id: component for maker in truth.makers for component in maker.components}
    expected = variance = lost = 0.0
    differ = cases = 0
    for unit in drawn:
        for (name, _), variant in unit.fitted.items():
            component = components[name]
            rate = USUAL.replaced_rate if component.replaced_rate is None else component.replaced_rate
            share = next(v.service_share for v in component.variants if v.variant_id == unit.as_built[name])
            by_hand = rate * (1 - share / sum(v.service_share for v in component.variants))
            expected, variance = expected + by_hand, variance + by_hand * (1 - by_hand)
            cases, lost, differ = cases + 1, lost + (variant == ""), differ + (variant not in ("", unit.as_built[name]))
    assert is_share(lost, cases, USUAL.unrecorded_variant)
    swapped = cases * USUAL.swapped_assembly  # whole assemblies; a donor's casting may be the same variant
    assert expected - 4 * sqrt(variance) <= differ <= expected + swapped + 4 * sqrt(variance + 4 * swapped)
