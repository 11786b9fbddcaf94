"""The straight-shot candidate graph: tube pulled taut between terminals, corners of areas and ends of barriers.

The cheapest way between two places past polygons bends only at polygon corners (Lozano-Perez and Wesley, An algorithm
for planning collision-free paths among polyhedral obstacles, Commun. ACM 22, 1979), so point to point the graph holds a
shortest tube. Trees on it branch only at terminals and corners.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, pairwise
from math import gcd, isqrt

import numpy as np
import shapely

from optimizer.routes.barriers import Sides, contacts, edge_copies, sides_at
from optimizer.routes.graph import (
    GraphEdge,
    GroundGraph,
    assembled,
    crossings_of,
    distinct_places,
    meets_inside,
    reachable,
    segments,
)
from optimizer.routes.ground import Frame, FramedGround, Ground, GroundError, PointM, PointMm, check_place, framed


def visibility_graph(ground: Ground, source: PointM, terminals: Sequence[PointM]) -> GroundGraph:
    """Graph of all straight pieces of tube between terminals and corners that see each other.

    Args:
        ground: What tube must respect; its `guides` play no part here [m].
        source: Where the mainline starts [m].
        terminals: Header inlets to reach [m].

    Returns:
        The part of the graph that the source can reach; lengths rounded up to whole millimetres.

    Raises:
        GroundError: An outline is not valid, or a terminal stands where tube may not lie or on a barrier.
        NoRouteError: Some terminal cannot be reached.
    """
    bare = Ground(ground.keep_outs, ground.barriers, ground.paths, (), ground.region, ground.smallest_corner_rad)
    area = framed(bare, Frame())
    spots = distinct_places(area.frame.points([source])[0], area.frame.points(terminals))
    for k, spot in enumerate(spots):
        check_place(area, spot, f"terminal {k}" if k else "the source")
    places = _places(area, spots)
    sides = [sides_at(place, area.barriers, area.rims) for place in places]
    for k, spot in enumerate(spots):
        if sides[places.index(spot)].count > 1:
            x_m, y_m = area.frame.to_m(spot)
            name = f"terminal {k}" if k else "the source"
            raise GroundError(f"{name} at ({x_m:.3f} m, {y_m:.3f} m) is on a barrier: move it to the side it is on")
    return _graph(area, spots, places, sides)[0]


def reached_graph(
    ground: Ground, source: PointM, places: Sequence[PointM]
) -> tuple[GroundGraph, tuple[int | None, ...]]:
    """The same graph for places of which some may not be reached.

    Args:
        ground: What tube must respect [m].
        source: Where the mainline starts [m].
        places: Places to reach [m].

    Returns:
        The graph, with those places as terminals that tube can reach, and the node of each place; None for a place
        where no tube may lie, on a barrier, or cut off.

    Raises:
        GroundError: An outline is not valid, or the source stands where tube may not lie or on a barrier.
    """
    bare = Ground(ground.keep_outs, ground.barriers, ground.paths, (), ground.region, ground.smallest_corner_rad)
    area = framed(bare, Frame())
    start = area.frame.points([source])[0]
    check_place(area, start, "the source")
    spots = [spot if _may_stand(area, spot) else None for spot in area.frame.points(places)]
    kept = [start, *dict.fromkeys(spot for spot in spots if spot is not None)]
    nodes = _places(area, kept)
    sides = [sides_at(place, area.barriers, area.rims) for place in nodes]
    if sides[nodes.index(start)].count > 1:
        raise GroundError("the source is on a barrier: move it to the side it is on")
    on_barrier = {place for place, side in zip(nodes, sides, strict=True) if side.count > 1}
    graph, numbers = _graph(area, [spot for spot in kept if spot not in on_barrier], nodes, sides, keep_lost=True)
    number = dict(zip((spot for spot in kept if spot not in on_barrier), numbers, strict=True))
    return graph, tuple(number.get(spot) if spot is not None else None for spot in spots)


def _may_stand(area: FramedGround, spot: PointMm) -> bool:
    try:
        check_place(area, spot, "the place")
    except GroundError:
        return False
    return True


def _places(area: FramedGround, spots: Sequence[PointMm]) -> list[PointMm]:
    """Terminals and the corners tube may touch, sorted; under a path it neither bends nor branches."""
    corners = np.array(area.corners, dtype=float).reshape(-1, 2)
    allowed = ~shapely.contains_xy(area.closed, corners) & ~shapely.contains_xy(area.path_area, corners)
    return sorted(set(spots) | {area.corners[i] for i in np.flatnonzero(allowed)})


def _graph(
    area: FramedGround,
    spots: Sequence[PointMm],
    places: Sequence[PointMm],
    sides: Sequence[Sides],
    keep_lost: bool = False,
) -> tuple[GroundGraph, tuple[int | None, ...]]:
    """The graph, and the node of each spot; where lost spots are kept theirs is None, else they are an error."""
    first = np.concatenate(([0], np.cumsum([s.count for s in sides]))).tolist()
    pairs = list(combinations(range(len(places)), 2))
    lines = segments([(places[i], places[j]) for i, j in pairs])
    free = np.flatnonzero(~meets_inside(area.closed, lines))
    edges: list[GraphEdge] = []
    meets = contacts(lines[free], area.barriers)
    for k, contact, crossings in zip(free.tolist(), meets, crossings_of(area, lines[free]), strict=True):
        i, j = pairs[k]
        if crossings is None:
            continue
        length_mm = _length_mm(places[i], places[j])
        for s, t in edge_copies(places[i], places[j], sides[i], sides[j], contact):
            edges.append(GraphEdge(first[i] + s, first[j] + t, length_mm, crossings))
    nodes = [place for place, side in zip(places, sides, strict=True) for _ in range(side.count)]
    ids = [first[places.index(spot)] for spot in spots]
    if not keep_lost:
        graph = assembled(area.frame, nodes, edges, ids[0], ids[1:])
        return graph, (graph.source, *graph.terminals)
    edges = without_longer(nodes, edges)
    reached = reachable(len(nodes), edges, ids[0])
    graph = assembled(area.frame, nodes, edges, ids[0], [number for number in ids[1:] if reached[number]])
    found = iter((graph.source, *graph.terminals))
    return graph, tuple(next(found) if reached[number] else None for number in ids)


def without_longer(nodes: Sequence[PointMm], edges: Sequence[GraphEdge]) -> list[GraphEdge]:
    """Edges without those that two shorter ones in line with them replace at no loss.

    Args:
        nodes: Node coordinates [mm].
        edges: Edges between node numbers.

    Returns:
        Fewer edges; every way and every tree of the edges given has one of the same length and crossings among them.
    """
    between = {_pair(edge.start, edge.end): edge for edge in edges}
    ahead: list[dict[PointMm, list[tuple[int, int]]]] = [{} for _ in nodes]
    for edge in edges:
        for start, end in ((edge.start, edge.end), (edge.end, edge.start)):
            ahead[start].setdefault(_direction(nodes[start], nodes[end]), []).append((edge.length_mm, end))
    kept = set(between.values())
    for start, row in enumerate(ahead):
        for in_line in row.values():
            for (_, middle), (_, end) in pairwise(sorted(in_line)):
                whole, rest = between[_pair(start, end)], between.get(_pair(middle, end))
                if rest is not None and _adds_up(whole, between[_pair(start, middle)], rest):
                    kept.discard(whole)
    return [edge for edge in edges if edge in kept]


def _pair(a: int, b: int) -> tuple[int, int]:
    return (a, b) if a < b else (b, a)


def _direction(p: PointMm, q: PointMm) -> PointMm:
    dx, dy = q[0] - p[0], q[1] - p[1]
    step = gcd(dx, dy) or 1
    return dx // step, dy // step


def _adds_up(whole: GraphEdge, one: GraphEdge, two: GraphEdge) -> bool:
    """Say whether two edges are together as long as a third and cross the same paths."""
    same_crossings = sorted((*one.crossings, *two.crossings)) == sorted(whole.crossings)
    return one.length_mm + two.length_mm == whole.length_mm and same_crossings


def _length_mm(p: PointMm, q: PointMm) -> int:
    square = (p[0] - q[0]) ** 2 + (p[1] - q[1]) ** 2
    root = isqrt(square)
    return root + (root * root < square)
