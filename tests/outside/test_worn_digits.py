"""A real reader end to end: handwritten digits (UCI optdigits, in scikit-learn), patches erased, read by nearest neighbours, put together to marks.

What the reader was seen to do on one half of the images is learned as confirmed readings; marks of the other half are then found among 1,000
with the learned table and with one in which all misreadings are alike.
"""

import os

import numpy as np
import pytest
from numpy.typing import NDArray
from sklearn.datasets import load_digits
from sklearn.neighbors import KNeighborsClassifier

from kb.assumptions import Assumptions
from kb.channel.compiled import compile_readings
from kb.channel.learning import Confirmed, diagram, learn
from kb.channel.marks import MarkIndex
from kb.channel.reading import Reading

READINGS = 1500 if os.environ.get("KB_CAMPAIGN") else 1000
NEVER = {"clean": 0.0, "worn": 0.0, "badly-worn": 0.0}


def erase(images: NDArray[np.float64], patches: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """The images with patches of 2 x 2 taken out where there is ink."""
    worn = images.copy()
    for image in worn:
        for _ in range(patches):
            rows, columns = np.nonzero(image[:7, :7] > 0)
            if len(rows):
                at = int(rng.integers(len(rows)))
                image[rows[at] : rows[at] + 2, columns[at] : columns[at] + 2] = 0
    return worn


@pytest.mark.parametrize("patches", [2, 4])
def test_a_learned_table_finds_more_marks_and_says_how_sure_it_is(patches: int) -> None:
    rng = np.random.default_rng(patches)
    digits = load_digits()
    order = rng.permutation(len(digits.images))
    images, truth = digits.images[order], digits.target[order]
    reader = KNeighborsClassifier(5, metric="cosine").fit(images[:700].reshape(-1, 64), truth[:700])
    chances = reader.predict_proba(erase(images[700:], patches, rng).reshape(-1, 64))
    seen = np.where(chances.max(axis=1) >= 0.6, chances.argmax(axis=1).astype(str), "?")
    of = truth[700:]

    known = seen[:550] != "?"
    rate = float(np.mean(seen[:550][known] != of[:550].astype(str)[known]))
    plain = Assumptions().override(misread={**Assumptions().misread, "worn": rate}, lost=NEVER, doubled=NEVER, end_lost=NEVER, upside_down=0.0)
    even = plain.override(uniform_share=1.0)
    marks = sorted({f"{number:06d}" for number in rng.integers(0, 10**6, 1000)})
    # Every image is learned from once, six and six as they come; these marks of their own stand among the others while learning.
    once = [("".join(of[i : i + 6].astype(str)), "".join(seen[i : i + 6])) for i in range(0, 546, 6)]
    confirmed = [Confirmed(Reading.parse(reading), mark, "worn") for mark, reading in once]
    learned = learn(confirmed, MarkIndex.of(sorted({*marks, *(mark for mark, _ in once)})), plain).assumptions
    index = MarkIndex.of(marks)
    by_digit = [seen[550:][of[550:] == digit] for digit in range(10)]

    def score(assumptions: Assumptions, readings: list[Confirmed]) -> list[tuple[float, bool]]:
        stated = []
        for each in readings:
            weights = index.weights(compile_readings([each.reading], ["worn"], assumptions))
            stated.append((float(weights.max() / weights.sum()), index.texts[int(weights.argmax())] == each.truth))
        return stated

    drawn = [str(mark) for mark in rng.choice(marks, READINGS)]
    test = [Confirmed(Reading.parse("".join(rng.choice(by_digit[int(digit)]) for digit in mark)), mark, "worn") for mark in drawn]
    found = score(learned, test)
    gain = np.mean([right for _, right in found]) - np.mean([right for _, right in score(even, test)])
    error = sum(row["count"] * abs(row["stated"] - row["right"]) for row in diagram(found)) / len(found)
    sure = [right for p, right in found if p >= 0.9]
    assert gain >= 0.04
    assert error <= 0.05
    assert np.mean(sure) >= 0.88
