"""Supersessions as a graph: what a number becomes, where numbers go round in a circle, what can be bought.

Oracle: networkx 3 (BSD): `descendants`, `ancestors`, `strongly_connected_components`, `simple_cycles` on 200 random graphs of 25 part
numbers each. `descendants` leaves out the start, also when it lies on a circle; so do we.
"""

import random
from itertools import pairwise

import networkx
import pytest

from kb.probability.catalogue.supersession import Arrow, circles, closure, inheritance
from kb.probability.catalogue.trace import trace

NUMBERS = [f"14{n:02}" for n in range(25)]
SEEDS = range(200)


def random_arrows(seed: int, *, dated: float = 0.0, both_ways: float = 0.0, carries: float = 1.0) -> list[Arrow]:
    """15 to 45 arrows between different numbers; each trait with the given probability."""
    dice = random.Random(seed)
    arrows = []
    for index in range(dice.randint(15, 45)):
        old, new = dice.sample(NUMBERS, 2)
        date = str(dice.randint(1950, 1960)) if dice.random() < dated else None
        traits = {"both_ways": dice.random() < both_ways, "carries_fitment": dice.random() < carries}
        arrows.append(Arrow(f"s{index}", old, new, from_date=date, **traits))
    return arrows


def graph_of(arrows: list[Arrow]) -> "networkx.DiGraph[str]":
    """The same as a graph; of dated arrows leaving a number only the latest."""
    graph = networkx.DiGraph()
    graph.add_nodes_from(NUMBERS)
    for arrow in arrows:
        rivals = [other.from_date for other in arrows if other.old == arrow.old and other.from_date and not other.both_ways]
        if arrow.both_ways:
            graph.add_edge(arrow.new, arrow.old)
        elif arrow.from_date and arrow.from_date < max(rivals):
            continue
        graph.add_edge(arrow.old, arrow.new)
    return graph


@pytest.mark.parametrize("traits", [{}, {"both_ways": 0.2}, {"dated": 0.6}, {"dated": 0.6, "both_ways": 0.2}], ids=str)
def test_what_a_number_becomes_is_all_that_can_be_reached(traits: dict[str, float]) -> None:
    for seed in SEEDS:
        arrows = random_arrows(seed, **traits)
        graph = graph_of(arrows)
        found = closure(arrows)
        assert {number: set(found.get(number, ())) for number in NUMBERS} == {number: networkx.descendants(graph, number) for number in NUMBERS}, seed


def test_there_is_one_circle_for_each_set_of_numbers_that_lead_to_each_other_and_it_is_a_shortest() -> None:
    with_circles = 0
    for seed in SEEDS:
        arrows = random_arrows(seed)
        graph = graph_of(arrows)
        parts = {frozenset(part) for part in networkx.strongly_connected_components(graph) if len(part) > 1}
        shortest = {part: min(map(len, networkx.simple_cycles(graph.subgraph(part)))) for part in parts}
        found = {}
        for circle in circles(arrows):
            assert all(one.new == following.old for one, following in zip(circle, (*circle[1:], circle[0]), strict=True))
            (part,) = [part for part in parts if circle[0].old in part]
            assert part not in found
            found[part] = len(circle)
        assert found == shortest, seed
        with_circles += bool(parts)
    assert 20 < with_circles < 180, "the sample tells nothing if all graphs have circles or none"


def test_of_dated_arrows_only_those_that_hold_make_a_circle() -> None:
    for seed in SEEDS:
        arrows = random_arrows(seed, dated=0.8)
        parts = {frozenset(part) for part in networkx.strongly_connected_components(graph_of(arrows)) if len(part) > 1}
        found = [frozenset(part) for circle in circles(arrows) for part in parts if circle[0].old in part]
        assert sorted(map(sorted, found)) == sorted(map(sorted, parts)), seed


def test_fitment_is_inherited_from_every_older_number_and_never_backwards() -> None:
    for seed in SEEDS:
        arrows = random_arrows(seed, carries=0.8)
        # An arrow that carries nothing still holds, so it takes part in what is the latest; here none is dated.
        graph = graph_of([arrow for arrow in arrows if arrow.carries_fitment])
        for number in NUMBERS:
            found = inheritance(arrows, number)
            assert {old for old, _ in found} == networkx.ancestors(graph, number), (seed, number)
            for old, path in found:
                assert path[0].old == old
                assert path[-1].new == number
                assert all(one.new == following.old for one, following in pairwise(path))


@pytest.mark.parametrize("both_ways", [0.0, 0.2])
def test_what_can_be_bought_is_what_the_arrows_reach_before_something_else_can(both_ways: float) -> None:
    dead_ends = 0
    for seed in SEEDS:
        arrows = random_arrows(seed, both_ways=both_ways)
        dice = random.Random(seed)
        availability = {number: "yes" if dice.random() < 0.3 else "no" for number in NUMBERS}
        graph = graph_of(arrows)
        graph.remove_edges_from([(old, new) for old, new in graph.edges if availability[old] == "yes"])  # nobody goes on from what is on the shelf
        for number in NUMBERS:
            expected = {other for other in {number, *networkx.descendants(graph, number)} if availability[other] == "yes"}
            found = trace(arrows, number, availability)
            assert {part for part, _ in found.current} == expected, (seed, number)
            assert found.dead_end is not bool(expected)
            dead_ends += found.dead_end
    assert dead_ends > 100


def test_quantities_multiply_along_the_arrows() -> None:
    """On a chain the quantity is the product of the weights, as `networkx` multiplies them on a path."""
    for seed in SEEDS:
        dice = random.Random(seed)
        chain = dice.sample(NUMBERS, dice.randint(2, 8))
        arrows = [Arrow(f"s{old}", old, new, quantity=float(dice.randint(1, 4))) for old, new in pairwise(chain)]
        graph = networkx.DiGraph()
        graph.add_weighted_edges_from((arrow.old, arrow.new, arrow.quantity) for arrow in arrows)
        expected = 1.0
        for old, new in pairwise(networkx.shortest_path(graph, chain[0], chain[-1])):
            expected *= graph.edges[old, new]["weight"]
        assert trace(arrows, chain[0], dict.fromkeys(chain[:-1], "no") | {chain[-1]: "yes"}).current == ((chain[-1], expected),)
