"""What a second look at one character would tell (docs/model.md, section 10), by telling each character that it may show, one after the other."""

from collections import defaultdict
from collections.abc import Callable
from math import log2
from typing import Any

from kb.assumptions import Assumptions

from .fitment import Entry, fits
from .readings import CHARACTERS, parse
from .tables import Tables, cell
from .unit import Evidence, Question, Spot, identify

Joint = dict[str, dict[Any, float]]  # character shown -> answer -> probability, all together 1


def told(evidence: Evidence, kind: str, which: int, token: int, shown: str) -> Evidence:
    """The evidence with what a second look at one token of a reading showed; kind: "serials" or "marks"."""
    pieces = list(evidence[kind])
    at = 1 if kind == "serials" else 2
    tokens = list(parse(pieces[which][at]))
    tokens[token] += ">" + shown
    text = "".join(f"[{t[:-2]}]{t[-2:]}" if len(t) > 3 and t[-2] == ">" else f"[{t}]" if len(t) > 1 and t[-2] != ">" else t for t in tokens)
    pieces[which] = (*pieces[which][:at], text, *pieces[which][at + 1 :])
    return {**evidence, kind: pieces}


def which_unit(tables: Tables, evidence: Evidence, kind: str, which: int, token: int, assumptions: Assumptions) -> Joint:
    """What a second look would show, with the unit's (model, block), or None for one that is not in this knowledge base."""
    found: Joint = {}
    before = Question(tables, evidence, assumptions)
    of_unit = kind == "serials" and not before.component_of.get(evidence[kind][which][0] or "")
    worlds = [(world, world.total()) for world in before.worlds()]
    for shown in CHARACTERS:
        question = Question(tables, told(evidence, kind, which, token, shown), assumptions)
        weights: dict[Any, float] = defaultdict(float)
        if of_unit:  # all else of a world stays as it was
            for world, weight in worlds:
                if weight > 0:
                    ratio = question.number_weight("", world.unit) / before.number_weight("", world.unit)
                    weights[world.unit.model, world.unit.block_id] += weight * ratio
        else:
            for world in question.worlds():
                weights[world.unit.model, world.unit.block_id] += world.total()
        weights[None] = question.not_in_knowledge_base()
        found[shown] = weights
    total = sum(sum(column.values()) for column in found.values())
    return {shown: {answer: p / total for answer, p in column.items()} for shown, column in found.items()}


def does_it_fit(
    tables: Tables, evidence: Evidence, part: str, entry: Entry, kind: str, which: int, token: int, assumptions: Assumptions
) -> Joint:
    """What a second look would show, with whether the part fits there: "yes", "no", "silence"."""

    def after(evidence: Evidence) -> dict[Any, float]:
        masses = dict(fits(tables, evidence, part, assumptions)[entry])
        return {**masses, "silence": 1 - masses["yes"] - masses["no"]}

    return _with(which_unit(tables, evidence, kind, which, token, assumptions), lambda shown: after(told(evidence, kind, which, token, shown)))


def which_casting(tables: Tables, evidence: Evidence, maker: str, kind: str, which: int, token: int, assumptions: Assumptions) -> Joint:
    """What a second look at a mark would show, with the component that it is on and the variant fitted there, or None for units not of the maker."""

    def after(evidence: Evidence) -> dict[Any, float]:
        question = Question(tables, evidence, assumptions)
        component, place, reading, wear = evidence[kind][which]
        makers = {c: cell(row, "maker_id") for c, row in question.castings.components.items()}
        spots = [(component, place)] if component else [(c, p) for c in makers for p in question.castings.places(c)]
        weights: dict[Any, float] = defaultdict(float)
        for c, p in spots:
            at = {**evidence, kind: [*evidence[kind][:which], (c, p, reading, wear), *evidence[kind][which + 1 :]]}
            alike = sum(makers[other] == makers[c] for other, _ in spots)
            assembly = cell(question.castings.components[c], "assembly")
            for world in Question(tables, at, assumptions).worlds():
                if question.works.blocks[world.unit.block_id].maker == makers[c]:
                    rest = world.total(frozenset([assembly])) / alike
                    for facts, chance in world.assemblies.table(world.unit, assembly, frozenset([("fitted", c, p)])).items():
                        weights[(c, dict(facts)["fitted", c, p]) if makers[c] == maker else None] += rest * chance
                elif component:
                    weights[None] += world.total()
        weights[None] += question.not_in_knowledge_base()
        return {answer: p / sum(weights.values()) for answer, p in weights.items()}

    return _with(which_unit(tables, evidence, kind, which, token, assumptions), lambda shown: after(told(evidence, kind, which, token, shown)))


def for_the_best_place(tables: Tables, evidence: Evidence, maker: str, kind: str, which: int, token: int, assumptions: Assumptions) -> Joint:
    """What a second look would show, with the variant at the place of which it tells most, or None for units not of the maker."""
    makers = {block: each.maker for block, each in Question(tables, evidence, assumptions).works.blocks.items()}
    units = which_unit(tables, evidence, kind, which, token, assumptions)
    after = {shown: identify(tables, told(evidence, kind, which, token, shown), assumptions, maker) for shown in CHARACTERS}

    def at(spot: Spot, shown: str) -> dict[Any, float]:
        share = sum(p for (_, block), p in after[shown]["units"].items() if makers[block] == maker)
        return {None: 1 - share, **{variant: share * p for variant, p in after[shown]["fitted"][spot].items()}}

    return max((_with(units, lambda shown, spot=spot: at(spot, shown)) for spot in after["0"]["fitted"]), key=gain)  # type: ignore[misc]


def _with(units: Joint, after: Callable[[str], dict[Any, float]]) -> Joint:
    """The same outcomes with the answers that hold after each."""
    return {shown: {answer: p * sum(column.values()) for answer, p in after(shown).items()} for shown, column in units.items()}


def gain(joint: Joint) -> float:
    """I(Q; O) = H(Q) + H(O) - H(Q, O) in bits."""
    answers: dict[Any, float] = defaultdict(float)
    for column in joint.values():
        for answer, p in column.items():
            answers[answer] += p
    together = [p for column in joint.values() for p in column.values()]
    return _entropy(list(answers.values())) + _entropy([sum(column.values()) for column in joint.values()]) - _entropy(together)


def _entropy(probabilities: list[float]) -> float:
    return -sum(p * log2(p) for p in probabilities if p > 0)

