"""How often the best mark is the true one, and how honest the stated probabilities are.

`python -m benchmarks.mark_accuracy [PIECE ...]` prints what docs/wear.md states, all of it or some pieces of it (`10000-handwriting`,
`letters`); a million marks take some fifteen minutes. Readings are drawn by processes other than the program's table
(`benchmarks.mark_catalogue`), with seeds on which nothing was chosen. Baseline: the text nearest by Levenshtein distance (RapidFuzz) to
the reading as it is typed, notation and all; texts equally near share the point. Beside it a baseline that is helped: of `[38]` it gets
the first, and `*` is left out. And a matcher that knows how the readings were drawn (`benchmarks.informed`): nothing can do better.
"""

import re
import sys
from collections.abc import Callable, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np
from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

from benchmarks import informed
from benchmarks.mark_catalogue import Misread, any_other, as_handwriting, as_table, catalogue, read_worn
from kb.assumptions import Assumptions
from kb.probability.channel import wear
from kb.probability.channel.automaton import Floats, compile_readings
from kb.probability.channel.background import TextModel
from kb.probability.channel.learning import Confirmed, diagram, learn
from kb.probability.channel.marks import MarkIndex
from kb.probability.channel.reading import Reading
from kb.probability.channel.search import Found, heaviest
from kb.probability.channel.strokes.glyphs import styles
from kb.probability.channel.strokes.table import table
from kb.probability.channel.strokes.wearing import LEVELS
from kb.words.notation import ALPHABET

SIZES = (10_000, 100_000, 1_000_000)
READINGS, CONFIRMED = 10_000, 500  # so many that about a hundred are stated .9 or more
COMPARED = 4000  # of them with the baselines
PROCESSES: dict[str, Callable[[np.random.Generator], Misread]] = {"handwriting": as_handwriting, "alike": any_other}
PRIOR = Assumptions().not_in_knowledge_base
CHUNK = 20  # readings held against all texts at once by the baseline


def main(pieces: Sequence[str]) -> None:
    """Print everything, or some pieces of it."""
    parts: dict[str, Callable[[], None]] = {f"{size}-{name}": partial(_accuracy, size, name) for size in SIZES for name in PROCESSES}
    parts["letters"] = partial(_letters, 100_000)
    unknown = [piece for piece in pieces if piece not in parts]
    if unknown:
        sys.exit(f"There is no piece {', '.join(unknown)}. Name some of: {', '.join(parts)}.")
    for piece in pieces or parts:
        parts[piece]()


class _Stated(NamedTuple):
    """What is stated about a reading: P(best mark), the share of the true one among the best, P(not in the knowledge base)."""

    best: float
    right: float
    unknown: float


def _accuracy(size: int, name: str) -> None:
    rng = np.random.default_rng([size, list(PROCESSES).index(name) + 1])
    noise = PROCESSES[name](rng)
    texts, strange = catalogue(size, rng)
    index, model = MarkIndex.of(texts), TextModel.learn(dict.fromkeys(texts[:: max(1, size // 50_000)], 1.0), Assumptions())
    true = rng.integers(0, size, READINGS + CONFIRMED)
    readings = [read_worn(texts[i], rng, noise) for i in true]
    others = [read_worn(text, rng, noise) for text in strange[::2]]
    confirmed = [Confirmed(Reading.parse(r), texts[i], "worn") for r, i in zip(readings[READINGS:], true[READINGS:], strict=True)]
    true = true[:READINGS]
    typed, helped = (_levenshtein(each, texts, true) for each in (readings[:COMPARED], [_helped(r) for r in readings[:COMPARED]]))
    print(f"{size:,} marks, {name}: Levenshtein top-1 {typed.mean():.3f}, helped {helped.mean():.3f}", flush=True)
    misread = informed.shares(noise)
    told = [heaviest(index.weights(informed.compiled(Reading.parse(r), misread)), 10, 1.0) for r in readings[:COMPARED]]
    most = np.array([_right(found, i) for found, i in zip(told, true, strict=False)])
    print(f"  told how readings were drawn: top-1 {most.mean():.3f}, {_ratio(most, typed)} of Levenshtein")
    for taught in (Assumptions(), learn(confirmed, index, Assumptions()).assumptions):
        stated = [_stated(index, r, i, model, taught) for r, i in zip(readings, true, strict=False)]
        unknown = [_stated(index, r, -1, model, taught) for r in others]
        # One inquiry in twenty is about a mark that nobody recorded, as the prior says.
        mixed = [(s.best, s.right) for s in [*stated, *unknown[: round(READINGS * PRIOR / (1 - PRIOR))]]]
        error = sum(row["count"] * abs(row["stated"] - row["right"]) for row in diagram(mixed)) / len(mixed)
        sure = [right for p, right in mixed if p >= 0.9]
        mine = np.array([s.right for s in stated[:COMPARED]])
        what = f"learned from {CONFIRMED}" if taught.confirmed else "default"
        ratios = f"{_ratio(mine, typed)} of Levenshtein, {_ratio(mine, helped)} of the helped one"
        print(f"  {what}, exponent {taught.sharpness:.2f}: top-1 {mine.mean():.3f}, {ratios}")
        print(f"    calibration error {error:.3f}, of {len(sure)} stated .9 or more right {np.mean(sure):.3f}, "
              f"AUC of not recorded {_auc([s.unknown for s in unknown], [s.unknown for s in stated]):.3f}", flush=True)  # fmt: skip


def _stated(index: MarkIndex, reading: str, true: int, model: TextModel, assumptions: Assumptions) -> _Stated:
    compiled = compile_readings([Reading.parse(reading)], ["worn"], assumptions)
    found = index.best(compiled)
    known, unknown = (1 - PRIOR) / len(index.texts), PRIOR * model.evidence(compiled)
    total = known * (float(found.weights.sum()) + found.rest) + unknown
    return _Stated(known * float(found.weights[0]) / total, _right(found, true), unknown / total) if len(found.texts) else _Stated(0.0, 0.0, 1.0)


def _right(found: Found, true: int) -> float:
    """The share of the true text among those that weigh most."""
    if not len(found.texts):
        return 0.0
    alike = found.texts[found.weights >= found.weights[0] * (1 - 1e-12)]
    return float(true in alike) / len(alike)


def _levenshtein(readings: Sequence[str], texts: Sequence[str], true: np.ndarray) -> Floats:
    """(N,) the share of the true text among those that are nearest."""
    shares = []
    for at in range(0, len(readings), CHUNK):
        distances = process.cdist(readings[at : at + CHUNK], texts, scorer=Levenshtein.distance, dtype=np.uint8)
        nearest = distances == distances.min(axis=1, keepdims=True)
        shares.append(nearest[np.arange(len(distances)), true[at : at + CHUNK]] / nearest.sum(axis=1))
    return np.concatenate(shares)


def _helped(reading: str) -> str:
    return re.sub(r"\[(.)[^\]]*\]", r"\1", reading).replace("*", "")


def _ratio(mine: Floats, theirs: Floats) -> str:
    """The ratio of the means, and where it lies in 95 of 100 samples drawn from these readings."""
    rng = np.random.default_rng(0)
    drawn = [mine[at].mean() / theirs[at].mean() for at in (rng.integers(0, len(mine), len(mine)) for _ in range(2000))]
    low, high = np.quantile(drawn, [0.025, 0.975])
    return f"{mine.mean() / theirs.mean():.2f} ({low:.2f} to {high:.2f})"


def _auc(positive: Sequence[float], negative: Sequence[float]) -> float:
    ranks = np.argsort(np.argsort(np.concatenate([positive, negative]))) + 1.0
    return float((ranks[: len(positive)].sum() - len(positive) * (len(positive) + 1) / 2) / (len(positive) * len(negative)))


def _letters(size: int) -> None:
    """Misreadings as of one style of letters, the table made from the other style only."""
    known = styles()
    rng = np.random.default_rng(4)
    texts, _ = catalogue(size, rng)
    index = MarkIndex.of(texts)
    for worn, other in (("cut", "hershey"), ("hershey", "cut")):
        of_worn = table(LEVELS["worn"], known={worn: known[worn]})
        noise = as_table(of_worn, ALPHABET, rng)
        true = rng.integers(0, size, COMPARED // 2)
        readings = [read_worn(texts[i], rng, noise) for i in true]
        theirs = _levenshtein(readings, texts, true)
        shipped = wear.shapes
        try:
            for name, made in (("of the other style", table(LEVELS["worn"], known={other: known[other]})), ("even", np.ones((36, 36)))):
                wear.shapes = lambda level, made=made: made  # type: ignore[assignment]
                wear._shipped.cache_clear()
                compiled = [compile_readings([Reading.parse(r)], ["worn"], Assumptions()) for r in readings]
                mine = np.array([_right(index.best(each), i) for each, i in zip(compiled, true, strict=True)])
                print(f"wear of {worn} letters at {size:,}, table {name}: top-1 {mine.mean():.3f}, {_ratio(mine, theirs)} of Levenshtein")
        finally:
            wear.shapes = shipped
            wear._shipped.cache_clear()


if __name__ == "__main__":
    main(sys.argv[1:])
