"""The change-overs of a generated dataset: what happened, what sources say about it, and what people saw (docs/model.md, section 5)."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from benchmarks.noise import Channel, State
from benchmarks.truth import TrueComponent, TrueMaker, Truth
from kb.assumptions import Assumptions

Row = dict[str, object]


class SourceKind(NamedTuple):
    """One source of every maker."""

    name: str
    kind: str
    grade: str
    copy_of: str = ""


SOURCES = (
    SourceKind("works book", "factory record", "A"),
    SourceKind("parts list", "parts list", "B"),
    SourceKind("register", "club register", "C"),
    SourceKind("letter", "letter", "D"),
    SourceKind("reprint", "parts list", "C", "parts-list"),
)
NEAR = 60  # half of the sightings are this close to where a source says that the change-over was: that is where people look
STATED_WIDTH = 0.1  # change-overs of which a source says how long both variants were fitted


def source_id(maker: str, source: SourceKind) -> str:
    """The id of a maker's source."""
    return f"{maker}-{source.name.replace(' ', '-')}"


def true_change(rng: np.random.Generator, n: int, assumptions: Assumptions) -> tuple[int, int, int]:
    """The first new unit b and the mixed stretch w, from the prior: b flat on 0..n. Third, the width that a source will state, or 0.

    A width that is stated joins the prior of w before w is drawn, as section 5 has it.
    """
    widths = dict(assumptions.mixed_width)
    stated = int(rng.integers(20, 121)) if rng.random() < STATED_WIDTH else 0
    if stated:
        widths[stated] = max(widths.get(stated, 0.0), assumptions.claimed_width_weight)
    weights = np.array(list(widths.values()))
    return int(rng.integers(0, n + 1)), int(rng.choice(list(widths), p=weights / weights.sum())), stated


class Said(NamedTuple):
    """A row of breakpoints.csv and the order in the line that it names first."""

    component_id: str
    order: int
    row: Row


def claims(rng: np.random.Generator, maker: TrueMaker, assumptions: Assumptions) -> Iterator[Said]:
    """What the sources of a maker say about each of its change-overs: at least one claim, one exact one at most."""
    for component in maker.components:
        grades = [source for source in SOURCES if not source.copy_of]
        asked = [grades[i] for i in rng.permutation(len(grades))]
        kinds = [*(["exact"] if component.stated_width or rng.random() < 0.8 else []), *(["about"] if rng.random() < 0.4 else [])]
        kinds += ["range"] if not kinds or rng.random() < 0.3 else []
        for kind, source in zip(kinds, asked, strict=False):
            order, where = _claim(rng, maker, component, kind, assumptions.grade_reliability[source.grade], assumptions)
            copies = [copy for copy in SOURCES if kind == "exact" and copy.copy_of == source.name.replace(" ", "-") and rng.random() < 0.3]
            for printed in (source, *copies):
                row: Row = {
                    "breakpoint_id": f"{component.component_id}-{kind}{'-copy' if printed.copy_of else ''}", "series_id": maker.series_id,
                    "component_id": component.component_id, "old_variant_id": component.variants[0].variant_id,
                    "new_variant_id": component.variants[1].variant_id, "source_id": source_id(maker.maker_id, printed),
                }  # fmt: skip
                yield Said(component.component_id, order, row | where)


def _claim(
    rng: np.random.Generator, maker: TrueMaker, component: TrueComponent, kind: str, reliability: float, assumptions: Assumptions
) -> tuple[int, Row]:
    """A claim about b, drawn again until its serials can be printed (b = n, "not yet changed", has none)."""
    n, b = maker.count, component.first_new
    spread = max(assumptions.claim_spread_least, n * assumptions.claim_spread_share)
    while True:
        right = rng.random() < reliability
        anywhere, near = int(rng.integers(0, n + 1)), b + _two_sided(rng, spread)
        if kind == "range":
            length = int(rng.integers(10, max(11, n // 20)))
            low = b - int(rng.integers(0, length)) if right else int(rng.integers(1 - length, n + 1))
            if low >= 0 and low + length <= n:
                return low, {"first_new": maker.serial(low), "first_new_to": maker.serial(low + length - 1)}
        elif kind == "about":
            order = near if right else anywhere
            if 0 <= order < n:
                return order, {"first_new": maker.serial(order), "about": "yes"}
        else:
            order = b if right else near if rng.random() < 0.5 else anywhere
            if 0 <= order < n:
                last_old = order + component.stated_width - 1
                stated = {"last_old": maker.serial(last_old)} if component.stated_width and last_old < n else {}
                return order, {"first_new": maker.serial(order), **stated}


def _two_sided(rng: np.random.Generator, spread: float) -> int:
    """A whole number d with probability proportional to exp(-|d| / spread): the difference of two geometric ones."""
    stop = -np.expm1(-1 / spread)
    return int(rng.geometric(stop) - rng.geometric(stop))


def sighted(rng: np.random.Generator, truth: Truth, said: Sequence[Said], count: int, channel: Channel) -> Iterator[Row]:
    """What people saw: each serial and component once, half of them near the first claim (never near the truth, which nobody knew).

    Raises:
        ValueError: there are fewer things to see.
    """
    castings = [(maker, component) for maker in truth.makers for component in maker.components]
    if count > sum(maker.count for maker, _ in castings) // 2:
        raise ValueError(f"{count} sightings are too many: there are not twice as many units and castings to see.")
    claimed = {each.component_id: each.order for each in reversed(said)}
    done: set[tuple[str, int]] = set()
    while len(done) < count:
        maker, component = castings[int(rng.integers(len(castings)))]
        order = int(rng.integers(0, maker.count))
        if rng.random() < 0.5:
            order = min(max(claimed[component.component_id] + int(rng.integers(-NEAR, NEAR + 1)), 0), maker.count - 1)
        if (component.component_id, order) not in done:
            done.add((component.component_id, order))
            yield {"sighting_id": f"seen-{len(done)}"} | _sighting(rng, truth, maker, component, order, channel)


def _sighting(rng: np.random.Generator, truth: Truth, maker: TrueMaker, component: TrueComponent, order: int, channel: Channel) -> Row:
    assumptions = channel.assumptions
    original = ("believed", "unknown", "replaced")[int(rng.choice(3, p=(0.5, 0.45, 0.05)))]
    unknown = assumptions.replaced_when_unknown if component.replaced_rate is None else component.replaced_rate
    replaced = {"believed": assumptions.replaced_when_believed_original, "unknown": unknown, "replaced": 1.0}[original]
    variant = component.variants[int(rng.random() < component.built_new(order))]
    if rng.random() < replaced:
        variant = component.replacement(rng.random())
    row: Row = {
        "series_id": maker.series_id, "serial": maker.serial(order), "component_id": component.component_id, "original": original,
        "place": component.places[int(rng.integers(len(component.places)))] if component.places else "", "seen_on": 2000,
    }  # fmt: skip
    if not variant.marks or rng.random() > 0.1:
        return row | {"variant_id": variant.variant_id}
    texts = truth.foundry if truth.foundry and rng.random() < assumptions.foundry_share else variant.marks
    state: State = "clean" if rng.random() < 0.5 else "worn"
    return row | {"mark_read": channel.read(texts[int(rng.integers(len(texts)))], state, doubtful=state == "worn")}
