"""Writes a dataset of any size, drawn from the model of docs/model.md, and keeps the truth beside it.

    generate(Path("build/large"), seed=1, change_overs=500, marks=100_000, fitments=1_000_000)

Makers each with one line of two to four blocks; components each with one change-over, whose first new unit b and mixed stretch w come
from the prior; claims that are right as often as their grade says and otherwise wrong as section 5 has it; sightings with swapped
castings; marks in dense families. What the model does not count twice (two sources that name the same serial) is not drawn twice
either: a change-over has one exact claim at most, perhaps a copy of it, and otherwise vague ones.
"""

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from benchmarks.generated_claims import SOURCES, claims, sighted, source_id, true_change
from benchmarks.generated_parts import write_parts
from benchmarks.noise import Channel
from benchmarks.tables import write
from benchmarks.truth import TrueBlock, TrueComponent, TrueFeature, TrueMaker, TrueVariant, Truth, truth_file
from kb.assumptions import Assumptions

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
TO_AN_ASSEMBLY = 4
SERVICE = 0.2  # components with a variant that was only ever supplied as a replacement
VARIANTS_EACH = 2 + SERVICE
PLACES = ("left", "right")
FIRST_YEAR = 1920


def generate(
    target: Path, *, seed: int = 1, makers: int = 20, change_overs: int = 500, marks: int = 3000, sightings: int = 5000,
    parts: int = 3000, fitments: int = 5000, supersessions: int = 500, assumptions: Assumptions | None = None,
) -> Truth:  # fmt: skip
    """Write a valid dataset folder and, beside it, its truth. Same arguments, same bytes.

    Args:
        marks: about this many, spread evenly over the variants (at least one each, unless none are requested), including foundry marks.
        parts: as many of them as there are supersessions only replace others.

    Raises:
        ValueError: the numbers do not fit together.
    """
    if not 0 < makers <= len(LETTERS) or change_overs < makers:
        raise ValueError(f"Between 1 and {len(LETTERS)} makers, with a change-over each at least.")
    if min(marks, sightings, parts, fitments, supersessions) < 0 or 2 * supersessions > parts:
        raise ValueError("Nothing can be fewer than none, and at most half of the parts can replace others.")
    rng, used = np.random.default_rng(seed), assumptions or Assumptions()
    target.mkdir(parents=True, exist_ok=True)
    foundry = tuple(f"{LETTERS[i % 24]}{LETTERS[i // 24 % 24]}{i % 10}" for i in range(max(1, marks // 200))) if marks else ()
    foundry = tuple(dict.fromkeys(foundry))
    numbers = _families(rng, change_overs, max(marks > 0, int((marks - len(foundry)) / (VARIANTS_EACH * change_overs))))
    each = [change_overs // makers + (i < change_overs % makers) for i in range(makers)]
    truth = Truth(seed, tuple(_maker(rng, i, count, numbers, used) for i, count in enumerate(each)), foundry)
    _write_works(target, truth)
    _write_castings(target, truth)
    said = [each for maker in truth.makers for each in claims(rng, maker, used)]
    write(target, "breakpoints", [each.row for each in said])
    write(target, "sightings", sighted(rng, truth, said, sightings, Channel(rng, used)))
    write_parts(target, rng, truth, parts, fitments, supersessions)
    truth.save(truth_file(target))
    return truth


def _families(rng: np.random.Generator, components: int, a_variant: int) -> Iterator[list[list[str]]]:
    """For each component the marks of up to three variants: neighbouring numbers in one dense family, dealt out at random.

    A family is a letter and a stretch of running numbers that no other family has.
    """
    size = 3 * a_variant
    width = len(str(2 * size * (components // len(LETTERS) + 1)))
    for i in range(components):
        start = 2 * size * (i // len(LETTERS))
        running = start + np.cumsum(rng.integers(1, 3, size)) - 1
        texts = [f"{LETTERS[i % len(LETTERS)]}{number:0{width}d}" for number in running]
        dealt = rng.permutation(size)
        yield [[texts[j] for j in sorted(dealt[k::3])] for k in range(3)]


def _maker(rng: np.random.Generator, index: int, components: int, numbers: Iterator[list[list[str]]], assumptions: Assumptions) -> TrueMaker:
    maker = f"maker-{index + 1}"
    blocks = tuple(_block(rng, maker, index, position) for position in range(int(rng.integers(2, 5))))
    line = TrueMaker(maker, f"{maker}-numbers", blocks, ())
    made = tuple(_component(rng, line, number, next(numbers), assumptions) for number in range(components))
    return TrueMaker(line.maker_id, line.series_id, blocks, made)


def _block(rng: np.random.Generator, maker: str, index: int, position: int) -> TrueBlock:
    span = int(rng.integers(300, 2500))
    units = span if rng.random() < 0.8 else int(span * 0.9)
    model = f"{maker}-model-{position + 1}"
    models: tuple[tuple[str, int], ...] = ((model, units),)
    if position and rng.random() < 0.25:  # the model before was still being built
        before = units // 3
        models = ((f"{maker}-model-{position}", before), (model, units - before))
    return TrueBlock(f"{maker}-block-{position + 1}", f"{LETTERS[index]}{LETTERS[position]}", 1, span, 5, models)


def _component(rng: np.random.Generator, line: TrueMaker, number: int, marks: list[list[str]], assumptions: Assumptions) -> TrueComponent:
    component = f"{line.maker_id}-casting-{number + 1}"
    service = rng.random() < SERVICE
    shares = (1.0, 1.0, float(rng.integers(1, 4)))
    names = ("old", "new", "service")[: 3 if service else 2]
    variants = tuple(TrueVariant(f"{component}-{name}", shares[k], tuple(marks[k])) for k, name in enumerate(names))
    places = PLACES if rng.random() < 0.2 else ()
    rate = round(float(rng.uniform(0.01, 0.25)), 2) if rng.random() < 0.3 else None
    first_new, mixed, stated = true_change(rng, line.count, assumptions)
    features = tuple(_features(rng, component, [variant.variant_id for variant in variants], assumptions))
    return TrueComponent(component, f"assembly-{number // TO_AN_ASSEMBLY + 1}", places, rate, variants, features, first_new, mixed, stated)


def _features(rng: np.random.Generator, component: str, variants: list[str], assumptions: Assumptions) -> Iterator[TrueFeature]:
    error = 0.05 if rng.random() < 0.3 else assumptions.feature_error
    if rng.random() < 0.6:
        yield TrueFeature(f"{component}-look", "choice", error, tuple(zip(variants, ("flat", "ribbed"), strict=False)))
    if len(variants) == 2 and rng.random() < 0.3:
        yield TrueFeature(f"{component}-width", "measure", error, ((variants[0], "30"), (variants[1], "35")))


def _write_works(target: Path, truth: Truth) -> None:
    write(target, "sources", [row for maker in truth.makers for row in _sources(maker.maker_id)])
    write(target, "makers", [{"maker_id": m.maker_id, "name": m.maker_id.capitalize(), "left_means": "seen from the crank"} for m in truth.makers])
    models = [(maker.maker_id, model) for maker in truth.makers for block in maker.blocks for model, _ in block.models]
    write(target, "models", [{"model_id": model, "maker_id": maker, "name": model} for maker, model in dict.fromkeys(models)])
    write(target, "series", [
        {"series_id": m.series_id, "maker_id": m.maker_id, "name": "unit numbers", "stamped_on": "frame, below the tank"} for m in truth.makers
    ])  # fmt: skip
    write(target, "blocks", [_block_row(maker, position, block) for maker in truth.makers for position, block in enumerate(maker.blocks)])
    write(target, "block_models", [
        {"block_id": block.block_id, "model_id": model, "units": units}
        for maker in truth.makers for block in maker.blocks if len(block.models) > 1 for model, units in block.models
    ])  # fmt: skip


def _sources(maker: str) -> Iterator[dict[str, object]]:
    for source in SOURCES:
        row: dict[str, object] = {"source_id": source_id(maker, source), "title": f"{source.name} of {maker}", "kind": source.kind}
        yield row | {"grade": source.grade, "copied_from": f"{maker}-{source.copy_of}" if source.copy_of else ""}


def _block_row(maker: TrueMaker, position: int, block: TrueBlock) -> dict[str, object]:
    row: dict[str, object] = {
        "block_id": block.block_id, "series_id": maker.series_id, "position": position + 1,
        "prefix": block.prefix, "first": block.first, "last": block.last, "width": block.width,
        "built_from": FIRST_YEAR + 3 * position, "built_to": FIRST_YEAR + 3 * position + 2, "dates_are": "built",
        "source_id": source_id(maker.maker_id, SOURCES[0]),
    }  # fmt: skip
    if len(block.models) == 1:
        row |= {"model_id": block.models[0][0], "units": block.units if block.units < block.span else ""}
    return row


def _write_castings(target: Path, truth: Truth) -> None:
    components = [(maker, component) for maker in truth.makers for component in maker.components]
    write(target, "components", [
        {
            "component_id": c.component_id, "maker_id": maker.maker_id, "assembly": c.assembly, "name": c.component_id.replace("-", " "),
            "places": ";".join(c.places), "where_to_look": "number on the outside", "safety_critical": "no",
            "replaced_rate": "" if c.replaced_rate is None else c.replaced_rate,
        }
        for maker, c in components
    ])  # fmt: skip
    write(target, "variants", [
        {
            "variant_id": v.variant_id, "component_id": c.component_id, "name": v.variant_id.rsplit("-")[-1],
            "how_to_tell": "by its number", "service_share": v.service_share,
        }
        for _, c in components for v in c.variants
    ])  # fmt: skip
    write(target, "marks", [
        *({"mark_id": f"mark-{text.lower()}", "variant_ids": v.variant_id, "text": text, "kind": "casting number"}
          for _, c in components for v in c.variants for text in v.marks),
        *({"mark_id": f"foundry-{text.lower()}", "text": text, "kind": "foundry"} for text in truth.foundry),
    ])  # fmt: skip
    features = [feature | {"component_id": c.component_id} for _, c in components for feature in map(_feature_row, c.features)]
    write(target, "features", features)
    write(target, "feature_values", [
        {"variant_id": variant, "feature_id": f.feature_id}
        | ({"value": value} if f.kind == "choice" else {"low": float(value) - 1, "high": float(value) + 1})
        for _, c in components for f in c.features for variant, value in f.values
    ])  # fmt: skip


def _feature_row(feature: TrueFeature) -> dict[str, object]:
    question = "Is the face flat or ribbed?" if feature.kind == "choice" else "How wide is the face?"
    return {"feature_id": feature.feature_id, "question": question, "kind": feature.kind, "effort": 1, "error": feature.error,
            "unit": "mm" if feature.kind == "measure" else ""}  # fmt: skip
