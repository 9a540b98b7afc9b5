"""What a second look at one character would tell (docs/model.md, section 10), by telling each character that it may show, one after the other."""

from collections import defaultdict
from collections.abc import Callable
from math import log2
from typing import Any

from kb.assumptions import Assumptions

from .fitment import Entry, fits
from .readings import CHARACTERS, parse
from .tables import Tables
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


def which_variant(
    tables: Tables, evidence: Evidence, spot: Spot, maker: str, kind: str, which: int, token: int, assumptions: Assumptions
) -> Joint:
    """What a second look would show, with the variant fitted at a place of a maker's unit, or None for any other unit."""

    def after(evidence: Evidence) -> dict[Any, float]:
        found = identify(tables, evidence, assumptions, maker)
        share = sum(p for (_, block), p in found["units"].items() if makers[block] == maker)
        return {None: 1 - share, **{variant: share * p for variant, p in found["fitted"][spot].items()}}

    makers = {block: each.maker for block, each in Question(tables, evidence, assumptions).works.blocks.items()}
    return _with(which_unit(tables, evidence, kind, which, token, assumptions), lambda shown: after(told(evidence, kind, which, token, shown)))


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

