"""Parts, fitments and supersessions of a generated dataset: as many as requested, each variant with its own parts in every role."""

from pathlib import Path

import numpy as np

from benchmarks.generated_claims import SOURCES, source_id
from benchmarks.tables import write, write_columns
from benchmarks.truth import Truth

LIMITED = 0.2  # further fitments that hold only from a serial on


def write_parts(target: Path, rng: np.random.Generator, truth: Truth, parts: int, fitments: int, supersessions: int) -> None:
    """Write the three files.

    The first parts go through the castings, variant by variant and role by role, each with its own fitment; further fitments say that
    a part fits another casting in the same role as well. The last `supersessions` parts fit nothing by themselves: they replace others,
    in chains of two.
    """
    own = parts - supersessions
    numbers = [f"P{number:07d}" for number in range(1, parts + 1)]
    old = [numbers[own + i - 1] if i % 2 else numbers[i // 2] for i in range(supersessions)]
    replaced = set(old)
    write_columns(target, "parts", {
        "part_number": numbers, "description": [f"part {number}" for number in numbers], "kind": ["original"] * parts, "unit": ["each"] * parts,
        "available": ["no" if number in replaced else "yes" for number in numbers], "safety_critical": ["no"] * parts,
    })  # fmt: skip
    first = [source_id(maker.maker_id, SOURCES[1]) for maker in truth.makers]
    write(target, "supersessions", [
        {"supersession_id": f"sup-{i + 1}", "old_part": before, "new_part": numbers[own + i], "direction": "one-way", "source_id": first[0]}
        for i, before in enumerate(old)
    ])  # fmt: skip
    if own and fitments:
        _write_fitments(target, rng, truth, first, numbers[:own], fitments)


def _write_fitments(target: Path, rng: np.random.Generator, truth: Truth, sources: list[str], numbers: list[str], count: int) -> None:
    places = [(at, component, variant) for at, maker in enumerate(truth.makers) for component in maker.components for variant in component.variants]
    makers = np.array([at for at, _, _ in places])
    part = np.concatenate([np.arange(min(count, len(numbers))), rng.integers(0, len(numbers), max(0, count - len(numbers)))])
    further = np.arange(count) >= len(numbers)
    place = np.where(further, rng.integers(0, len(places), count), part % len(places))
    starts = [[maker.serial(int(order)) for order in np.linspace(0, maker.count - 1, 64).astype(int)] for maker in truth.makers]
    limited = further & (rng.random(count) < LIMITED)
    start = rng.integers(0, 64, count)
    maker_of = makers[place].tolist()
    variants = [variant.variant_id for _, _, variant in places]
    components = [component.component_id for _, component, _ in places]
    series = [maker.series_id for maker in truth.makers]
    at = place.tolist()
    write_columns(target, "fitments", {
        "fitment_id": [f"fit-{i}" for i in range(1, count + 1)],
        "part_number": [numbers[i] for i in part.tolist()],
        "component_id": [components[i] for i in at],
        "role": [f"role {i // len(places) + 1}" for i in part.tolist()],
        "quantity": [1] * count,
        "series_id": [series[m] if limits else "" for m, limits in zip(maker_of, limited.tolist(), strict=True)],
        "serial_from": [starts[m][s] if limits else "" for m, s, limits in zip(maker_of, start.tolist(), limited.tolist(), strict=True)],
        "variant_id": [variants[i] for i in at],
        "source_id": [sources[m] for m in maker_of],
    })  # fmt: skip
