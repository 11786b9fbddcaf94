"""Cheapest tree of tube: picks the exact method for the size at hand and makes its answer fit to lay."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.routes.ascent import dual_ascent, shrunk, with_a_tree
from optimizer.routes.cuts import cheapest_by_cuts
from optimizer.routes.graph import GroundGraph, IntArray, RoutePrice
from optimizer.routes.ground import Ground, PointM
from optimizer.routes.network import Network, network
from optimizer.routes.rectilinear import rectilinear_graph
from optimizer.routes.relaxed import relaxed
from optimizer.routes.result import RouteTree, Status, route_tree
from optimizer.routes.shortest import cheapest_walk
from optimizer.routes.subsets import cheapest_by_subsets
from optimizer.routes.support import SUPPORT, eased, within
from optimizer.routes.thinned import thinned

MOST_BY_SUBSETS = 12  # terminals beyond which 3^terminals outgrows the integer program
LARGEST_TABLE = 40_000_000  # entries of the table over sets of terminals: 320 MB
MOST_PROGRAMS = 120  # linear programs; a count, not a time, so that the same ground gives the same tree


def cheapest_tree(graph: GroundGraph, price: RoutePrice, most_programs: int = MOST_PROGRAMS) -> RouteTree:
    """Cheapest tree of tube from the source to all terminals.

    Args:
        graph: The candidate graph.
        price: What tube and crossings cost.
        most_programs: Linear programs to solve at most when there are too many terminals for the other method.

    Returns:
        The tree, each stretch between tees laid with as few bends as a cheapest stretch can have.
    """
    if _few_terminals(graph):
        return tree_by_subsets(graph, price)
    return tree_by_cuts(graph, price, most_programs)


def cheapest_over_axes(
    ground: Ground, source: PointM, terminals: Sequence[PointM], price: RoutePrice, axes_rad: Sequence[float]
) -> RouteTree:
    """Cheapest rectilinear tree over several directions of the axes; of equally cheap ones that with fewest bends.

    Args:
        ground: What tube must respect [m].
        source: Where the mainline starts [m].
        terminals: Header inlets to reach [m].
        price: What tube and crossings cost.
        axes_rad: Directions to try, counter-clockwise from the x axis [rad].

    Returns:
        The best tree; its bound holds for all the directions together.

    Raises:
        GroundError: The ground is described wrongly.
        NoRouteError: Along some direction a terminal cannot be reached on the lines that the ground gives.
    """
    if not axes_rad:
        raise ValueError("a rectilinear tree needs at least one axis")
    trees = [cheapest_tree(rectilinear_graph(ground, source, terminals, axis), price) for axis in axes_rad]
    best = min(trees, key=lambda tree: (tree.cost_mct, tree.turns))
    bound = min(tree.bound_mct for tree in trees)
    return replace(best, bound_mct=bound, status=Status.PROVEN if bound == best.cost_mct else Status.BEST_FOUND)


@dataclass(frozen=True)
class FoundEdges:
    """Edges of a tree.

    Args:
        edges: Edge numbers.
        cost: Their price.
        bound: No tree costs less.
    """

    edges: tuple[int, ...]
    cost: int
    bound: int


@dataclass(frozen=True)
class Care:
    """How much is done for a tree.

    Args:
        subsets: Terminals up to which the exact method over sets of them is taken.
        rounds: Rounds of bounding and dropping edges; None for as many as drop some.
        relaxed: Whether the relaxation is solved.
        programs: Linear programs to solve at most.
    """

    subsets: int = MOST_BY_SUBSETS
    rounds: int | None = None
    relaxed: bool = True
    programs: int = MOST_PROGRAMS


QUICK, CAREFUL, EXACT = Care(7, 1, False, 0), Care(9, None, True, 0), Care()


def cheapest_edges(
    graph: GroundGraph,
    costs: IntArray,
    care: Care = EXACT,
    seconds: float | None = None,
    core: Sequence[int] = (),
) -> FoundEdges:
    """Edges of a cheap tree from the source to all terminals for prices given edge by edge, with few bends.

    Args:
        graph: The candidate graph.
        costs: Price of every edge, at least 1, shape (edges,) [mct].
        care: How much is done for many terminals.
        seconds: How long the relaxation may take at most; None for as long as it takes.
        core: Edges among which a cheap tree probably is.

    Returns:
        The tree; a cheapest one if its price is its bound, as it always is for few terminals.
    """
    found = cheap_edges(graph, costs, care, seconds, core)
    kept = straightened(graph, costs, found.edges)
    return FoundEdges(kept, _sum(costs.tolist(), kept), found.bound)


def cheap_edges(
    graph: GroundGraph, costs: IntArray, care: Care, seconds: float | None = None, core: Sequence[int] = ()
) -> FoundEdges:
    """The same with as many bends as come; of some edges, the core, it may be known that a cheap tree is among them."""
    if _few_terminals(graph, care.subsets):
        cost, edges = cheapest_by_subsets(graph, costs)
        return FoundEdges(edges, cost, cost)
    unit = int(np.gcd.reduce(costs))
    found = _by_bounds(network(graph, costs // unit), care, seconds, core)
    return FoundEdges(found.edges, _sum(costs.tolist(), found.edges), found.bound * unit)


@dataclass(frozen=True)
class _ByBounds:
    edges: tuple[int, ...]
    bound: int
    programs: int


def _by_bounds(net: Network, care: Care, seconds: float | None = None, core: Sequence[int] = ()) -> _ByBounds:
    """A cheap tree of a network and what none is cheaper than: dual ascent, relaxation, directed cuts."""
    # A core makes up for the trees that bounding would lead to.
    start = within(net, with_a_tree(net), core) if core else shrunk(net, care.rounds)
    if care.relaxed:
        start = eased(start, seconds)
    if start.bound == start.price or not care.programs:
        return _ByBounds(start.best, start.bound, 0)
    found = cheapest_by_cuts(start.net, start.price, care.programs)
    edges = start.net.original(found.edges) if found.edges else start.best
    return _ByBounds(edges, max(start.bound, found.bound), found.programs)


@dataclass(frozen=True)
class Survey:
    """What a relaxation says of a graph.

    Args:
        bound: No tree costs less.
        core: Edges that the relaxation uses; among these cheap trees probably are.
    """

    bound: int
    core: tuple[int, ...]


def surveyed(graph: GroundGraph, costs: IntArray, seconds: float | None = None) -> Survey:
    """Relax the tree problem of a graph.

    Args:
        graph: The candidate graph.
        costs: Price of every edge, at least 1, shape (edges,) [mct].
        seconds: How long the relaxation may take at most; None for as long as it takes.
    """
    unit = int(np.gcd.reduce(costs))
    state = shrunk(network(graph, costs // unit), 1)
    found = relaxed(state.net, state.price, seconds) if state.bound < state.price else None
    if found is None:
        return Survey(state.bound * unit, state.best)
    bound = min(max(state.bound, found.dual.bound), state.price)
    return Survey(bound * unit, state.net.original(np.flatnonzero(found.use > SUPPORT).tolist()))


def lean_edges(graph: GroundGraph, costs: IntArray, stretch: float) -> tuple[int, ...]:
    """Edges that join all nodes by ways hardly dearer than those of the whole graph.

    Args:
        graph: The candidate graph; its terminals are nodes like all others.
        costs: Price of every edge, at least 1, shape (edges,) [mct].
        stretch: How many times dearer a way may be, at least 1.
    """
    return tuple(np.flatnonzero(thinned(replace(network(graph, costs), goals=()), stretch)).tolist())


def least_cost(graph: GroundGraph, costs: IntArray) -> int:
    """A price that no tree from the source to all terminals goes below, found quickly [mct].

    Args:
        graph: The candidate graph.
        costs: Price of every edge, at least 1, shape (edges,) [mct].
    """
    if _few_terminals(graph):
        return cheapest_by_subsets(graph, costs)[0]
    unit = int(np.gcd.reduce(costs))
    return dual_ascent(network(graph, costs // unit)).bound * unit


def _few_terminals(graph: GroundGraph, most: int = MOST_BY_SUBSETS) -> bool:
    goals = len(set(graph.terminals) - {graph.source})
    return goals <= most and len(graph.nodes) << goals <= LARGEST_TABLE


def tree_by_subsets(graph: GroundGraph, price: RoutePrice) -> RouteTree:
    """Cheapest tree by dynamic programming over sets of terminals, for up to about a dozen of them."""
    cost_mct, edges = cheapest_by_subsets(graph, graph.costs(price))
    edges = straightened(graph, graph.costs(price), edges)
    return route_tree(graph, edges, price, cost_mct, "dynamic programming over sets of terminals")


def tree_by_cuts(graph: GroundGraph, price: RoutePrice, most_programs: int = MOST_PROGRAMS) -> RouteTree:
    """Cheapest tree by dual ascent, reductions, relaxation, directed cuts and branching.

    Args:
        graph: The candidate graph.
        price: What tube and crossings cost.
        most_programs: Linear programs to solve at most; the tree is then the best found, with its proven bound.

    Returns:
        The tree.
    """
    costs = graph.costs(price)
    unit = int(np.gcd.reduce(costs)) if len(costs) else 1
    whole = network(graph, costs // unit)
    if not whole.goals:
        return route_tree(graph, (), price, 0, "every terminal stands at the source")
    found = _by_bounds(whole, Care(programs=most_programs))
    method = f"directed cuts, {found.programs} linear programs" if found.programs else "bounds that meet"
    return route_tree(graph, straightened(graph, costs, found.edges), price, found.bound * unit, method)


def straightened(graph: GroundGraph, costs: IntArray, edges: Sequence[int]) -> tuple[int, ...]:
    """The same tree with every stretch between tees and terminals laid with as few bends as possible.

    A stretch is replaced by a cheapest walk between its ends. In a cheapest tree the new stretch cannot run into the
    rest: sharing tube, or closing a ring, would leave something to save.

    Args:
        graph: The candidate graph.
        costs: Price of every edge, shape (edges,) [mct].
        edges: Edge numbers of a tree.

    Returns:
        Edge numbers of a tree that costs no more.
    """
    chosen = set(edges)
    for stretch, a, b in _stretches(graph, sorted(chosen)):
        trial = (chosen - set(stretch)) | set(cheapest_walk(graph, costs, a, b))
        if _is_tree(graph, trial) and _sum(costs.tolist(), trial) <= _sum(costs.tolist(), chosen):
            chosen = trial
    return tuple(sorted(chosen))


def _sum(costs: Sequence[int], edges: Iterable[int]) -> int:
    return sum(costs[e] for e in edges)


def _stretches(graph: GroundGraph, edges: Sequence[int]) -> list[tuple[tuple[int, ...], int, int]]:
    """Runs of edges between nodes that are a source, a terminal or a tee, with the two ends of each."""
    rows: dict[int, list[int]] = {}
    for e in edges:
        for node in (graph.edges[e].start, graph.edges[e].end):
            rows.setdefault(node, []).append(e)
    fixed = {graph.source, *graph.terminals} | {node for node, row in rows.items() if len(row) != 2}
    found = []
    used: set[int] = set()
    for start in sorted(fixed & set(rows)):
        for first in rows[start]:
            if first in used:
                continue
            run, node = [first], _other(graph, first, start)
            while node not in fixed:
                run.append(next(e for e in rows[node] if e != run[-1]))
                node = _other(graph, run[-1], node)
            used.update(run)
            found.append((tuple(run), start, node))
    return found


def _other(graph: GroundGraph, edge: int, node: int) -> int:
    return graph.edges[edge].end if graph.edges[edge].start == node else graph.edges[edge].start


def _is_tree(graph: GroundGraph, edges: Iterable[int]) -> bool:
    """Whether the edges are connected, hold source and terminals, and close no ring."""
    above: dict[int, int] = {}

    def top(node: int) -> int:
        while above.setdefault(node, node) != node:
            node = above[node]
        return node

    for e in sorted(edges):
        a, b = top(graph.edges[e].start), top(graph.edges[e].end)
        if a == b:
            return False
        above[a] = b
    return len({top(node) for node in {graph.source, *graph.terminals, *list(above)}}) == 1
