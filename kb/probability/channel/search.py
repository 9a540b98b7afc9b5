"""The texts that a reading suits best, among very many, found with certainty.

A node of the tree stands for all texts that begin alike. What the automaton weighs there, times the most that the rest of the reading could still
weigh, is a bound for all of them. A narrow first run finds good texts and so a lower bound for the k-th best; a second run follows every
node whose bound comes near it, so no better text can be missed. What is not followed counts at its average weight;
if that is much of the sum over all texts, or too many nodes would have to be followed, every text is weighed instead, so
that the sum stays honest and no reading takes much longer than weighing all.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kb.probability.channel.automaton import Automaton, Floats
from kb.probability.channel.packed_trie import Tree

BEAM = 100
ENOUGH = 25_000  # nodes of a run, after which weighing all costs little more
ESTIMATED = 0.2  # numeric: the share of the sum over all texts that may be an estimate


@dataclass(frozen=True, eq=False)
class Found:
    """Texts by falling weight, and the weight of all others together. nodes: how many were visited."""

    texts: NDArray[np.intp]
    weights: Floats
    rest: float
    nodes: int


def best(forward: Tree, backward: Tree, part: Automaton, most: int, near: float, estimated: float = ESTIMATED) -> Found:
    """At least the `most` heaviest texts and every one with more than `near` times the weight of the last of them, all exact.

    The weight of the others is estimated if it is at most the share `estimated` of all, otherwise summed.
    """
    turned = turned_round(part)
    search = _Search(backward, turned) if _open(turned) < _open(part) else _Search(forward, part)
    least = _least(search.run(0.0, BEAM, None), most)
    found = search.run(least * near, None, ENOUGH)
    if found is not None and found.rest <= estimated * (found.rest + float(found.weights.sum())):
        return found
    return heaviest(forward.trie.weights(part), most, near, least)


def heaviest(weights: Floats, most: int, near: float, least: float = 0.0) -> Found:
    """The same from the weights of all texts: nothing is estimated. least: no more than what the last of the `most` weighs, if that is known."""
    texts = np.flatnonzero(weights >= least * near) if least else np.arange(len(weights))
    if len(texts) > most:
        last = np.partition(weights[texts], len(texts) - most)[len(texts) - most]
        texts = texts[weights[texts] >= last * near]
    texts = texts[weights[texts] > 0]
    texts = texts[np.argsort(-weights[texts], kind="stable")]
    told = weights[texts]
    return Found(texts, told, max(0.0, float(weights.sum()) - float(told.sum())), len(weights))


def turned_round(part: Automaton) -> Automaton:
    """The automaton that reads from the other end: every edge the other way, the states numbered from behind."""
    last = len(part.start) - 1
    order = np.argsort(last - part.source, kind="stable")
    source, target = (last - part.target)[order], (last - part.source)[order]
    return Automaton(source, target, part.entries[:, order], part.end[::-1], part.start[::-1], part.covers[::-1], part.takes[order])


def _open(part: Automaton) -> float:
    """How many beginnings the reading leaves open: the characters that the tokens at its head may well be, multiplied out and added up."""
    state = int(np.flatnonzero(part.start)[0])
    total, ways = 0.0, 1.0
    for _ in range(5):
        edges = np.flatnonzero(part.source == state)
        ahead = edges[part.target[edges] == state + 1]
        if (part.covers[state] and state == part.source[edges].min()) or not len(ahead):
            return total + 1e5 * ways
        entry = part.entries[:, ahead[0]]
        ways *= 0.9 * float((entry > 0.1 * entry.max()).sum()) + 0.2  # numeric
        total += ways
        state += 1
    return total


def _least(found: "Found | None", most: int) -> float:
    return float(found.weights[most - 1]) * (1 - 1e-9) if found and len(found.weights) >= most else 0.0  # numeric


@dataclass(frozen=True, eq=False)
class _Step:
    """One level: the edges between alive states, and what each alive state before it is worth by the lengths that may follow and the character."""

    source: NDArray[np.intp]
    begins: NDArray[np.intp]
    entries: Floats  # (E, characters)
    at_most: Floats  # (S, lengths * characters)
    usual: Floats  # (S, lengths * characters)
    end: Floats  # (S',)


class _Search:
    """One automaton in one tree."""

    def __init__(self, tree: Tree, part: Automaton) -> None:
        self._tree = tree
        depth, size = len(tree.levels), len(part.start)
        order = np.argsort(part.source, kind="stable")
        source, target, weights = part.source[order], part.target[order], np.ascontiguousarray(part.entries.T[order])
        edges, characters = weights.shape
        heaviest = weights.max(axis=1)
        most = [part.end]  # what the rest weighs at most, by characters left
        for _ in range(depth):
            most.append(_sums(source, heaviest * most[-1][target], size))
        exactly = np.array(most)
        mean = (tree.usual @ weights.T).ravel()  # (depth, E) what an edge weighs on the average
        onward = _sums((np.arange(depth)[:, None] * size * size + target * size + source).ravel(), mean, depth * size * size)
        usual = [part.end[None]]  # what the rest weighs on the average, (lengths, S), from the deepest level up
        for step in onward.reshape(depth, size, size)[::-1]:
            usual.append(np.concatenate([part.end[None], usual[-1] @ step]))
        # What a state is worth for a child, by the lengths that may follow the child and by its character: at most and on the average, of all levels.
        worth = [np.where(level.ends[:, : depth - d, None], exactly[: depth - d], 0.0).max(axis=1) for d, level in enumerate(tree.levels)]
        worth += [level.shares[:, : depth - d] @ usual[depth - d - 1] for d, level in enumerate(tree.levels)]
        kinds = np.cumsum([0, *map(len, worth)])
        nth = np.arange(edges) - np.searchsorted(source, source)  # an edge among those of its source
        going = np.zeros((size, nth.max() + 1, characters))
        going[source, nth] = weights
        arrived = np.zeros(going.shape[:2], dtype=np.intp)
        arrived[source, nth] = target
        tables = np.concatenate(worth)[:, arrived].transpose(1, 0, 2) @ going  # (S, kinds, characters)
        alive = (part.start > 0) & (exactly.max(axis=0) > 0)
        self._start = part.start[alive][:, None]
        by_target = np.argsort(target, kind="stable")
        source, target, weights = source[by_target], target[by_target], weights[by_target]
        self._steps: list[_Step] = []
        for d in range(depth):
            can = exactly[: depth - d].max(axis=0) > 0  # lengths 0 .. depth - d - 1 can follow
            edge = np.flatnonzero(alive[source] & can[target])
            to, rows, place = target[edge], np.flatnonzero(alive), np.cumsum(alive) - 1
            at_most, mean_worth = (tables[rows, kinds[i] : kinds[i + 1]].reshape(len(rows), -1) for i in (d, depth + d))
            alive = np.zeros(size, dtype=np.bool_)
            alive[to] = True
            begins = np.flatnonzero(np.concatenate([[True], to[1:] != to[:-1]])) if len(to) else np.zeros(0, dtype=np.intp)
            self._steps.append(_Step(place[source[edge]], begins, weights[edge], at_most, mean_worth, part.end[alive]))

    def run(self, threshold: float, beam: int | None, limit: int | None) -> Found | None:
        """Every text of at least the threshold; the `beam` best nodes of a level only, if given; None where more than `limit` nodes would be met."""
        rows, nodes = self._start, np.zeros(0, dtype=np.intp)
        texts, weights, rest, met = [], [], 0.0, 0
        for d, (level, step) in enumerate(zip(self._tree.levels, self._steps, strict=True)):
            if d == 0:
                kids, parent = np.arange(len(level.code)), np.zeros(len(level.code), dtype=np.intp)
            else:
                first = self._tree.levels[d - 1].first
                begin = first[nodes]
                count = first[nodes + 1] - begin
                parent = np.repeat(np.arange(len(nodes)), count)
                kids = np.arange(len(parent)) + np.repeat(begin - np.cumsum(count) + count, count)
            met += len(kids)
            if not len(kids) or not len(step.source):
                break
            if limit is not None and met > limit:
                return None
            code = level.code[kids]
            kind = level.lengths[kids].astype(np.intp) * step.entries.shape[1] + code
            bound = _worth(rows, step.at_most, parent, kind)
            if beam is not None:
                keep = np.argpartition(bound, len(bound) - beam)[len(bound) - beam :] if len(bound) > beam else np.flatnonzero(bound)
            else:
                left = ~(bound < threshold) & (bound > 0)
                keep = np.flatnonzero(left)
                lost = np.flatnonzero(~left)
                rest += float(_worth(rows, step.usual, parent[lost], kind[lost]) @ level.below[kids[lost]])
            nodes = kids[keep]
            moved = rows[step.source][:, parent[keep]]
            moved *= step.entries[:, code[keep]]
            rows = _gathered(moved, step.begins)
            if step.end.any():
                text = level.text[nodes]
                here = np.flatnonzero(text >= 0)
                weight = step.end @ rows[:, here]
                enough = weight >= threshold if threshold else weight > 0
                texts.append(text[here[enough]])
                weights.append(weight[enough])
                rest += float(weight.sum() - weights[-1].sum())
        if not texts:
            return Found(np.zeros(0, dtype=np.intp), np.zeros(0), rest, met)
        number, weight = np.concatenate(texts), np.concatenate(weights)
        order = np.lexsort((number, -weight))
        return Found(number[order].astype(np.intp), weight[order], rest, met)


def _sums(states: NDArray[np.intp], values: Floats, size: int) -> Floats:
    return np.bincount(states, values, size).astype(np.float64)


def _worth(rows: Floats, worth: Floats, parent: NDArray[np.intp], kind: NDArray[np.intp]) -> Floats:
    """(kids,) sum over the states of what a node weighs times what the state is worth for a child of its kind."""
    found = np.zeros(len(parent))
    for row, each in zip(rows, worth, strict=True):
        found += row.take(parent) * each.take(kind)
    return found


def _gathered(moved: Floats, begins: NDArray[np.intp]) -> Floats:
    """Sums of the rows that lead to one state."""
    if len(begins) == len(moved):
        return moved
    ends = [*begins[1:], len(moved)]
    return np.array([moved[a] if b == a + 1 else moved[a:b].sum(axis=0) for a, b in zip(begins, ends, strict=True)])
