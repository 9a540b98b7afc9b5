"""What is known about each change-over: the result, the standing of each claim, odd sightings (docs/model.md, section 5)."""

from typing import Any

from kb.assumptions import Assumptions

from .built import Built
from .changeovers import gain, joint_marginal, over_b, replaced, result, standing
from .lineages import Lineage, latest_rows, observed
from .places import Castings
from .serials import Spot, Works, lay_out
from .tables import Tables, number


def review(tables: Tables, assumptions: Assumptions) -> list[dict[str, Any]]:
    """One dict per change-over: "line", "component", "model", "old", "new", "n" (units concerned), orders "first_new", "low", "high",
    "probability", "b" and "mixed" (marginals), "claims" [(kind, low, high, reliability, standing, probability)],
    "sightings" {sighting_id: P(replaced)}, "seek" (order, bits), "serials" (printed text of each order; "" after the last).
    """
    works = lay_out(tables, assumptions)
    castings = Castings(tables, assumptions)
    built = Built(tables, works, castings, assumptions)
    known = {(spot, component) for spot, component, _ in latest_rows(tables, works)}
    return [_change(built, works, lineage, k, known) for lineage in built.lineages for k in range(len(lineage.changes))]


def _change(built: Built, works: Works, lineage: Lineage, k: int, known: set[tuple[Spot, str]]) -> dict[str, Any]:
    castings, assumptions, change = built.castings, built.assumptions, lineage.changes[k]
    marginal = joint_marginal(built.posteriors(lineage), k)
    first_new, probability, low, high = result(marginal, assumptions)
    mixed: dict[int, float] = {}
    for (_, w), p in marginal.items():
        mixed[w] = mixed.get(w, 0.0) + p
    seen = {s.sighting_id: observed(s, lineage, k, castings, assumptions) for s in built.counted(lineage)}
    return {
        "line": lineage.line, "component": lineage.component, "model": lineage.model, "old": change.old, "new": change.new,
        "n": len(lineage.concerned), "first_new": first_new, "probability": probability, "low": low, "high": high,
        "b": over_b(marginal), "mixed": mixed,
        "claims": [(*claim, *standing(claim, marginal, assumptions)) for claim in change.claims],
        "sightings": {key: replaced(each, marginal) for key, each in seen.items()},
        "seek": _seek(built, works, lineage, k, known),
        "serials": [_serial(works, lineage, order) for order in lineage.concerned] + [""],
    }  # fmt: skip


def _seek(built: Built, works: Works, lineage: Lineage, k: int, known: set[tuple[Spot, str]]) -> tuple[int, float] | None:
    """The order not seen yet whose sighting, of unknown originality, would narrow b most (the lowest on ties), and by how many bits."""
    castings = built.castings
    rho = number(castings.components[lineage.component], "replaced_rate", built.assumptions.replaced_when_unknown)
    shares = castings.shares(lineage.component)
    g_old, g_new = (sum(shares[v] for v in some) for some in (lineage.variants[: k + 1], lineage.variants[k + 1 :]))
    marginal = joint_marginal(built.posteriors(lineage), k)
    gains = {
        s: gain(s, marginal, rho, g_old, g_new)
        for s, order in enumerate(lineage.concerned)
        if {m for m, _ in works.block_at((lineage.line, order)).models} <= lineage.governed
        and ((lineage.line, order), lineage.component) not in known
    }
    best = max(gains, key=lambda s: (round(gains[s], 12), -s), default=None)
    return None if best is None else (best, gains[best])


def _serial(works: Works, lineage: Lineage, order: int) -> str:
    block = works.block_at((lineage.line, order))
    return "".join(block.printed(block.first + order - block.order_first))

