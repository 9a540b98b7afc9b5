"""Learning from confirmed readings: counts, exponent, and that stated probabilities come true on other readings."""

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.learning import Confirmed, count, diagram, learn
from kb.probability.channel.marks import MarkIndex
from kb.probability.channel.reading import Reading
from kb.probability.channel.wear import confusion
from kb.words.notation import ALPHABET
from tests.probability.channel.test_search import dense, worn

A = Assumptions()


def confirmed(reading: str, truth: str, wear: str = "worn") -> Confirmed:
    return Confirmed(Reading.parse(reading), truth, wear)


def test_without_readings_nothing_changes() -> None:
    assert learn([], MarkIndex.of(["H41"]), A).assumptions == A


def test_characters_are_counted_where_they_stand() -> None:
    found, explained = count([confirmed("H?31", "H481"), confirmed("H[38]", "H8"), confirmed("H9", "H123456", "clean")], A)
    assert explained == 2
    assert found["worn H>H"] == pytest.approx(2)
    assert found["worn 8>3"] == pytest.approx(1 + found["worn 8>8"] * confusion("worn", A)[8, 3] / confusion("worn", A)[8, 8])
    assert sum(found.values()) == pytest.approx(5)
    assert not any(key.startswith("clean") for key in found)


def test_what_was_read_wrongly_often_is_expected_afterwards() -> None:
    index = MarkIndex.of(["H4187", "H4137", "H4147"])
    before = index.weights(compile_readings([Reading.parse("H4L?7")], ["worn"], A))
    learned = learn([confirmed("H4L87", "H4187")] * 60, index, A)
    assert learned.readings == learned.explained == learned.fitted == 60
    after = confusion("worn", learned.assumptions)
    assert after[1, ALPHABET.index("L")] > 10 * confusion("worn", A)[1, ALPHABET.index("L")]
    assert index.weights(compile_readings([Reading.parse("H4L?7")], ["worn"], learned.assumptions)).sum() > before.sum()


def test_stated_probabilities_of_other_readings_come_true() -> None:
    rng = np.random.default_rng(11)
    index = MarkIndex.of(dense(4000, np.random.default_rng(3)))
    drawn = [(worn(index.texts[i], rng), index.texts[i]) for i in rng.integers(0, len(index.texts), 1400)]
    learned = learn([confirmed(reading, truth) for reading, truth in drawn[:500]], index, A)
    assert 0.4 <= learned.assumptions.sharpness <= 1.2

    def error(assumptions: Assumptions) -> tuple[float, float]:
        stated = []
        for reading, truth in drawn[500:]:
            weights = index.weights(compile_readings([Reading.parse(reading)], ["worn"], assumptions))
            stated.append((float(weights.max() / weights.sum()), index.texts[int(weights.argmax())] == truth))
        rows = diagram(stated)
        sure = [right for p, right in stated if p >= 0.9]
        return sum(row["count"] * abs(row["stated"] - row["right"]) for row in rows) / len(stated), float(np.mean(sure)) if len(sure) > 30 else 1.0

    calibration, sure = error(learned.assumptions)
    assert calibration <= 0.05  # 0.04 and a sampling error of 900 readings
    assert sure >= 0.87


def test_a_reliability_diagram() -> None:
    assert diagram([(0.05, False), (0.95, True), (1.0, True), (0.93, False)]) == (
        {"from": 0.0, "to": 0.1, "count": 1, "stated": 0.05, "right": 0.0},
        {"from": 0.9, "to": 1.0, "count": 3, "stated": 0.96, "right": 0.666667},
    )
