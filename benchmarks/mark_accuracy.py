"""How often the best mark is the true one, and how honest the stated probabilities are: `python -m benchmarks.mark_accuracy`.

Readings are drawn by processes other than the program's table (`benchmarks.mark_catalogue`): misreadings all alike, or as the letters of
a style are misread that the table used then does not know. Baseline: Levenshtein distance (RapidFuzz), ties shared.
"""


from collections.abc import Sequence

import numpy as np
from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

from benchmarks.mark_catalogue import Misread, any_other, catalogue, read_worn
from kb.assumptions import Assumptions
from kb.channel import wear
from kb.channel.compiled import compile_readings
from kb.channel.learning import Confirmed, diagram, learn
from kb.channel.marks import MarkIndex
from kb.channel.reading import Reading
from kb.channel.strokes.glyphs import styles
from kb.channel.strokes.table import table
from kb.channel.strokes.wearing import LEVELS
from kb.channel.unknown import TextModel
from kb.words.notation import ALPHABET

SIZES = {10_000: (1500, 1500), 100_000: (1500, 1500), 1_000_000: (800, 300)}
PRIOR = 0.05


def main() -> None:
    """Print everything."""
    for size, (count, baseline) in SIZES.items():
        rng = np.random.default_rng(size + 1)
        texts, strange = catalogue(size, rng)
        index, model = MarkIndex.of(texts), TextModel.learn(dict.fromkeys(texts[:: max(1, size // 50_000)], 1.0), Assumptions())
        noise = any_other(rng)
        true = rng.integers(0, size, count + 500)
        readings = [read_worn(texts[i], rng, noise) for i in true]
        confirmed = [Confirmed(Reading.parse(r), texts[i], "worn") for r, i in zip(readings[count:], true[count:], strict=True)]
        learned = learn(confirmed, index, Assumptions())
        for name, assumptions in (("default", Assumptions()), (f"learned, exponent {learned.assumptions.sharpness:.2f}", learned.assumptions)):
            stated = [_stated(index, r, i, model, assumptions) for r, i in zip(readings[:count], true, strict=False)]
            rows = diagram([(p, right) for p, right, _ in stated])
            ece = sum(row["count"] * abs(row["stated"] - row["right"]) for row in rows) / count
            sure = [right for p, right, _ in stated if p >= 0.9]
            first = np.mean([right for _, right, _ in stated])
            print(f"{size:>9,} {name}: top-1 {first:.3f}, ECE {ece:.3f}, of {len(sure)} stated >= .9 right {np.mean(sure):.3f}", flush=True)
        theirs = np.mean([_levenshtein(r, texts, i) for r, i in zip(readings[:baseline], true, strict=False)])
        mine = np.mean([_stated(index, r, i, model, Assumptions())[1] for r, i in zip(readings[:baseline], true, strict=False)])
        print(f"{size:>9,} top-1 on the same {baseline}: {mine:.3f}, Levenshtein {theirs:.3f}, ratio {mine / theirs:.2f}")
        others = [_stated(index, read_worn(text, rng, noise), -1, model, learned.assumptions)[2] for text in strange[: count // 2]]
        print(f"{size:>9,} AUC of not-in-the-knowledge-base, other families: {_auc(others, [u for _, _, u in stated]):.3f}")
    _font(100_000)


def _stated(index: MarkIndex, reading: str, true: int, model: TextModel, assumptions: Assumptions) -> tuple[float, bool, float]:
    """P(best mark), whether it is the true one, P(not in the knowledge base)."""
    compiled = compile_readings([Reading.parse(reading)], ["worn"], assumptions)
    found = index.best(compiled)
    known = (1 - PRIOR) / len(index.texts)
    unknown = PRIOR * model.evidence(compiled)
    total = known * (float(found.weights.sum()) + found.rest) + unknown
    if not len(found.texts):
        return 0.0, False, 1.0
    return float(known * found.weights[0] / total), bool(found.texts[0] == true), unknown / total


def _levenshtein(reading: str, texts: Sequence[str], true: int) -> float:
    """The share of the true text among those that are nearest."""
    distances = process.cdist([reading], texts, scorer=Levenshtein.distance)[0]
    nearest = np.flatnonzero(distances == distances.min())
    return float(true in nearest) / len(nearest)


def _auc(positive: Sequence[float], negative: Sequence[float]) -> float:
    ranks = np.argsort(np.argsort(np.concatenate([positive, negative]))) + 1.0
    return float((ranks[: len(positive)].sum() - len(positive) * (len(positive) + 1) / 2) / (len(positive) * len(negative)))


def _font(size: int) -> None:
    """Misreadings as of one style of letters, the table made from the other style only."""
    known = styles()
    rng = np.random.default_rng(4)
    texts, _ = catalogue(size, rng)
    index = MarkIndex.of(texts)
    for worn, other in (("cut", "hershey"), ("hershey", "cut")):
        of_worn = table(LEVELS["worn"], known={worn: known[worn]})
        np.fill_diagonal(of_worn, 0)
        noise = _as_table(of_worn, rng)
        pairs = [(read_worn(texts[i], rng, noise), int(i)) for i in rng.integers(0, size, 600)]
        theirs = float(np.mean([_levenshtein(r, texts, i) for r, i in pairs]))
        scores = {}
        shipped = wear.shapes
        try:
            for name, made in (("other style", table(LEVELS["worn"], known={other: known[other]})), ("uniform", np.ones((36, 36)))):
                wear.shapes = lambda level, made=made: made  # type: ignore[assignment]
                wear._shipped.cache_clear()
                best = [index.best(compile_readings([Reading.parse(r)], ["worn"], Assumptions()), 10, 1.0).texts for r, _ in pairs]
                scores[name] = float(np.mean([len(b) > 0 and b[0] == i for b, (_, i) in zip(best, pairs, strict=True)]))
        finally:
            wear.shapes = shipped
            wear._shipped.cache_clear()
        print(f"wear of {worn}, table of {other}: top-1 {scores['other style']:.3f}, uniform {scores['uniform']:.3f}, Levenshtein {theirs:.3f}, "
              f"ratio {scores['other style'] / theirs:.2f}")  # fmt: skip


def _as_table(chances: np.ndarray, rng: np.random.Generator) -> Misread:
    cumulative = np.cumsum(chances / chances.sum(axis=1, keepdims=True), axis=1)

    def misread(character: str) -> str:
        return ALPHABET[min(35, int(np.searchsorted(cumulative[ALPHABET.index(character)], rng.random())))]

    return misread


if __name__ == "__main__":
    main()
