"""The tree problem without its geometry: nodes, edges and prices as integers, shrunk without losing every best tree.

Shrinking rules and their names: Duin and Volgenant, Reduction tests for the Steiner problem in graphs, Networks 19,
1989; bounding edges by reduced prices: Polzin and Vahdati Daneshmand, Improved algorithms for the Steiner problem in
networks, Discrete Appl. Math. 112, 2001.
"""

from __future__ import annotations

import heapq
from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from optimizer.routes.graph import GroundGraph, IntArray

FAR = 1 << 60  # price of what cannot be reached; twice this still fits a 64-bit integer
Neighbours = Sequence[Sequence[tuple[int, int]]]


@dataclass(frozen=True)
class Network:
    """An undirected network with a root and goals to be joined to it.

    Arc e runs from `ends[e, 0]` to `ends[e, 1]`, arc e + edges the other way.

    Args:
        count: Number of nodes.
        ends: Nodes of every edge, shape (edges, 2).
        costs: Price of every edge, at least 1, shape (edges,).
        root: Node to join to.
        goals: Nodes to join, sorted, without the root.
        parts: Edges of the graph it was made from that each edge stands for.
    """

    count: int
    ends: IntArray
    costs: IntArray
    root: int
    goals: tuple[int, ...]
    parts: tuple[tuple[int, ...], ...]

    @property
    def size(self) -> int:
        """Number of edges."""
        return len(self.costs)

    @cached_property
    def neighbours(self) -> tuple[tuple[tuple[int, int], ...], ...]:
        """For each node its (neighbour, edge) pairs in edge order."""
        rows: list[list[tuple[int, int]]] = [[] for _ in range(self.count)]
        for e, (a, b) in enumerate(self.ends.tolist()):
            rows[a].append((b, e))
            rows[b].append((a, e))
        return tuple(tuple(row) for row in rows)

    @cached_property
    def prices(self) -> list[int]:
        """Price of every edge as plain numbers."""
        found: list[int] = self.costs.tolist()
        return found

    @cached_property
    def tails(self) -> IntArray:
        """Node every arc leaves, shape (2 edges,)."""
        return np.concatenate((self.ends[:, 0], self.ends[:, 1]))

    @cached_property
    def heads(self) -> IntArray:
        """Node every arc enters, shape (2 edges,)."""
        return np.concatenate((self.ends[:, 1], self.ends[:, 0]))

    def original(self, edges: Iterable[int]) -> tuple[int, ...]:
        """Edges of the first graph that some edges stand for, sorted."""
        return tuple(sorted(part for e in edges for part in self.parts[e]))


def network(graph: GroundGraph, costs: IntArray) -> Network:
    """The tree problem of a candidate graph."""
    goals = tuple(sorted(set(graph.terminals) - {graph.source}))
    parts = tuple((e,) for e in range(len(graph.edges)))
    return Network(len(graph.nodes), graph.ends, costs, graph.source, goals, parts)


def distances(
    neighbours: Neighbours, costs: IntArray, starts: Iterable[int], until: int | None = None
) -> tuple[list[int], list[int]]:
    """Price of the cheapest way to every node from the nearest of some nodes (Dijkstra).

    Args:
        neighbours: For each node its (neighbour, edge) pairs.
        costs: Price of every edge, shape (edges,).
        starts: Nodes with price 0.
        until: Stop when this node is reached; dearer prices than its own are then only bounds from above.

    Returns:
        Price by node (`FAR` where there is no way), and the edge each node is entered by (-1 at a start).
    """
    price, entered = [FAR] * len(neighbours), [-1] * len(neighbours)
    cost = costs.tolist()
    heap = [(0, node) for node in sorted(set(starts))]
    for _, node in heap:
        price[node] = 0
    while heap:
        d, node = heapq.heappop(heap)
        if d > price[node]:
            continue
        if node == until:
            break
        for other, edge in neighbours[node]:
            if d + cost[edge] < price[other]:
                price[other], entered[other] = d + cost[edge], edge
                heapq.heappush(heap, (price[other], other))
    return price, entered


def cheapest_link(net: Network, starts: Iterable[int], goals: Container[int], below: int) -> tuple[int, ...]:
    """The edges of a cheapest way between two sets of nodes; empty if none costs less than a price.

    Args:
        net: The network.
        starts: Nodes of one set.
        goals: Nodes of the other set.
        below: Price to stay below.
    """
    price = dict.fromkeys(starts, 0)
    entered: dict[int, tuple[int, int]] = {}
    heap = [(0, node) for node in sorted(price)]
    cost = net.prices
    while heap:
        d, node = heapq.heappop(heap)
        if node in goals:
            return _back(entered, node)
        if d > price[node]:
            continue
        for other, edge in net.neighbours[node]:
            further = d + cost[edge]
            if further < below and further < price.get(other, FAR):
                price[other], entered[other] = further, (edge, node)
                heapq.heappush(heap, (further, other))
    return ()


def _back(entered: dict[int, tuple[int, int]], node: int) -> tuple[int, ...]:
    edges = []
    while node in entered:
        edge, node = entered[node]
        edges.append(edge)
    return tuple(edges)


def arc_distances(net: Network, costs: IntArray, starts: Iterable[int], backward: bool) -> IntArray:
    """Price of the cheapest directed way from (backward: to) the nearest of some nodes, shape (nodes,).

    Args:
        net: The network.
        costs: Price of every arc, shape (2 edges,).
        starts: Nodes with price 0.
        backward: Walk arcs against their direction.

    Returns:
        Price by node, `FAR` where there is no way.
    """
    price = [FAR] * net.count
    cost, size = costs.tolist(), net.size
    first = net.ends[:, 0].tolist()
    heap = [(0, node) for node in sorted(set(starts))]
    for _, node in heap:
        price[node] = 0
    while heap:
        d, node = heapq.heappop(heap)
        if d > price[node]:
            continue
        for other, e in net.neighbours[node]:
            arc = e if (first[e] == node) != backward else e + size
            if d + cost[arc] < price[other]:
                price[other] = d + cost[arc]
                heapq.heappush(heap, (price[other], other))
    return np.array(price, dtype=np.int64)


def reduced(net: Network, keep: npt.NDArray[np.bool_]) -> Network:
    """The network with some edges dropped, dead ends cut off and chains of two edges joined to one.

    Args:
        net: The network.
        keep: Which edges stay, shape (edges,).

    Returns:
        A network with the same root and goals whose best trees are best trees of the edges kept.
    """
    rows: list[dict[int, tuple[int, tuple[int, ...]]]] = [{} for _ in range(net.count)]
    for e in np.flatnonzero(keep).tolist():
        a, b = net.ends[e].tolist()
        _put(rows, a, b, int(net.costs[e]), net.parts[e])
    fixed = {net.root, *net.goals}
    todo = [node for node in range(net.count - 1, -1, -1) if node not in fixed]
    while todo:
        node = todo.pop()
        if node in fixed or not 0 < len(rows[node]) <= 2:
            continue
        sides = sorted(rows[node].items())
        rows[node] = {}
        for other, _ in sides:
            del rows[other][node]
        if len(sides) == 2:
            (a, (cost_a, parts_a)), (b, (cost_b, parts_b)) = sides
            _put(rows, a, b, cost_a + cost_b, (*parts_a, *parts_b))
        todo.extend(other for other, _ in reversed(sides))
    return _numbered(net, rows)


def _put(rows: list[dict[int, tuple[int, tuple[int, ...]]]], a: int, b: int, cost: int, parts: tuple[int, ...]) -> None:
    """Add an edge unless one that is no dearer joins the same two nodes."""
    if a != b and (b not in rows[a] or rows[a][b][0] > cost):
        rows[a][b] = rows[b][a] = (cost, parts)


def _numbered(net: Network, rows: list[dict[int, tuple[int, tuple[int, ...]]]]) -> Network:
    reached = {net.root}
    todo = [net.root]
    while todo:
        for other in rows[todo.pop()]:
            if other not in reached:
                reached.add(other)
                todo.append(other)
    if not reached.issuperset(net.goals):
        raise ValueError("shrinking the network cut off a goal")
    number = {old: new for new, old in enumerate(sorted(reached))}
    listed = sorted(
        (number[a], number[b], cost, parts) for a in number for b, (cost, parts) in rows[a].items() if a < b
    )
    return Network(
        len(number),
        np.array([row[:2] for row in listed], dtype=np.int64).reshape(-1, 2),
        np.array([row[2] for row in listed], dtype=np.int64),
        number[net.root],
        tuple(number[goal] for goal in net.goals),
        tuple(row[3] for row in listed),
    )
