"""What the router hands back: routes and route trees, frozen, with what was proven about them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

from optimizer.routes.graph import Crossing, GroundGraph, RoutePrice
from optimizer.routes.ground import PointM


class Status(Enum):
    """What is known about a route tree; the words claim no more than that."""

    PROVEN = "proven cheapest among tubes on the candidate lines"
    BEST_FOUND = "best found"


@dataclass(frozen=True)
class Route:
    """Tube from one place to another.

    Args:
        points: Ends and bends in order from the source [m].
        length_mm: Length [mm].
        crossings: Paths crossed, in order from the source.
        turns: Number of bends.
        cost_mct: Price of tube and crossings [mct].
    """

    points: tuple[PointM, ...]
    length_mm: int
    crossings: tuple[Crossing, ...]
    turns: int
    cost_mct: int


@dataclass(frozen=True)
class TreeEdge:
    """A straight piece of a route tree, `start` being the end nearer the source."""

    start: int
    end: int
    length_mm: int
    crossings: tuple[Crossing, ...] = ()


@dataclass(frozen=True)
class RouteTree:
    """A tree of straight tube pieces from the source to every terminal.

    Args:
        points: Source, bends, tees and terminals [m].
        edges: Straight pieces, each after the piece that feeds it.
        source: Number of the source's point.
        terminals: Point number of each terminal, in the caller's order.
        bends: Numbers of the points where tube turns and nothing branches off.
        cost_mct: Price of tube and crossings [mct].
        bound_mct: No tree on these candidate lines costs less [mct].
        status: What was proven.
        method: Which exact method (or which limit) ended the search.
    """

    points: tuple[PointM, ...]
    edges: tuple[TreeEdge, ...]
    source: int
    terminals: tuple[int, ...]
    bends: tuple[int, ...]
    cost_mct: int
    bound_mct: int
    status: Status
    method: str

    @property
    def length_mm(self) -> int:
        """Total length of tube [mm]."""
        return sum(edge.length_mm for edge in self.edges)

    @property
    def crossings(self) -> tuple[Crossing, ...]:
        """All crossings, in the order of the edges."""
        return tuple(crossing for edge in self.edges for crossing in edge.crossings)

    @property
    def turns(self) -> int:
        """Number of bends that are not at a tee or terminal."""
        return len(self.bends)

    @property
    def tees(self) -> tuple[int, ...]:
        """Points where three or more pieces meet."""
        degree = [0] * len(self.points)
        for edge in self.edges:
            degree[edge.start] += 1
            degree[edge.end] += 1
        return tuple(i for i, count in enumerate(degree) if count >= 3)

    @property
    def gap(self) -> float:
        """How much cheaper a better tree could be, as a share of this one's price."""
        return (self.cost_mct - self.bound_mct) / self.cost_mct if self.cost_mct else 0.0


def route_tree(graph: GroundGraph, chosen: Iterable[int], price: RoutePrice, bound_mct: int, method: str) -> RouteTree:
    """Hang a set of graph edges on the source and join straight runs to single pieces.

    Args:
        graph: The candidate graph.
        chosen: Numbers of edges forming a tree that holds the source and every terminal.
        price: What tube costs.
        bound_mct: Proven lower bound [mct].
        method: Words for how the tree was found.

    Returns:
        The tree.

    Raises:
        ValueError: The edges do not form such a tree, or the bound exceeds the price.
    """
    picked = sorted(set(chosen))
    rows = _rows(graph, picked)
    order = _walk(graph, rows)
    if len(order) != len(picked) or not set(graph.terminals) <= {graph.source, *(end for _, end, _ in order)}:
        raise ValueError("the chosen edges are not one tree holding the source and every terminal")
    fixed = {graph.source, *graph.terminals}
    plain = {i for i, row in rows.items() if len(row) == 2 and i not in fixed}
    through = {i for i in plain if graph.straight(rows[i][0][0], i, rows[i][1][0])}
    edges = _joined(graph, order, through)
    used = sorted({graph.source} | {i for edge in edges for i in (edge.start, edge.end)})
    number = {node: i for i, node in enumerate(used)}
    cost_mct = sum(price.of(graph.edges[e].length_mm, graph.edges[e].crossings) for e in picked)
    if bound_mct > cost_mct:
        raise ValueError(f"a bound of {bound_mct} mct cannot exceed the price of a tree found, {cost_mct} mct")
    return RouteTree(
        tuple(graph.frame.to_m(graph.nodes[i]) for i in used),
        tuple(TreeEdge(number[e.start], number[e.end], e.length_mm, e.crossings) for e in edges),
        number[graph.source],
        tuple(number[t] for t in graph.terminals),
        tuple(number[i] for i in sorted(plain - through)),
        cost_mct,
        bound_mct,
        Status.PROVEN if bound_mct == cost_mct else Status.BEST_FOUND,
        method,
    )


def _rows(graph: GroundGraph, picked: Iterable[int]) -> dict[int, list[tuple[int, int]]]:
    rows: dict[int, list[tuple[int, int]]] = {graph.source: []}
    for number in picked:
        edge = graph.edges[number]
        rows.setdefault(edge.start, []).append((edge.end, number))
        rows.setdefault(edge.end, []).append((edge.start, number))
    return rows


def _walk(graph: GroundGraph, rows: dict[int, list[tuple[int, int]]]) -> list[tuple[int, int, int]]:
    """(start, end, edge) of every edge met walking from the source, each after the one feeding it."""
    order: list[tuple[int, int, int]] = []
    seen = {graph.source}
    todo = [graph.source]
    while todo:
        here = todo.pop()
        for other, number in reversed(rows[here]):
            if other not in seen:
                seen.add(other)
                order.append((here, other, number))
                todo.append(other)
    return order


def _joined(graph: GroundGraph, order: list[tuple[int, int, int]], through: set[int]) -> list[TreeEdge]:
    """Edges from the source outwards with the nodes passed straight through left out."""
    fed: dict[int, TreeEdge] = {}
    done: list[TreeEdge] = []
    for start, end, number in order:
        edge = graph.edges[number]
        before = fed.get(start, TreeEdge(start, start, 0))
        crossings = edge.crossings if edge.start == start else edge.crossings[::-1]
        grown = TreeEdge(before.start, end, before.length_mm + edge.length_mm, (*before.crossings, *crossings))
        if end in through:
            fed[end] = grown
        else:
            done.append(grown)
    return done
