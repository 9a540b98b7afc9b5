"""Knowledge bases with a catalogue of dense families (`benchmarks.mark_catalogue`), with or without confirmed readings by a reader unlike the
table's."""

from pathlib import Path

import numpy as np

from benchmarks.mark_catalogue import any_other, catalogue, read_worn
from benchmarks.tables import write
from kb.store.build import build
from loaders.folder import load

COMPONENTS = 50
CONFIRMED = 500


def catalogued(folder: Path, size: int, confirmed: int) -> tuple[Path, list[str]]:
    """The built file and its mark texts. confirmed: how many worn readings of them the dataset holds, by the noise of `any_other`."""
    rng = np.random.default_rng(size + 2)
    texts, _ = catalogue(size, rng)
    folder.mkdir(parents=True)
    variants = [f"casting-{i + 1}-{side}" for i in range(COMPONENTS) for side in ("old", "new")]
    write(folder, "sources", [{"source_id": "list", "title": "A list", "kind": "parts list", "grade": "B"}])
    write(folder, "makers", [{"maker_id": "marl", "name": "Marl"}])
    write(folder, "components", [
        {"component_id": f"casting-{i + 1}", "maker_id": "marl", "assembly": "all", "name": f"casting {i + 1}", "safety_critical": "no"}
        for i in range(COMPONENTS)
    ])  # fmt: skip
    write(folder, "variants", [
        {"variant_id": each, "component_id": each.rpartition("-")[0], "name": each, "how_to_tell": "by its mark"} for each in variants
    ])  # fmt: skip
    dealt = rng.integers(0, len(variants), size)
    write(folder, "marks", [
        {"mark_id": f"m-{i}", "variant_ids": variants[dealt[i]], "text": text, "kind": "casting number"} for i, text in enumerate(texts)
    ])  # fmt: skip
    noise = any_other(rng)
    write(folder, "readings", [
        {"reading_id": f"r-{n}", "reading": read_worn(texts[i], rng, noise), "truth": texts[i], "wear": "worn"}
        for n, i in enumerate(rng.integers(0, size, confirmed))
    ])  # fmt: skip
    loaded = load([folder])
    if loaded.wrong:
        raise AssertionError("\n".join(str(finding) for finding in loaded.findings[:10]))
    target = folder.with_suffix(".db")
    build(loaded.dataset, target, problems=loaded.problems)
    return target, texts
