"""The candidate graph: where tube may lie, as nodes on a millimetre grid and straight edges between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from optimizer.routes.ground import Frame, FramedGround, GroundError, NoRouteError, PointM, PointMm

IntArray = npt.NDArray[np.int64]
LARGEST_SUM = 1 << 58  # so that sums of a few prices stay within 64 bits
MANY = 200  # lines from which a quick test before the exact one pays
_WELL_INSIDE = 0.5  # [mm]
Chain = tuple[int, ...]
Family = tuple[Chain, ...]


@dataclass(frozen=True, order=True)
class Crossing:
    """One piece of tube under one path.

    Args:
        path: Name of the path.
        point: Middle of the covered piece [m].
        length_mm: Length of the covered piece, rounded up [mm].
    """

    path: str
    point: PointM
    length_mm: int


@dataclass(frozen=True)
class GraphEdge:
    """A straight piece of tube that may be laid, `start` < `end` being node numbers."""

    start: int
    end: int
    length_mm: int
    crossings: tuple[Crossing, ...] = ()


@dataclass(frozen=True)
class RoutePrice:
    """What tube costs, in thousandths of a cent.

    Args:
        tube_mct_per_mm: Price of one millimetre of tube, at least 1 [mct/mm].
        crossing_mct: Price of one crossing of a path, whatever its length [mct].
        cover_mct_per_mm: Price of covering one millimetre of tube under a path [mct/mm].
    """

    tube_mct_per_mm: int = 1
    crossing_mct: int = 0
    cover_mct_per_mm: int = 0

    def __post_init__(self) -> None:
        if self.tube_mct_per_mm < 1 or self.crossing_mct < 0 or self.cover_mct_per_mm < 0:
            raise ValueError(f"tube must cost at least 1 mct/mm and nothing may cost less than 0: {self}")

    def of(self, length_mm: int, crossings: Sequence[Crossing]) -> int:
        """Price of one piece of tube with its crossings [mct]."""
        covered_mm = sum(crossing.length_mm for crossing in crossings)
        return (
            self.tube_mct_per_mm * length_mm + self.crossing_mct * len(crossings) + self.cover_mct_per_mm * covered_mm
        )


@dataclass(frozen=True)
class GroundGraph:
    """Nodes and straight edges that tube may take, with the source and the terminals among the nodes.

    A place on a barrier is one node for each side of the barrier, so walking the graph never crosses it.

    Args:
        frame: Frame the millimetre coordinates belong to.
        nodes: Frame coordinates by node number [mm].
        edges: Edges sorted by (start, end), at most one for a pair of nodes.
        source: Node of the tap.
        terminals: Node of each terminal in the caller's order.
        families: Straight chains of nodes joined by edges; chains of one family share no node and the families
            together hold every edge. Empty when the graph has no such structure.
    """

    frame: Frame
    nodes: tuple[PointMm, ...]
    edges: tuple[GraphEdge, ...]
    source: int
    terminals: tuple[int, ...]
    families: tuple[Family, ...] = ()

    @cached_property
    def neighbours(self) -> tuple[tuple[tuple[int, int], ...], ...]:
        """For each node its (neighbour, edge number) pairs in edge order."""
        rows: list[list[tuple[int, int]]] = [[] for _ in self.nodes]
        for number, edge in enumerate(self.edges):
            rows[edge.start].append((edge.end, number))
            rows[edge.end].append((edge.start, number))
        return tuple(tuple(row) for row in rows)

    @cached_property
    def ends(self) -> IntArray:
        """Start and end node of every edge, shape (edges, 2)."""
        return np.array([(e.start, e.end) for e in self.edges], dtype=np.int64).reshape(-1, 2)

    def costs(self, price: RoutePrice) -> IntArray:
        """Price of every edge, shape (edges,) [mct]."""
        prices = [price.of(e.length_mm, e.crossings) for e in self.edges]
        if sum(prices) >= LARGEST_SUM:
            raise ValueError(f"prices add up to {sum(prices)} mct: state them in a coarser unit")
        return np.array(prices, dtype=np.int64)

    def straight(self, a: int, b: int, c: int) -> bool:
        """Whether tube going from node a over b to c keeps its direction."""
        (xa, ya), (xb, yb), (xc, yc) = self.nodes[a], self.nodes[b], self.nodes[c]
        ux, uy, vx, vy = xb - xa, yb - ya, xc - xb, yc - yb
        return ux * vy == uy * vx and ux * vx + uy * vy > 0


def assembled(
    frame: Frame,
    nodes: Sequence[PointMm],
    edges: Sequence[GraphEdge],
    source: int,
    terminals: Sequence[int],
    families: Sequence[Sequence[Chain]] = (),
) -> GroundGraph:
    """The part of a graph that the source can reach, renumbered in the order of the nodes given.

    Args:
        frame: Frame of the coordinates.
        nodes: Frame coordinates [mm].
        edges: Edges between node numbers; of parallel ones the first of least length is kept.
        source: Node of the tap.
        terminals: Node of each terminal.
        families: Families of chains as in `GroundGraph`.

    Returns:
        The graph.

    Raises:
        NoRouteError: A terminal cannot be reached; all such terminals are named.
    """
    reached = reachable(len(nodes), edges, source)
    lost = [k for k, t in enumerate(terminals) if not reached[t]]
    if lost:
        places = "; ".join(
            f"terminal {k + 1} at ({x:.3f} m, {y:.3f} m)" for k in lost for x, y in [frame.to_m(nodes[terminals[k]])]
        )
        raise NoRouteError(f"no tube along the allowed lines reaches {places}")
    number = {old: new for new, old in enumerate(i for i in range(len(nodes)) if reached[i])}
    best: dict[tuple[int, int], GraphEdge] = {}
    for edge in edges:
        if reached[edge.start]:
            a, b = sorted((number[edge.start], number[edge.end]))
            if (a, b) not in best or edge.length_mm < best[a, b].length_mm:
                best[a, b] = GraphEdge(a, b, edge.length_mm, edge.crossings)
    kept = tuple(tuple(tuple(number[i] for i in chain) for chain in family if reached[chain[0]]) for family in families)
    return GroundGraph(
        frame,
        tuple(nodes[i] for i in number),
        tuple(best[key] for key in sorted(best)),
        number[source],
        tuple(number[t] for t in terminals),
        tuple(family for family in kept if family),
    )


def reachable(count: int, edges: Sequence[GraphEdge], source: int) -> list[bool]:
    """Whether each node can be reached from a source."""
    rows: list[list[int]] = [[] for _ in range(count)]
    for edge in edges:
        rows[edge.start].append(edge.end)
        rows[edge.end].append(edge.start)
    reached = [False] * count
    reached[source] = True
    todo = [source]
    while todo:
        for other in rows[todo.pop()]:
            if not reached[other]:
                reached[other] = True
                todo.append(other)
    return reached


def meets_inside(area: BaseGeometry, lines: npt.NDArray[np.object_]) -> npt.NDArray[np.bool_]:
    """Which line strings have a piece inside the area; running on its edge does not count, shape (n,)."""
    hit = np.zeros(len(lines), dtype=bool)
    if area.is_empty or not len(lines):
        return hit
    shapely.prepare(area)
    touching = np.flatnonzero(shapely.intersects(area, lines))
    if len(touching) > MANY:
        # What reaches well inside is told quickly; only what runs near the edge needs the exact test.
        core = area.buffer(-_WELL_INSIDE)
        shapely.prepare(core)
        inside = shapely.intersects(core, lines[touching])
        hit[touching[inside]] = True
        touching = touching[~inside]
    hit[touching] = shapely.relate_pattern(lines[touching], area, "T********")
    return hit


def crossings_of(ground: FramedGround, lines: npt.NDArray[np.object_]) -> list[tuple[Crossing, ...] | None]:
    """The crossings of straight pieces of tube, or None where a crossing is longer than its path allows.

    Args:
        ground: The framed ground.
        lines: Straight line strings, shape (n,) [mm].

    Returns:
        One entry a line, crossings in the order of path names.
    """
    found: list[tuple[Crossing, ...] | None] = [()] * len(lines)
    for i in np.flatnonzero(meets_inside(ground.path_area, lines)):
        found[i] = _crossings(ground, lines[i])
    return found


def _crossings(ground: FramedGround, line: LineString) -> tuple[Crossing, ...] | None:
    found: list[Crossing] = []
    for piece in _pieces(line.intersection(ground.path_area)):
        if not meets_inside(ground.path_area, np.array([piece], dtype=object))[0]:
            continue  # this piece only runs along the outer edge
        inside = [row for row in ground.paths if meets_inside(row[1], np.array([piece], dtype=object))[0]]
        # on the seam of two paths a tube is inside neither, but still under the first of them
        for name, outline, limit_mm in inside or [row for row in ground.paths if row[1].covers(piece)][:1]:
            for part in _pieces(piece.intersection(outline)):
                if part.length > limit_mm + 0.5:
                    return None
                found.append(_crossing(ground.frame, name, part))
    return tuple(sorted(found))


def _crossing(frame: Frame, name: str, part: LineString) -> Crossing:
    middle = shapely.get_coordinates(part).mean(axis=0)
    x_m, y_m = frame.to_m((round(middle[0]), round(middle[1])))
    return Crossing(name, (x_m, y_m), int(np.ceil(round(part.length, 3))))


def _pieces(geometry: BaseGeometry) -> list[LineString]:
    """Pieces of a straight intersection longer than half a millimetre, joined where they only touch."""
    merged = shapely.line_merge(geometry) if geometry.geom_type == "MultiLineString" else geometry
    return [part for part in shapely.get_parts(merged) if part.geom_type == "LineString" and part.length > 0.5]


def segments(pairs: Sequence[tuple[PointMm, PointMm]]) -> npt.NDArray[np.object_]:
    """Straight line strings between pairs of points, shape (n,)."""
    coords = np.array(pairs, dtype=float).reshape(-1, 2, 2)
    return np.asarray(shapely.linestrings(coords), dtype=object).reshape(-1)


def distinct_places(source: PointMm, terminals: Sequence[PointMm]) -> tuple[PointMm, ...]:
    """Source first, then the terminals, refusing an empty list of terminals."""
    if not terminals:
        raise GroundError("a route needs at least one terminal")
    return (source, *terminals)
