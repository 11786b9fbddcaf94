"""Cheapest single route, and among the cheapest the one with the fewest bends."""

from __future__ import annotations

import heapq

import numpy as np

from optimizer.routes.graph import Crossing, GroundGraph, IntArray, RoutePrice
from optimizer.routes.ground import NoRouteError
from optimizer.routes.network import FAR, distances
from optimizer.routes.result import Route


def cheapest_walk(
    graph: GroundGraph, costs: IntArray, start: int, goal: int, came_from: int | None = None
) -> tuple[int, ...]:
    """Edges of a cheapest way from start to goal; of several, one with the fewest bends.

    The search runs over (node, edge entered by), so both goals, price first and bends second, are exact.

    Args:
        graph: The candidate graph.
        costs: Price of every edge, at least 1, shape (edges,) [mct].
        start: Node to leave.
        goal: Node to reach.
        came_from: Node tube comes from before the start; leaving in another direction is then a bend.

    Returns:
        Edge numbers in order; empty when start and goal are one.

    Raises:
        NoRouteError: The goal cannot be reached.
    """
    ahead, _ = distances(graph.neighbours, costs, [goal], until=start)
    if ahead[start] >= FAR:
        raise NoRouteError(f"no tube along the allowed lines joins node {start} and node {goal}")
    cost = costs.tolist()
    best: dict[tuple[int, int], int] = {}
    # only steps that keep to a cheapest way are taken, so bends alone are left to compare
    heap: list[tuple[int, int, int, int, tuple[int, ...]]] = [
        (0, ahead[start], start, -1 if came_from is None else came_from, ())
    ]
    while heap:
        turns, _, node, before, way = heapq.heappop(heap)
        if node == goal:
            return way
        if best.get((node, before), len(graph.edges) + 1) <= turns:
            continue
        best[node, before] = turns
        for other, edge in graph.neighbours[node]:
            if ahead[other] + cost[edge] == ahead[node]:
                bend = before >= 0 and not graph.straight(before, node, other)
                heapq.heappush(heap, (turns + bend, ahead[other], other, node, (*way, edge)))
    raise AssertionError("a node with a finite price always has a way to the goal")


def shortest_route(graph: GroundGraph, price: RoutePrice, terminal: int = 0) -> Route:
    """Cheapest route from the source to one terminal, with the fewest bends among the cheapest.

    Args:
        graph: The candidate graph.
        price: What tube and crossings cost.
        terminal: Which terminal, counted from 0 in the caller's order.

    Returns:
        The route.
    """
    costs = graph.costs(price)
    goal = graph.terminals[terminal]
    way = cheapest_walk(graph, costs, graph.source, goal)
    nodes = [graph.source]
    crossings: list[Crossing] = []
    for number in way:
        edge = graph.edges[number]
        forward = edge.start == nodes[-1]
        nodes.append(edge.end if forward else edge.start)
        crossings.extend(edge.crossings if forward else edge.crossings[::-1])
    bends = [b for a, b, c in zip(nodes, nodes[1:], nodes[2:], strict=False) if not graph.straight(a, b, c)]
    shown = [nodes[0], *bends, goal] if way else [goal]
    return Route(
        tuple(graph.frame.to_m(graph.nodes[i]) for i in shown),
        sum(graph.edges[e].length_mm for e in way),
        tuple(crossings),
        len(bends),
        int(np.sum(costs[list(way)], dtype=np.int64)),
    )
