"""What the unit at hand tells about a worn casting number: the best of 100,000 marks without it, and with it.

Readings are by a reader unlike the table's (`benchmarks.mark_catalogue`). With the unit: its model is known and the number of one other casting
was read clearly. A mark then weighs what the reading says about it times its share, under that evidence, of the castings at its place.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks.drawn import DrawnUnit, draw_units
from benchmarks.knowledge import large
from benchmarks.mark_catalogue import any_other, read_worn
from benchmarks.measure import Row
from benchmarks.truth import Truth
from kb import Evidence, KnowledgeBase
from kb.probability.channel.automaton import compile_readings
from kb.probability.channel.reading import Reading
from kb.words.notation import normalise

READINGS = 400
DOUBLE = 2.0


@dataclass(frozen=True)
class Told:
    """Shares of readings whose best mark is the true one: over all marks, and with what the unit tells."""

    marks: int
    readings: int
    alone: float
    in_context: float


def told(path: Path, truth: Truth, count: int, seed: int = 11) -> Told:
    """On units drawn from the dataset, read one mark worn and another clear, and ask for the best mark with and without the unit."""
    rng = np.random.default_rng(seed)
    noise = any_other(rng)
    marks = {variant.variant_id: variant.marks for maker in truth.makers for component in maker.components for variant in component.variants}
    right = np.zeros(2)
    asked = 0
    with KnowledgeBase.open(path) as book:
        for unit in draw_units(truth, seed, 20 * count):
            castings = [(spot, variant) for spot, variant in unit.fitted.items() if marks.get(variant)]
            if asked == count or len(castings) < 2:
                continue
            (worn, worn_variant), (clear, clear_variant) = (castings[i] for i in rng.choice(len(castings), 2, replace=False))
            true, seen = (str(rng.choice(marks[variant])) for variant in (worn_variant, clear_variant))
            reading = read_worn(normalise(true), rng, noise)
            best = [each.text for each in book.casting(reading, wear="worn").matches[:1]]
            right += [list(map(normalise, best)) == [normalise(true)], _in_context(book, unit, worn, clear, seen, reading) == normalise(true)]
            asked += 1
        total = len(book._book.mark_index.texts)
    return Told(total, asked, *(right / asked).tolist())


def _in_context(book: KnowledgeBase, unit: DrawnUnit, worn: tuple[str, str], clear: tuple[str, str], seen: str, reading: str) -> str:
    """The best mark of the place, given the model of the unit and a clear mark elsewhere."""
    evidence = Evidence.read({"maker": unit.maker, "model": unit.model, "marks": [{"component": clear[0], "place": clear[1], "reading": seen}]})
    found = book._examine(evidence, None)
    share = found.posterior.makers[unit.maker].totals(worn).fitted[0]
    compiled = compile_readings([Reading.parse(reading)], ["worn"], book._assumptions)
    of = {variant.variant_id: float(p) for variant, p in zip(book._book.variants_of[worn[0]], share, strict=False)}
    rows = book._book.marks_of(worn[0])
    counts = {variant: sum(row.variant_id == variant for row in rows) for variant in of}
    worth: dict[str, float] = {}
    for row in rows:
        worth[row.normal] = worth.get(row.normal, 0.0) + of[row.variant_id] / counts[row.variant_id] * compiled.weight(row.normal)
    return max(worth, key=worth.__getitem__)


def run() -> list[Row]:
    """No rows: nothing here is a time."""
    return []


def section() -> str:
    """The table as printed on docs/performance.md."""
    found = told(*large(), READINGS)
    times = found.in_context / max(found.alone, 1e-9)
    reached = "yes" if times >= DOUBLE else "**no**"
    return "\n".join([
        "## What the unit tells about a worn casting number",
        "",
        "How often the best mark is the right one: over all marks, and with the unit, where its model is known and the number of one other casting",
        "was read clearly; the place of the worn casting is then known too. Goal: at least twice as often.",
        "",
        "| marks | readings | alone | with the unit | times | reached |",
        "|---:|---:|---:|---:|---:|---|",
        f"| {found.marks:,} | {found.readings} | {found.alone:.3f} | {found.in_context:.3f} | {times:.2f} | {reached} |",
        "",
    ])  # fmt: skip
