"""Mainline from the supply to the headers of all beds: cheapest trees of tube over the ground between them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import Point as Place
from shapely.geometry import Polygon

from optimizer.choose.manybeds.inlets import Inlet
from optimizer.choose.manybeds.meeting import Meeting, every_price, is_quick
from optimizer.geometry import Point
from optimizer.problem.case import HeaderLine, Run
from optimizer.routes.graph import GraphEdge, GroundGraph, IntArray, RoutePrice
from optimizer.routes.ground import GardenPath, Ground
from optimizer.routes.network import FAR, distances
from optimizer.routes.steiner import QUICK, Care, cheap_edges, cheapest_edges, least_cost
from optimizer.routes.visibility import reached_graph
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Scenario
from optimizer.site import SiteShapes

SEAM_M = 0.005
"""beds are drawn in by this, so that tube may lie between two that touch [m]"""

_COARSE_M = 0.02
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
class WayPart:
    """Mainline between two branching places, in the direction of flow."""

    points: tuple[Point, ...]
    length_um: int
    rise_um: int
    above: int
    """number of the part that feeds it, -1 for the supply"""


@dataclass(frozen=True, eq=False)
class Tree:
    """A tree of mainline.

    Args:
        parts: its parts, each behind the one that feeds it.
        ends: for each header and run the number of the part that ends at it, and the header vertex there.
        proven: whether no tree is cheaper.
    """

    parts: tuple[WayPart, ...]
    ends: dict[tuple[int, int], tuple[int, int]]
    proven: bool


@dataclass(frozen=True)
class Way:
    """A way into a block at a place on the edge of its bed, with the price of all that lies behind [mct]."""

    portal: Point
    behind_mct: int


@dataclass(frozen=True)
class _Edge:
    """An edge of the graph with what is laid along it, from its start to its end."""

    start: int
    end: int
    length_mm: int
    points: tuple[Point, ...]
    length_um: int
    rise_um: int = 0
    entrance: bool = False
    """whether it leads into a bed whose header is cut: mainline goes in at one place, so that it leads nowhere else"""


def tube_ground(scenario: Scenario, shapes: SiteShapes, portals: Sequence[Point]) -> Ground:
    """Return what mainline must respect: it stays off beds, obstacles and barriers, and crosses paths straight.

    If the supply stands on the plot mainline stays on it. A bed in which the supply stands is no hindrance.

    Args:
        scenario: the scenario.
        shapes: its site.
        portals: places on bed edges that mainline leads to [m].
    """
    source = Place(shapes.source_at)
    beds = [Polygon(corners(bed)) for bed in scenario.beds]
    shut = [bed.buffer(-SEAM_M, join_style="mitre") for bed in beds if not bed.contains(source)]
    kept = [*portals, shapes.source_at]
    obstacles = [_coarse(part, kept) for part in shapely.get_parts(shapes.no_tube)]
    region = shapes.site if shapes.site is not None and shapes.site.covers(source) else None
    return Ground(
        keep_outs=tuple(part for shape in (*shut, *obstacles) for part in shapely.get_parts(shape)),
        barriers=tuple(shapely.get_parts(shapes.barriers)),
        paths=tuple(GardenPath(name, outline) for name, outline in shapes.paths),
        region=region,
        smallest_corner_rad=0.0,
    )


def _coarse(shape: Polygon, kept: Sequence[Point]) -> Polygon:
    """Return a round obstacle with few corners around it, unless that covers a place tube must reach."""
    coarse = shape.convex_hull.simplify(_COARSE_M).buffer(_COARSE_M * 1.05, quad_segs=1, join_style="mitre")
    few = len(coarse.exterior.coords) < len(shape.exterior.coords)
    return coarse if few and not any(coarse.covers(Place(at)) for at in kept) else shape


@dataclass(eq=False)
class Ways:
    """The ground graph of one way to part the beds, and trees on it."""

    graph: GroundGraph
    source: Point
    nodes: dict[Point, int]
    """node of each portal that can be reached"""
    _far: dict[RoutePrice, int] = field(default_factory=dict)
    _costs: dict[RoutePrice, IntArray] = field(default_factory=dict)
    _prices: dict[RoutePrice, IntArray] = field(default_factory=dict)

    @classmethod
    def over(cls, scenario: Scenario, shapes: SiteShapes, portals: Iterable[Point]) -> Ways:
        """Return the ways over a site to places on the edges of its beds.

        Raises:
            GroundError: the supply stands where tube may not lie.
        """
        places = list(dict.fromkeys(portals))
        graph, numbers = reached_graph(tube_ground(scenario, shapes, places), shapes.source_at, places)
        nodes = {place: node for place, node in zip(places, numbers, strict=True) if node is not None}
        return cls(graph, shapes.source_at, nodes)

    # ------------------------------------------------------------ trees

    def tree(self, headers: Sequence[FedHeader], price: RoutePrice, care: Care) -> Tree | None:
        """Return a tree to some headers, cheap by the metre; None if one cannot be reached.

        Args:
            headers: the headers.
            price: of tube and crossings.
            care: how much is done to find a cheapest one.
        """
        web = _Web(self, price)
        wanted = [(number, run) for number, header in enumerate(headers) for run in range(len(header.runs))]
        for number, header in enumerate(headers):
            web.add_header(number, header)
        terminals = [web.add_terminal(headers[number], number, run) for number, run in wanted]
        if any(not web.links[terminal] for terminal in terminals):
            return None
        found = cheapest_edges(web.graph(terminals), web.costs(), care)
        return web.tree(found.edges, wanted, terminals, found.cost == found.bound)

    def least(self, blocks: Sequence[Sequence[Way]], price: RoutePrice) -> int | None:
        """Return what mainline that ends at one way into each block costs at least; None if a block is out of reach.

        Args:
            blocks: the ways into each block.
            price: of tube and crossings.
        """
        if not self._reaches(blocks):
            return None
        if is_quick(len(blocks), len(self.graph.nodes)):
            return self._meeting(blocks, price).least
        web, terminals = self._linked(blocks, price)
        return least_cost(web.graph(terminals), web.costs()) - len(terminals) * web.apart

    def entered(self, blocks: Sequence[Sequence[Way]], price: RoutePrice) -> tuple[int, ...] | None:
        """Return the way into each block that cheap mainline takes, by its number; None if a block is out of reach.

        Args:
            blocks: the ways into each block.
            price: of tube and crossings.
        """
        if not self._reaches(blocks):
            return None
        if is_quick(len(blocks), len(self.graph.nodes)):
            return self._meeting(blocks, price).ways()
        web, terminals = self._linked(blocks, price)
        taken = web.taken(cheap_edges(web.graph(terminals), web.costs(), QUICK).edges)
        return tuple(taken[terminal] for terminal in terminals)

    def _reaches(self, blocks: Sequence[Sequence[Way]]) -> bool:
        return all(any(way.portal in self.nodes for way in ways) for ways in blocks)

    def _meeting(self, blocks: Sequence[Sequence[Way]], price: RoutePrice) -> Meeting:
        ends = [[(self.nodes.get(way.portal), way.behind_mct) for way in ways] for ways in blocks]
        return Meeting(self._every_price(price), self.graph.source, ends)

    def _linked(self, blocks: Sequence[Sequence[Way]], price: RoutePrice) -> tuple[_Web, list[int]]:
        web = _Web(self, price)
        terminals = [web.new_node() for _ in blocks]
        for terminal, ways in zip(terminals, blocks, strict=True):
            for number, way in enumerate(ways):
                if way.portal in self.nodes:
                    web.link(self.nodes[way.portal], terminal, way.behind_mct, number)
        return web, terminals

    def _every_price(self, price: RoutePrice) -> IntArray:
        if price not in self._prices:
            self._prices[price] = every_price(len(self.graph.nodes), self.graph.ends, self.costs(price))
        return self._prices[price]

    def costs(self, price: RoutePrice) -> IntArray:
        """Return the price of every edge of the ground graph [mct]."""
        if price not in self._costs:
            self._costs[price] = self.graph.costs(price)
        return self._costs[price]

    def farthest(self, price: RoutePrice) -> int:
        """Return the price of the dearest of all cheapest ways from the supply [mct]."""
        if price not in self._far:
            away, _ = distances(self.graph.neighbours, self.costs(price), [self.graph.source])
            self._far[price] = max(cost for cost in away if cost < FAR)
        return self._far[price]


class _Web:
    """The ground graph with the headers of one question hung into it.

    A terminal is linked to every place at which its run may be fed. Each link costs so much more than any way there is
    that a tree takes one link a terminal and never runs through one; so does each way into a bed whose header is cut.
    """

    def __init__(self, ways: Ways, price: RoutePrice) -> None:
        self.ways, self.price = ways, price
        self.places: list[Point] = [ways.graph.frame.to_m(node) for node in ways.graph.nodes]
        self.places[ways.graph.source] = ways.source
        for place, node in ways.nodes.items():
            self.places[node] = place
        self.edges: list[_Edge] = []
        self.links: dict[int, dict[int, tuple[int, int]]] = {}
        """for each terminal the nodes it is linked to, with the price of what lies behind [mct] and its number"""
        self.vertices: dict[tuple[int, int, int], int] = {}
        """node of (header, vertex, way in)"""
        self.extra = 0

    @property
    def apart(self) -> int:
        """What a link costs [mct]."""
        return self.ways.farthest(self.price) + self.extra + 1

    def new_node(self) -> int:
        """Add a terminal."""
        self.places.append(self.ways.source)
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
            if inlet.portal in self.ways.nodes:
                # Through a header that is not cut mainline must find no way to other beds.
                start = self.ways.nodes[inlet.portal]
                end = self._vertex(number, header, inlet.vertex, _BESIDE if header.cut else index)
                length_mm = -(-inlet.length_um // 1000)
                way = inlet.points, inlet.length_um, inlet.rise_um
                self._add(_Edge(start, end, length_mm, *way, entrance=header.cut))
        if header.cut:
            ends = {vertex for run in header.runs for vertex in header.line.vertices(run)}
            stops = sorted(ends | {vertex for owner, vertex, _ in self.vertices if owner == number})
            for a, b in pairwise(stops):
                start, end = self._vertex(number, header, a), self._vertex(number, header, b)
                length_um = header.line.span_um(a, b)
                self._add(_Edge(start, end, -(-length_um // 1000), header.line.between(a, b), length_um))

    def _add(self, edge: _Edge) -> None:
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
        ground = self.ways.costs(self.price).tolist()
        found = [
            (edge.start, edge.end, cost, k) for k, (edge, cost) in enumerate(zip(self._ground, ground, strict=True))
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

    def _cost(self, edge: _Edge, per_mm: int) -> int:
        return max(edge.length_mm * per_mm, 1) + (self.apart if edge.entrance else 0)

    @property
    def _ground(self) -> tuple[GraphEdge, ...]:
        return self.ways.graph.edges

    def graph(self, terminals: Sequence[int]) -> GroundGraph:
        """Return the graph; its edges stand in the order of `costs`."""
        frame = self.ways.graph.frame
        nodes = tuple(frame.points(self.places))
        edges = tuple(GraphEdge(start, end, 0) for start, end, _, _ in self._every)
        return GroundGraph(frame, nodes, edges, self.ways.graph.source, tuple(terminals))

    def costs(self) -> IntArray:
        """Return the price of every edge, shape (edges,) [mct]."""
        return np.array([cost for _, _, cost, _ in self._every], dtype=np.int64)

    def taken(self, chosen: Sequence[int]) -> dict[int, int]:
        """Return the number of the way that chosen edges take to each terminal."""
        links = (self._every[edge] for edge in chosen if self._every[edge][3] < 0)
        return {terminal: self.links[terminal][node][1] for node, terminal, _, _ in links}

    # ------------------------------------------------------------ as parts of mainline

    def tree(
        self, chosen: Sequence[int], wanted: Sequence[tuple[int, int]], terminals: Sequence[int], proven: bool
    ) -> Tree:
        """Return chosen edges as parts of mainline, cut at every branching place and inlet."""
        every = self._every
        rows: dict[int, list[tuple[int, _Edge]]] = {}
        fed: dict[int, int] = {}
        for number in chosen:
            start, end, _, laid = every[number]
            if laid < 0:
                fed[end] = start
            else:
                edge = self._laid(laid)
                rows.setdefault(start, []).append((end, edge))
                rows.setdefault(end, []).append((start, edge))
        stops = {self.ways.graph.source, *fed.values(), *(node for node, row in rows.items() if len(row) > 2)}
        parts, ending = _parts(rows, self.ways.graph.source, stops, self.places)
        vertex_at = {node: vertex for (_, vertex, _), node in self.vertices.items()}
        ends = {
            key: (ending[fed[terminal]], vertex_at[fed[terminal]])
            for key, terminal in zip(wanted, terminals, strict=True)
        }
        return Tree(tuple(parts), ends, proven)

    def _laid(self, number: int) -> _Edge:
        ground = self._ground
        if number >= len(ground):
            return self.edges[number - len(ground)]
        edge = ground[number]
        points = (self.places[edge.start], self.places[edge.end])
        return _Edge(edge.start, edge.end, edge.length_mm, points, edge.length_mm * 1000)


def _parts(
    rows: dict[int, list[tuple[int, _Edge]]], source: int, stops: set[int], places: Sequence[Point]
) -> tuple[list[WayPart], dict[int, int]]:
    """Return the parts of a tree from its source outwards, and the part that ends at each stop."""
    parts: list[WayPart] = []
    ending: dict[int, int] = {}
    todo = [(source, -1, edge_of) for edge_of in reversed(rows.get(source, []))]
    while todo:
        start, above, (node, edge) = todo.pop()
        points, length, rise = list(_from(edge, start)), edge.length_um, edge.rise_um
        before = start
        while node not in stops and len(rows[node]) == 2:
            onward = next(item for item in rows[node] if item[0] != before)
            before, (node, edge) = node, onward
            points += _from(edge, before)[1:]
            length, rise = length + edge.length_um, rise + edge.rise_um
        ending[node] = len(parts)
        parts.append(WayPart(tuple(_without_repeats(points)), length, rise, above))
        todo += [(node, len(parts) - 1, item) for item in reversed(rows[node]) if item[1] is not edge]
    return parts, ending


def _from(edge: _Edge, start: int) -> tuple[Point, ...]:
    return edge.points if edge.start == start else edge.points[::-1]


def _without_repeats(points: Iterable[Point]) -> Iterator[Point]:
    before = None
    for point in points:
        if point != before:
            yield point
        before = point
