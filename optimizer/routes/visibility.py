"""The straight-shot candidate graph: tube pulled taut between terminals, corners of areas and ends of barriers.

The cheapest way between two places past polygons bends only at polygon corners (Lozano-Perez and Wesley, An algorithm
for planning collision-free paths among polyhedral obstacles, Commun. ACM 22, 1979), so point to point the graph holds a
shortest tube. Trees on it branch only at terminals and corners.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import isqrt

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
    return _graph(area, spots, places, sides)


def _places(area: FramedGround, spots: Sequence[PointMm]) -> list[PointMm]:
    """Terminals and the corners tube may touch, sorted; under a path it neither bends nor branches."""
    corners = np.array(area.corners, dtype=float).reshape(-1, 2)
    allowed = ~shapely.contains_xy(area.closed, corners) & ~shapely.contains_xy(area.path_area, corners)
    return sorted(set(spots) | {area.corners[i] for i in np.flatnonzero(allowed)})


def _graph(
    area: FramedGround, spots: Sequence[PointMm], places: Sequence[PointMm], sides: Sequence[Sides]
) -> GroundGraph:
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
    return assembled(area.frame, nodes, edges, ids[0], ids[1:])


def _length_mm(p: PointMm, q: PointMm) -> int:
    square = (p[0] - q[0]) ** 2 + (p[1] - q[1]) ** 2
    root = isqrt(square)
    return root + (root * root < square)
