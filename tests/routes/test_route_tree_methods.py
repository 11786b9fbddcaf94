"""The two exact methods against each other, their parts against brute force, and what a tree says about itself."""

from __future__ import annotations

import math
import random
from itertools import combinations, pairwise, permutations, product

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon, box

from optimizer.routes.ascent import dual_ascent, improved, quick_tree, shrunk
from optimizer.routes.cuts import Fixed, cheapest_by_cuts, cut_program, safe_bound
from optimizer.routes.flow import CutFinder
from optimizer.routes.graph import GroundGraph, RoutePrice
from optimizer.routes.ground import GardenPath, Ground
from optimizer.routes.network import network
from optimizer.routes.rectilinear import rectilinear_graph
from optimizer.routes.result import RouteTree, Status, route_tree
from optimizer.routes.shortest import shortest_route
from optimizer.routes.steiner import cheapest_over_axes, cheapest_tree, straightened, tree_by_cuts, tree_by_subsets
from optimizer.routes.valves import ValvePrice, compare_valves
from optimizer.routes.visibility import visibility_graph


def garden(seed: int, terminals: int) -> tuple[Ground, list[tuple[float, float]]]:
    """A plot of 22 m x 17 m with beds, a path and a fence with an opening; terminals clear of the beds' insides."""
    rng = random.Random(seed)
    corners = rng.sample(list(product(range(0, 17, 5), range(0, 12, 4))), 6)
    beds = [box(x, y, x + rng.randint(1, 4), y + rng.randint(1, 3)) for x, y in corners]
    gate = rng.randint(1, 12)
    fence = (LineString([(9.5, -1), (9.5, gate)]), LineString([(9.5, gate + 1), (9.5, 16)]))
    path = GardenPath("path", box(0, 7.2, 20, 7.8))
    grid = [(x / 2, y / 2) for x, y in product(range(41), range(31)) if x != 19]
    free = [p for p in grid if not any(bed.contains(Point(p)) for bed in beds)]
    return Ground(tuple(beds), fence, (path,), (), box(-1, -1, 21, 16)), rng.sample(free, terminals + 1)


def graph_of(seed: int, terminals: int) -> GroundGraph:
    ground, places = garden(seed, terminals)
    return rectilinear_graph(ground, places[0], places[1:])


@pytest.mark.parametrize("seed", range(12))
def test_both_exact_methods_agree(seed: int) -> None:
    graph = graph_of(seed, 4 + seed % 5)
    price = RoutePrice(3, (0, 4000, 60000)[seed % 3])
    by_subsets, by_cuts = tree_by_subsets(graph, price), tree_by_cuts(graph, price)
    assert by_subsets.cost_mct == by_cuts.cost_mct == by_cuts.bound_mct
    assert by_subsets.status is by_cuts.status is Status.PROVEN


@pytest.mark.parametrize("seed", range(4))
def test_both_exact_methods_agree_on_straight_shots(seed: int) -> None:
    ground, places = garden(seed, 6)
    graph = visibility_graph(ground, places[0], places[1:])
    price = RoutePrice(2, 5000)
    assert tree_by_subsets(graph, price).cost_mct == tree_by_cuts(graph, price).cost_mct


def test_eighteen_terminals_are_solved_to_proof_and_repeat_exactly() -> None:
    graph = graph_of(5, 18)
    tree = cheapest_tree(graph, RoutePrice(1, 2000))
    assert tree.status is Status.PROVEN
    assert tree == cheapest_tree(graph, RoutePrice(1, 2000))


def test_a_search_cut_short_says_so_with_a_bound_that_holds() -> None:
    rng = random.Random(2)
    points = [(rng.randint(0, 30000) / 1000, rng.randint(0, 20000) / 1000) for _ in range(11)]
    graph = rectilinear_graph(Ground(), points[0], points[1:])
    whole = tree_by_subsets(graph, RoutePrice(1))
    short = [tree_by_cuts(graph, RoutePrice(1), most_programs=n) for n in (0, 1, 2, 5)]
    for tree in short:
        assert tree.bound_mct <= whole.cost_mct <= tree.cost_mct
        assert (tree.status is Status.PROVEN) == (tree.bound_mct == tree.cost_mct)
    assert short[0].status is Status.BEST_FOUND
    assert short[0].gap == (short[0].cost_mct - short[0].bound_mct) / short[0].cost_mct > 0


def well_formed(tree: RouteTree, ground: Ground, places: list[tuple[float, float]]) -> None:
    """The tree is one, in the right place, and its lengths and crossings can be measured on the drawing."""
    assert len(tree.points) == len(tree.edges) + 1
    fed = {tree.source}
    for edge in tree.edges:
        assert edge.start in fed
        assert edge.end not in fed
        fed.add(edge.end)
        line = LineString([tree.points[edge.start], tree.points[edge.end]])
        assert edge.length_mm == pytest.approx(line.length * 1000, abs=1)
        assert not any(line.relate_pattern(area, "T********") for area in ground.keep_outs)
        assert not any(line.crosses(fence) for fence in ground.barriers)
        beneath = [path.outline for path in ground.paths if line.relate_pattern(path.outline, "T********")]
        under = sum(line.intersection(outline).length for outline in beneath)
        assert sum(c.length_mm for c in edge.crossings) == pytest.approx(under * 1000, abs=1)
    assert [tree.points[t] for t in tree.terminals] == [pytest.approx(p) for p in places[1:]]
    assert tree.points[tree.source] == pytest.approx(places[0])


@pytest.mark.parametrize("seed", range(6))
def test_trees_are_well_formed(seed: int) -> None:
    ground, places = garden(seed, 7)
    for graph in (rectilinear_graph(ground, places[0], places[1:]), visibility_graph(ground, places[0], places[1:])):
        well_formed(cheapest_tree(graph, RoutePrice(2, 3000)), ground, places)


def test_a_cross_of_four_inlets() -> None:
    # tap in the middle of a 4 m cross: nothing shorter than the two bars
    graph = rectilinear_graph(Ground(), (0, 0), [(2, 0), (-2, 0), (0, 2), (0, -2)])
    tree = cheapest_tree(graph, RoutePrice(5))
    assert (tree.length_mm, tree.cost_mct, tree.turns, tree.tees) == (8000, 40000, 0, (tree.source,))


def test_a_comb_of_beds_branches_off_one_line() -> None:
    # six bed heads on a line, tap 3 m before them and 1 m aside: one bend, tees at the inlets in between are take-offs
    graph = rectilinear_graph(Ground(), (-3, 1), [(1.2 * k, 0) for k in range(6)])
    tree = cheapest_tree(graph, RoutePrice(1))
    assert (tree.length_mm, tree.turns, tree.tees) == (3000 + 1000 + 6000, 1, ())


def test_terminals_that_share_a_place_or_stand_at_the_tap_are_all_reported() -> None:
    graph = rectilinear_graph(Ground(), (0, 0), [(0, 0), (3, 0), (3, 0)])
    for tree in (tree_by_subsets(graph, RoutePrice(1)), tree_by_cuts(graph, RoutePrice(1))):
        assert [tree.points[t] for t in tree.terminals] == [(0, 0), (3, 0), (3, 0)]
        assert tree.length_mm == 3000
    at_tap = rectilinear_graph(Ground(), (0, 0), [(0, 0)])
    for tree in (tree_by_subsets(at_tap, RoutePrice(1)), tree_by_cuts(at_tap, RoutePrice(1))):
        assert (tree.length_mm, tree.status, tree.gap) == (0, Status.PROVEN, 0.0)


def test_a_tree_is_refused_when_it_is_none_or_its_bound_is_too_high() -> None:
    graph = rectilinear_graph(Ground(), (0, 0), [(1, 1)])
    with pytest.raises(ValueError, match="not one tree"):
        route_tree(graph, range(len(graph.edges)), RoutePrice(1), 0, "ring")
    with pytest.raises(ValueError, match="not one tree"):
        route_tree(graph, [0], RoutePrice(1), 0, "short")
    with pytest.raises(ValueError, match="bound"):
        route_tree(graph, [0, 2] if graph.edges[2].end == 3 else [0, 1], RoutePrice(1), 99999, "bound")


def test_straightening_never_costs_and_keeps_a_tree() -> None:
    for seed in range(6):
        graph = graph_of(seed, 9)
        price = RoutePrice(1, 1000)
        net = network(graph, graph.costs(price))
        rough = quick_tree(net, net.costs, net.root)
        laid = route_tree(graph, straightened(graph, graph.costs(price), rough), price, 0, "")
        before = route_tree(graph, rough, price, 0, "")
        assert laid.cost_mct <= before.cost_mct
        assert laid.turns <= before.turns


@pytest.mark.parametrize("seed", range(10))
def test_every_bound_on_the_way_holds(seed: int) -> None:
    graph = graph_of(seed, 5)
    net = network(graph, graph.costs(RoutePrice(1, 3000)))
    best = tree_by_subsets(graph, RoutePrice(1, 3000)).cost_mct
    ascent = dual_ascent(net)
    assert 0 < ascent.bound <= best
    assert (ascent.prices >= 0).all()
    state = shrunk(net)
    assert state.bound <= best <= state.price
    assert cheapest_by_cuts(state.net, state.price).price == best
    rough = quick_tree(net, net.costs, net.root)
    polished = improved(net, rough)
    assert best <= net.costs[list(polished)].sum() <= net.costs[list(rough)].sum()
    # whatever the duals, weak duality gives a bound
    program = cut_program(net)
    program.bound_columns(np.ones(2 * net.size, dtype=bool), ())
    rng = np.random.default_rng(seed)
    for _ in range(20):
        duals = rng.normal(scale=300.0, size=len(program.rows))
        assert safe_bound(program, duals, Fixed())[0] <= best


def test_least_cuts_agree_with_all_cuts() -> None:
    rng = random.Random(1)
    for _ in range(60):
        count = rng.randint(2, 7)
        arcs = [(a, b) for a in range(count) for b in range(count) if a != b and rng.random() < 0.5]
        room = [rng.randint(0, 9) for _ in arcs]

        def across(side: set[int], arcs: list[tuple[int, int]] = arcs, room: list[int] = room) -> int:
            return sum(c for (a, b), c in zip(arcs, room, strict=True) if a in side and b not in side)

        sides = [{0, *more} for n in range(count - 1) for more in combinations(range(1, count - 1), n)]
        least = min(across(side) for side in sides)
        flow, near_source, near_sink = CutFinder(count, arcs, room).cut(0, count - 1, 10**6)
        assert flow == least
        assert across(set(near_source)) == across(set(range(count)) - set(near_sink)) == least
        assert CutFinder(count, arcs, room).cut(0, count - 1, 3)[0] == min(3, least)


def test_straight_shots_agree_with_trying_every_sequence_of_corners() -> None:
    """Point to point past two triangles: every order of corners is tried, sight decided with whole-number turns."""
    for seed in range(25):
        rng = random.Random(seed)
        triangles: list[list[tuple[int, int]]] = []
        while len(triangles) < 2:
            x, y = rng.randint(1, 7), rng.randint(0, 7)
            corners = [(x, y), (x + rng.randint(1, 3), y + rng.randint(0, 2)), (x + rng.randint(0, 1), y + 3)]
            shape = Polygon(corners)
            if all(shape.disjoint(Polygon(t)) for t in triangles):
                triangles.append(corners)
        start, goal = (0, rng.randint(0, 9)), (12, rng.randint(0, 9))
        ground = Ground(tuple(Polygon(t) for t in triangles), smallest_corner_rad=0.0)
        found = shortest_route(visibility_graph(ground, start, [goal]), RoutePrice(1))
        assert found.length_mm / 1000 == pytest.approx(by_corners(triangles, start, goal), abs=0.006), seed


def by_corners(triangles: list[list[tuple[int, int]]], start: tuple[int, int], goal: tuple[int, int]) -> float:
    corners = [c for t in triangles for c in t]
    places = [start, *corners, goal]
    seen = {(p, q): sees(p, q, triangles) for p in places for q in places if p != q}
    best = float("inf")
    for middle in (m for n in range(len(corners) + 1) for m in permutations(corners, n)):
        steps = list(pairwise([start, *middle, goal]))
        if all(seen[step] for step in steps):
            best = min(best, sum(math.dist(a, b) for a, b in steps))
    return best


def sees(p: tuple[int, int], q: tuple[int, int], triangles: list[list[tuple[int, int]]]) -> bool:
    """A line is free of a triangle's inside when the part of it inside all three half-planes is nothing."""
    for t in triangles:
        ccw = t if turn(*t) > 0 else t[::-1]
        low, high = 0.0, 1.0
        for a, b in zip(ccw, [*ccw[1:], ccw[0]], strict=True):
            at_p, at_q = turn(a, b, p), turn(a, b, q)
            if at_p <= 0 and at_q <= 0:
                high = -1.0
            elif at_p < 0 or at_q < 0:
                cut = at_p / (at_p - at_q)
                low, high = (max(low, cut), high) if at_p < 0 else (low, min(high, cut))
        if high - low > 1e-9:
            return False
    return True


def turn(a: tuple[int, int], b: tuple[int, int], c: tuple[int, int]) -> int:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def test_valves_at_the_tap_and_in_the_field() -> None:
    # three beds 10, 20 and 30 m along one line: 60 m of tube from the tap, or 30 m in common
    graph = rectilinear_graph(Ground(), (0, 0), [(10, 0), (20, 0), (30, 0)])
    both = compare_valves(graph, ["A", "B", "C"], RoutePrice(2), ValvePrice(500_000, 900_000, 1))
    assert (both.at_tap.length_mm, both.at_tap.valves, both.at_tap.wire_mm) == (60_000, 3, 0)
    assert both.at_tap.cost_mct == both.at_tap.bound_mct == 2 * 60_000 + 3 * 500_000
    assert (both.in_field.length_mm, both.in_field.valves, both.in_field.wire_mm) == (30_000, 3, 30_000)
    assert both.in_field.cost_mct == 2 * 30_000 + 3 * 900_000 + 30_000
    assert both.at_tap.proven
    shared = compare_valves(graph, ["A", "A", "B"], RoutePrice(2), ValvePrice(500_000, 900_000))
    assert (shared.at_tap.length_mm, shared.at_tap.valves, shared.in_field.wire_mm) == (50_000, 2, 0)
    with pytest.raises(ValueError, match="as many zones"):
        compare_valves(graph, ["A"], RoutePrice(2), ValvePrice(1, 1))


def test_crossings_are_paid_by_every_tube_of_its_own() -> None:
    path = GardenPath("p", box(4, -5, 5, 5))
    graph = rectilinear_graph(Ground(paths=(path,)), (0, 0), [(10, 0), (20, 0)])
    both = compare_valves(graph, ["A", "B"], RoutePrice(1), ValvePrice(0, 0))
    assert (both.at_tap.crossings, both.in_field.crossings) == (2, 1)


def test_of_several_axes_the_cheapest_is_taken() -> None:
    # along a line at 30 degrees: 10 m when tube follows it, 10 (cos 30 + sin 30) = 13.66 m along the plot's axes
    goal = (10 * math.cos(math.pi / 6), 10 * math.sin(math.pi / 6))
    tree = cheapest_over_axes(Ground(), (0, 0), [goal], RoutePrice(1), (0.0, math.pi / 6))
    assert (tree.length_mm, tree.bound_mct, tree.turns) == (10_000, 10_000, 0)
    assert cheapest_over_axes(Ground(), (0, 0), [goal], RoutePrice(1), (0.0,)).length_mm == 13_660
    with pytest.raises(ValueError, match="at least one axis"):
        cheapest_over_axes(Ground(), (0, 0), [goal], RoutePrice(1), ())
