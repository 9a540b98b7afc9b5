"""The weight of a reading if the text is one that nobody recorded (docs/model.md, section 3)."""

from collections import defaultdict
from math import prod
from typing import NamedTuple

from kb.assumptions import Assumptions

from .readings import CHARACTERS, Column, Seen, Tokens, both_ways_up, entry, unnoticed

LETTERS, DIGITS = CHARACTERS[10:], CHARACTERS[:10]
Table = list[list[float]]


class TextModel(NamedTuple):
    """What texts of one kind look like."""

    start: list[float]  # P(first character)
    follow: Table  # follow[i][j] = P(next is character j | character i)
    end: list[float]  # P(text ends | character i)
    any_run: Table  # any_run[i][j] = sum over all runs of 0, 1, 2, ... more characters from i that stand at j in the end
    shapes: dict[str, float]  # pattern of letters and digits, as "LDDD" -> share


def learn(texts: dict[str, float], assumptions: Assumptions) -> TextModel:
    """A model from texts and their weights."""
    smoothing = assumptions.bigram_smoothing
    count: dict[tuple[str, str], float] = defaultdict(float)
    shapes: dict[str, float] = defaultdict(float)
    for text, weight in texts.items():
        for state, following in zip(["start", *text], [*text, "end"], strict=True):
            count[state, following] += weight
        shapes["".join("D" if c in DIGITS else "L" for c in text)] += weight
    total = sum(shapes.values())

    def chances(state: str, nexts: list[str]) -> list[float]:
        out_of = sum(count[state, following] for following in nexts) + smoothing * len(nexts)
        return [(count[state, following] + smoothing) / out_of for following in nexts]

    after = [chances(c, [*CHARACTERS, "end"]) for c in CHARACTERS]
    follow = [row[:36] for row in after]
    return TextModel(
        chances("start", list(CHARACTERS)),
        follow,
        [row[36] for row in after],
        inverse([[(i == j) - follow[i][j] for j in range(36)] for i in range(36)]),
        {shape: weight / total for shape, weight in shapes.items() if weight},
    )


def inverse(matrix: Table) -> Table:
    """The inverse of a matrix by Gauss and Jordan. I + T + T^2 + ... is the inverse of I - T."""
    size = len(matrix)
    work = [row[:] + [float(i == j) for j in range(size)] for i, row in enumerate(matrix)]
    for column in range(size):
        pivot = max(range(column, size), key=lambda r: abs(work[r][column]))
        work[column], work[pivot] = work[pivot], work[column]
        work[column] = [value / work[column][column] for value in work[column]]
        for r in range(size):
            if r != column and work[r][column]:
                work[r] = [a - work[r][column] * b for a, b in zip(work[r], work[column], strict=True)]
    return [row[size:] for row in work]


def unknown_weight(seen: Seen, model: TextModel, assumptions: Assumptions) -> float:
    """U(reading) = P(reading | a text that is not in this knowledge base)."""

    def mixed(tokens: Tokens) -> float:
        bigram = bigram_weight(tokens, seen, model)
        shape = shape_weight(tokens, seen, model) if model.shapes else bigram
        return assumptions.bigram_share * bigram + (1 - assumptions.bigram_share) * shape

    return both_ways_up(seen, assumptions, mixed)


def bigram_weight(tokens: Tokens, seen: Seen, model: TextModel) -> float:
    """Sum over all texts of P(text) times the weight of the text, character by character."""
    if seen.slips:
        return _bigram_with_slips(tokens, seen, model)
    at_start, at = 1.0, [0.0] * 36  # the weight of all ways to have come to the start, or to a character
    for token in tokens:
        one_more = [at_start * model.start[j] + sum(at[i] * model.follow[i][j] for i in range(36)) for j in range(36)]
        if token == "*":
            some_more = [sum(one_more[i] * model.any_run[i][j] for i in range(36)) for j in range(36)]
            at = [at[j] + some_more[j] for j in range(36)]
        else:
            at_start, at = 0.0, [one_more[j] * entry(token, c, seen) for j, c in enumerate(CHARACTERS)]
    return sum(at[i] * model.end[i] for i in range(36))


def _bigram_with_slips(tokens: Tokens, seen: Seen, model: TextModel) -> float:
    assert seen.slips

    def onward(at: list[float]) -> list[float]:
        return [sum(at[i] * model.follow[i][j] for i in range(36)) for j in range(36)]

    def taken(first: list[float], columns: list[Column]) -> list[float]:
        """From the weights of the first character to those of the last, all characters weighed."""
        at = [first[j] * columns[0](c) for j, c in enumerate(CHARACTERS)]
        for column in columns[1:]:
            at = [weight * column(c) for weight, c in zip(onward(at), CHARACTERS, strict=True)]
        return at

    def ended(at: list[float]) -> float:
        return sum(at[i] * model.end[i] for i in range(36))

    total = sum(weight * ended(taken(model.start, columns)) for weight, columns in unnoticed(tokens, seen))
    whole = next(unnoticed(tokens, seen))[1]
    in_front, behind, weight = model.start, taken(model.start, whole), seen.slips.end_lost
    begun = [0.0] * 36
    for _ in range(40):  # further characters lost with the end weigh less than 1e-15
        in_front, behind = onward(in_front), onward(behind)
        begun = [b + weight * f for b, f in zip(begun, in_front, strict=True)]
        total += weight * ended(behind)
        weight *= seen.slips.end_lost_more
    return total + ended(taken(begun, whole))


def shape_weight(tokens: Tokens, seen: Seen, model: TextModel) -> float:
    """The same where all letters are equally likely in a letter's place, all digits in a digit's."""
    total = 0.0
    for shape, share in model.shapes.items():
        if seen.slips:
            total += share * _shape_with_slips(tokens, seen, shape)
            continue
        taken = [1.0] + [0.0] * len(shape)
        for token in tokens:
            if token == "*":
                taken = [sum(taken[: j + 1]) for j in range(len(taken))]
            else:
                mean = {kind: mean_over(kind, lambda c, token=token: entry(token, c, seen)) for kind in "LD"}  # type: ignore[misc]
                taken = [0.0] + [taken[j] * mean[kind] for j, kind in enumerate(shape)]
        total += share * taken[-1]
    return total


def mean_over(kind: str, column: Column) -> float:
    """Mean over the letters or the digits."""
    of = LETTERS if kind == "L" else DIGITS
    return sum(column(c) for c in of) / len(of)


def _shape_with_slips(tokens: Tokens, seen: Seen, shape: str) -> float:
    assert seen.slips
    total = 0.0
    for weight, columns in unnoticed(tokens, seen):
        if len(columns) == len(shape):
            total += weight * prod(mean_over(kind, column) for kind, column in zip(shape, columns, strict=True))
    more, whole = len(shape) - len(tokens), next(unnoticed(tokens, seen))[1]
    if more > 0:
        for rest in (shape[more:], shape[:-more]):
            weight = seen.slips.end_lost * seen.slips.end_lost_more ** (more - 1)
            total += weight * prod(mean_over(kind, column) for kind, column in zip(rest, whole, strict=True))
    return total
