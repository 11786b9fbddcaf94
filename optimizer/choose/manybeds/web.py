"""The ground graph with headers hung into it: where mainline may lie, and what it must reach."""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from optimizer.choose.manybeds.inlets import Inlet
from optimizer.choose.manybeds.trees import Edge, Grown, GrownAlone, Tree, rows_of
from optimizer.geometry import Point
from optimizer.problem.case import HeaderLine, Run
from optimizer.problem.counts import SHARP_BEND_DEG
from optimizer.routes.graph import GraphEdge, GroundGraph, IntArray, RoutePrice
from optimizer.routes.straighter import Bends

_BESIDE = -1  # the way in of a vertex that mainline beside the header comes to


@dataclass(frozen=True, eq=False)
class FedHeader:
    """A header that mainline must reach.

    Args:
        line: its vertices.
        inlets: the ways to it.
        runs: stretches of it that are reached, each at one of its vertices.
        cut: whether it is cut into several stretches, so that mainline may lie beside it.
    """

    line: HeaderLine
    inlets: tuple[Inlet, ...]
    runs: tuple[Run, ...]
    cut: bool


@dataclass(frozen=True)
class Way:
    """A way into a block at a place on the edge of its bed, with the price of all that lies behind [mct]."""

    portal: Point
    behind_mct: int


class Web:
    """The ground graph with the headers of one question hung into it.

    A terminal is linked to every place at which its run may be fed. Each link costs so much more than any way there is
    that a tree takes one link a terminal and never runs through one; so does each way into a bed whose header is cut.
    """

    def __init__(
        self,
        ground: GroundGraph,
        source: Point,
        nodes: Mapping[Point, int],
        costs: IntArray,
        farthest: int,
        price: RoutePrice,
    ) -> None:
        """Start with the ground alone.

        Args:
            ground: its graph.
            source: place of the supply [m].
            nodes: node of each portal that can be reached.
            costs: price of every edge of the ground, shape (edges,) [mct].
            farthest: price of the dearest of all cheapest ways from the supply [mct].
            price: of tube and crossings.
        """
        self.ground, self.source, self.nodes, self.costs_of_ground = ground, source, nodes, costs
        self.farthest, self.price = farthest, price
        self.places: list[Point] = [ground.frame.to_m(node) for node in ground.nodes]
        self.places[ground.source] = source
        for place, node in nodes.items():
            self.places[node] = place
        self.edges: list[Edge] = []
        self.links: dict[int, dict[int, tuple[int, int]]] = {}
        """for each terminal the nodes it is linked to, with the price of what lies behind [mct] and its number"""
        self.vertices: dict[tuple[int, int, int], int] = {}
        """node of (header, vertex, way in)"""
        self.extra = 0

    @property
    def apart(self) -> int:
        """What a link costs [mct]."""
        return self.farthest + self.extra + 1

    def new_node(self) -> int:
        """Add a terminal."""
        self.places.append(self.source)
        self.links[len(self.places) - 1] = {}
        return len(self.places) - 1

    def link(self, node: int, terminal: int, behind_mct: int = 0, number: int = 0) -> None:
        """Link a terminal to a node."""
        known = self.links[terminal].get(node)
        if known is None or behind_mct < known[0]:
            self.links[terminal][node] = behind_mct, number
            self.extra += behind_mct

    def _vertex(self, number: int, header: FedHeader, vertex: int, inlet: int = _BESIDE) -> int:
        """Return the node of a header vertex: one for each way to it, or one for all if mainline goes on from there."""
        key = (number, vertex, inlet)
        if key not in self.vertices:
            self.places.append(header.line.points[vertex])
            self.vertices[key] = len(self.places) - 1
        return self.vertices[key]

    def add_header(self, number: int, header: FedHeader) -> None:
        """Add the vertices at which a header may be fed, the ways to them, and mainline beside it if it is cut."""
        for index, inlet in enumerate(header.inlets):
            if inlet.portal in self.nodes:
                # Through a header that is not cut mainline must find no way to other beds.
                start = self.nodes[inlet.portal]
                end = self._vertex(number, header, inlet.vertex, _BESIDE if header.cut else index)
                length_mm = -(-inlet.length_um // 1000)
                way = inlet.points, inlet.length_um, inlet.rise_um
                self._add(Edge(start, end, length_mm, *way, entrance=header.cut))
        if header.cut:
            ends = {vertex for run in header.runs for vertex in header.line.vertices(run)}
            stops = sorted(ends | {vertex for owner, vertex, _ in self.vertices if owner == number})
            for a, b in pairwise(stops):
                start, end = self._vertex(number, header, a), self._vertex(number, header, b)
                length_um = header.line.span_um(a, b)
                self._add(Edge(start, end, -(-length_um // 1000), header.line.between(a, b), length_um))

    def _add(self, edge: Edge) -> None:
        self.edges.append(edge)
        self.extra += edge.length_mm * self.price.tube_mct_per_mm

    def add_terminal(self, header: FedHeader, number: int, run: int) -> int:
        """Add the terminal of a run, linked to the vertices of its own that mainline may reach."""
        terminal = self.new_node()
        first, last = header.line.vertices(header.runs[run])
        for (owner, vertex, _), node in sorted(self.vertices.items()):
            if owner == number and first <= vertex <= last:
                self.link(node, terminal)
        return terminal

    # ------------------------------------------------------------ as a graph

    @cached_property
    def _every(self) -> list[tuple[int, int, int, int]]:
        """(start, end, price, number of the edge) of everything once it is hung in; links have no number."""
        ground = self.costs_of_ground.tolist()
        found = [
            (edge.start, edge.end, cost, k)
            for k, (edge, cost) in enumerate(zip(self.ground.edges, ground, strict=True))
        ]
        per_mm = self.price.tube_mct_per_mm
        found += [
            (min(edge.start, edge.end), max(edge.start, edge.end), self._cost(edge, per_mm), len(ground) + k)
            for k, edge in enumerate(self.edges)
        ]
        found += [
            (node, terminal, self.apart + behind, -1)
            for terminal, linked in self.links.items()
            for node, (behind, _) in linked.items()
        ]
        best: dict[tuple[int, int], tuple[int, int, int, int]] = {}
        for item in found:
            if item[:2] not in best or item[2] < best[item[:2]][2]:
                best[item[:2]] = item
        return [best[key] for key in sorted(best)]

    def _cost(self, edge: Edge, per_mm: int) -> int:
        return max(edge.length_mm * per_mm, 1) + (self.apart if edge.entrance else 0)

    def graph(self, terminals: Sequence[int]) -> GroundGraph:
        """Return the graph; its edges stand in the order of `costs`."""
        frame = self.ground.frame
        nodes = tuple(frame.points(self.places))
        edges = tuple(GraphEdge(start, end, 0) for start, end, _, _ in self._every)
        return GroundGraph(frame, nodes, edges, self.ground.source, tuple(terminals))

    def costs(self) -> IntArray:
        """Return the price of every edge, shape (edges,) [mct]."""
        return np.array([cost for _, _, cost, _ in self._every], dtype=np.int64)

    def ground_edges(self, chosen: Sequence[int]) -> tuple[int, ...]:
        """Return those of some edges that lie on the ground, by their number in its graph."""
        numbers = (self._every[edge][3] for edge in chosen)
        return tuple(number for number in numbers if 0 <= number < len(self.ground.edges))

    def with_ground(self, wanted: frozenset[int]) -> tuple[int, ...]:
        """Return all edges but those of the ground that are not wanted; none if none is."""
        count = len(self.ground.edges)
        found = (k for k, (_, _, _, edge) in enumerate(self._every) if not 0 <= edge < count or edge in wanted)
        return tuple(found) if wanted else ()

    def taken(self, chosen: Sequence[int]) -> dict[int, int]:
        """Return the number of the way that chosen edges take to each terminal."""
        links = (self._every[edge] for edge in chosen if self._every[edge][3] < 0)
        return {terminal: self.links[terminal][node][1] for node, terminal, _, _ in links}

    def entries(self, chosen: Sequence[int]) -> list[int]:
        """Return the nodes on the ground that chosen edges touch."""
        touched = {node for number in chosen for node in self._every[number][:2]}
        return sorted(node for node in touched if node < len(self.ground.nodes))

    def straighter(self, graph: GroundGraph, chosen: Sequence[int], elbow_mct: int) -> tuple[int, ...]:
        """Return a tree with fewer elbows where the tube that goes round without them is cheaper.

        Args:
            graph: this graph with the terminals in question.
            chosen: edges of the tree.
            elbow_mct: what an elbow costs [mct].
        """
        found = Bends(graph, self.costs(), self.places, frozenset(self.links), elbow_mct, SHARP_BEND_DEG)
        return found.straighter(chosen)

    # ------------------------------------------------------------ as parts of mainline

    def tree(
        self, chosen: Sequence[int], wanted: Sequence[tuple[int, int]], terminals: Sequence[int], proven: bool
    ) -> Tree:
        """Return chosen edges as parts of mainline from the supply, cut at every branching place and inlet.

        Args:
            chosen: the edges, by their place among all.
            wanted: (header, run) of each terminal.
            terminals: the terminals.
            proven: whether no tree is cheaper.
        """
        return self.grown(chosen, terminals).tree(self.ground.source, wanted, proven)

    def grown(self, chosen: Sequence[int], terminals: Sequence[int]) -> Grown:
        """Return chosen edges that lead to terminals, wherever they start."""
        fed: dict[int, int] = {}
        laid: list[Edge] = []
        for number in chosen:
            start, end, _, edge = self._every[number]
            if edge < 0:
                fed[end] = start
            else:
                laid.append(self._laid(edge))
        vertex_at = {node: vertex for (_, vertex, _), node in self.vertices.items()}
        ends = tuple((fed[terminal], vertex_at[fed[terminal]]) for terminal in terminals)
        return Grown(rows_of(laid), ends, tuple(self.entries(chosen)))

    def grown_alone(self, terminal: int) -> GrownAlone:
        """Return the cheapest way to a terminal from each place where its bed may be entered."""
        vertex_at = {node: vertex for (_, vertex, _), node in self.vertices.items()}
        near: dict[int, list[tuple[int, Edge]]] = {}
        for edge in self.edges:
            near.setdefault(edge.start, []).append((edge.end, edge))
            near.setdefault(edge.end, []).append((edge.start, edge))
        ways: dict[int, tuple[int, Grown]] = {}
        heap: list[tuple[int, int, int, tuple[Edge, ...]]] = [(0, node, node, ()) for node in self.links[terminal]]
        seen: set[int] = set()
        while heap:
            cost, node, fed, way = heapq.heappop(heap)
            if node in seen:
                continue
            seen.add(node)
            if node < len(self.ground.nodes):
                ways[node] = cost, Grown(rows_of(way), ((fed, vertex_at[fed]),), (node,))
                continue
            for other, edge in near.get(node, ()):
                if other not in seen:
                    heapq.heappush(heap, (cost + edge.length_mm * self.price.tube_mct_per_mm, other, fed, (*way, edge)))
        return GrownAlone(ways)

    def _laid(self, number: int) -> Edge:
        ground = self.ground.edges
        if number >= len(ground):
            return self.edges[number - len(ground)]
        edge = ground[number]
        points = (self.places[edge.start], self.places[edge.end])
        return Edge(edge.start, edge.end, edge.length_mm, points, edge.length_mm * 1000)
