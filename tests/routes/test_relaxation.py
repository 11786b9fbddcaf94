"""Relaxed trees against other exact methods and a solver of linear programs, and what they are made of by hand."""

from __future__ import annotations

import math
import random
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.sparse import coo_matrix, lil_matrix
from scipy.sparse.csgraph import dijkstra, minimum_spanning_tree

from optimizer.routes.ascent import shrunk, usable_edges
from optimizer.routes.graph import GraphEdge, GroundGraph
from optimizer.routes.ground import Ground
from optimizer.routes.network import FAR, Network
from optimizer.routes.rectilinear import rectilinear_graph
from optimizer.routes.relaxed import LARGEST_PROGRAM, relaxed
from optimizer.routes.steiner import QUICK, cheap_edges, cheapest_edges, surveyed
from optimizer.routes.straighter import Bends
from optimizer.routes.subsets import cheapest_by_subsets
from optimizer.routes.support import eased
from optimizer.routes.thinned import thinned


def plane(seed: int, count: int = 26, goals: int = 6) -> Network:
    """A network of places in a square, each joined to near ones, the length of edges in millimetres."""
    draw = random.Random(seed)
    at = [(draw.randrange(1, 9000), draw.randrange(1, 9000)) for _ in range(count)]
    edges = {(a, b) for a in range(count) for b in range(a + 1, count) if math.dist(at[a], at[b]) < 4200}
    edges |= set(pairwise(range(count)))
    ends = np.array(sorted(edges))
    costs = np.array([max(round(math.dist(at[a], at[b])), 1) for a, b in ends.tolist()])
    return Network(count, ends, costs, 0, tuple(range(1, goals + 1)), tuple((e,) for e in range(len(ends))))


def graph_of(net: Network) -> GroundGraph:
    frame = rectilinear_graph(Ground(), (0, 0), [(1, 1)]).frame
    edges = tuple(GraphEdge(a, b, 0) for a, b in net.ends.tolist())
    return GroundGraph(frame, tuple((k, 0) for k in range(net.count)), edges, net.root, net.goals)


def by_subsets(net: Network) -> int:
    """The price of a cheapest tree by dynamic programming over sets of goals, a method of its own."""
    return cheapest_by_subsets(graph_of(net), net.costs)[0]


def relaxation(net: Network) -> float:
    """The flow relaxation as it stands in the books, solved to its optimum by HiGHS through scipy."""
    arcs, flows = 2 * net.size, 2 * net.size * len(net.goals)
    balance = lil_matrix((len(net.goals) * net.count, arcs + flows))
    within = lil_matrix((flows, arcs + flows))
    wanted = np.zeros(len(net.goals) * net.count)
    for number, goal in enumerate(net.goals):
        wanted[number * net.count + net.root], wanted[number * net.count + goal] = -1.0, 1.0
        for arc in range(arcs):
            column = arcs + number * arcs + arc
            balance[number * net.count + net.heads[arc], column] += 1.0
            balance[number * net.count + net.tails[arc], column] -= 1.0
            within[number * arcs + arc, column], within[number * arcs + arc, arc] = 1.0, -1.0
    price = np.concatenate((net.costs, net.costs, np.zeros(flows)))
    found = linprog(price, within.tocsr(), np.zeros(flows), balance.tocsr(), wanted, bounds=(0, None), method="highs")
    assert found.status == 0
    return float(found.fun)


@pytest.mark.parametrize("seed", range(8))
def test_the_bound_is_that_of_the_whole_linear_program_and_never_above_it(seed: int) -> None:
    net = plane(seed)
    optimum, exact = relaxation(net), by_subsets(net)
    found = relaxed(net, exact + 1)
    assert found is not None
    # The program leaves ways out that are no more than a hundredth dearer, and is solved to a thousandth.
    assert 0.985 * optimum <= found.dual.bound <= optimum + 1e-6
    assert optimum <= exact + 1e-6


@pytest.mark.parametrize("seed", range(8, 24))
def test_what_is_dropped_and_found_leaves_a_cheapest_tree(seed: int) -> None:
    net = plane(seed, count=30, goals=7)
    exact = by_subsets(net)
    first = shrunk(net, 1)
    state = eased(first)
    assert state.bound <= exact <= state.price <= first.price
    assert sum(net.prices[edge] for edge in state.best) == state.price
    assert {net.root, *net.goals} <= {node for edge in state.best for node in net.ends[edge].tolist()}
    found = relaxed(net, exact + 1)
    assert found is not None
    keep = usable_edges(net, found.dual, exact + 1)
    left = Network(
        net.count, net.ends[keep], net.costs[keep], net.root, net.goals, tuple((e,) for e in range(keep.sum()))
    )
    assert by_subsets(left) == exact


def test_nothing_is_relaxed_where_the_tree_known_is_the_cheapest() -> None:
    net = Network(3, np.array([[0, 1], [1, 2]]), np.array([3, 4]), 0, (2,), ((0,), (1,)))
    assert relaxed(net, 7) is None


def test_a_program_that_takes_too_long_is_not_begun(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("optimizer.routes.relaxed.LARGEST_PROGRAM", 10)
    assert LARGEST_PROGRAM > 10
    assert relaxed(plane(1), FAR >> 20) is None


def test_the_same_ground_gives_the_same_relaxation() -> None:
    net = plane(3, count=40, goals=14)
    graph = graph_of(net)
    assert surveyed(graph, net.costs) == surveyed(graph, net.costs)


def test_a_limit_of_time_only_lowers_the_bound() -> None:
    net = plane(5, count=40, goals=14)
    graph = graph_of(net)
    short, whole = surveyed(graph, net.costs, seconds=0.0), surveyed(graph, net.costs)
    exact = cheapest_edges(graph, net.costs)
    assert exact.cost == exact.bound
    assert max(short.bound, whole.bound) <= exact.cost


@pytest.mark.parametrize("seed", range(4))
def test_a_core_leads_to_trees_no_dearer(seed: int) -> None:
    net = plane(seed + 40, count=60, goals=16)
    graph = graph_of(net)
    core = surveyed(graph, net.costs).core
    plain, led = cheap_edges(graph, net.costs, QUICK), cheap_edges(graph, net.costs, QUICK, None, core)
    exact = cheapest_edges(graph, net.costs)
    assert exact.cost <= led.cost <= 1.02 * exact.cost
    assert exact.cost <= plain.cost
    assert is_tree(net, led.edges)


def is_tree(net: Network, edges: tuple[int, ...]) -> bool:
    nodes = sorted({node for edge in edges for node in net.ends[edge].tolist()})
    a, b = net.ends[list(edges)].T
    joined = minimum_spanning_tree(coo_matrix((np.ones(len(edges)), (a, b)), (net.count, net.count)))
    return joined.nnz == len(edges) == len(nodes) - 1 and {net.root, *net.goals} <= set(nodes)


# -------------------------------------------------------------------- thinned


@pytest.mark.parametrize(("seed", "stretch"), [(0, 1.0), (1, 1.01), (2, 1.1), (3, 1.5), (4, 2.0)])
def test_no_way_grows_longer_than_wanted(seed: int, stretch: float) -> None:
    net = plane(seed, count=40)
    stays = thinned(net, stretch)
    a, b = net.ends[stays].T
    away = dijkstra(coo_matrix((net.costs[stays], (a, b)), (net.count, net.count)), directed=False)
    assert all(away[i, j] <= stretch * cost + 1e-6 for (i, j), cost in zip(net.ends, net.costs, strict=True))
    at_goals = np.isin(net.ends, net.goals).any(axis=1)
    assert stays[at_goals].all()
    assert stays.sum() < net.size


# -------------------------------------------------------------------- elbows


def bent(seed: int):
    """A graph of places, the price of a bend, and how all that is put together."""
    draw = random.Random(seed)
    net = plane(seed, count=9, goals=1)
    places = [(draw.uniform(0, 9), draw.uniform(0, 9)) for _ in range(net.count)]
    return net, places, Bends(graph_of(net), net.costs, places, frozenset(), draw.choice((200, 1500, 6000)), 20.0)


def simple_ways(net: Network, start: int, end: int, seen: tuple[int, ...] = ()):
    """Every way from a place to another that passes none twice, as nodes."""
    if start == end:
        yield (*seen, end)
        return
    for other, _ in net.neighbours[start]:
        if other not in (*seen, start):
            yield from simple_ways(net, other, end, (*seen, start))


def sharp(a, b, c) -> bool:
    """Whether the way turns by more than 20 degrees at its middle place, from the angle between both directions."""
    u, v = np.subtract(b, a), np.subtract(c, b)
    return float(np.dot(u, v) / (np.linalg.norm(u) * np.linalg.norm(v))) < math.cos(math.radians(20.0))


@pytest.mark.parametrize("seed", range(12))
def test_a_way_is_straightened_as_far_as_bends_are_worth(seed: int) -> None:
    net, places, priced = bent(seed)
    edge_at = {frozenset(ends): k for k, ends in enumerate(net.ends.tolist())}

    def cost(way) -> int:
        turns = sum(sharp(places[a], places[b], places[c]) for a, b, c in zip(way, way[1:], way[2:], strict=False))
        return sum(net.prices[edge_at[frozenset(pair)]] for pair in pairwise(way)) + priced.price_mct * turns

    ways = list(simple_ways(net, net.root, net.goals[0]))
    cheapest = cheap_edges(graph_of(net), net.costs, QUICK)
    found = priced.straighter(cheapest.edges)
    assert priced.price(frozenset(found)) == min(cost(way) for way in ways)


@pytest.mark.parametrize("seed", range(6))
def test_straighter_trees_are_trees_and_never_dearer(seed: int) -> None:
    net = plane(seed, count=40, goals=9)
    draw = random.Random(seed)
    places = [(draw.uniform(0, 9), draw.uniform(0, 9)) for _ in range(net.count)]
    priced = Bends(graph_of(net), net.costs, places, frozenset(), 2000, 20.0)
    first = cheap_edges(graph_of(net), net.costs, QUICK).edges
    found = priced.straighter(first)
    assert is_tree(net, found)
    assert priced.price(frozenset(found)) <= priced.price(frozenset(first))


def test_a_corner_is_cut_only_if_the_elbow_costs_more() -> None:
    # Priced at 6 m with one bend round the corner, and at 7 m past it, nearly straight: a turn of twice 7.5 degrees.
    bow, half = math.radians(7.5), math.hypot(1.5, 1.5)
    beside = math.atan2(3.0, 3.0) + bow
    away = half / math.cos(bow)
    at = [(0.0, 0.0), (3.0, 3.0), (0.0, 3.0), (away * math.cos(beside), away * math.sin(beside))]
    ends = np.array([[0, 2], [0, 3], [1, 2], [1, 3]])
    costs = np.array([3000, 3500, 3000, 3500])
    net = Network(4, ends, costs, 0, (1,), tuple((e,) for e in range(4)))
    for elbow, way in ((900, (0, 2)), (1100, (1, 3))):
        assert Bends(graph_of(net), costs, at, frozenset(), elbow, 20.0).straighter((0, 2)) == way
