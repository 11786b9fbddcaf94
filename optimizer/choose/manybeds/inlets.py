"""Where mainline may come to a header: places on the edge of the bed, and the way from there to a take-off."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from shapely.geometry import LineString, Polygon
from shapely.geometry import Point as Place

from optimizer.geometry import Point
from optimizer.problem.case import BlockLayout, Case, HeaderLine, running_um
from optimizer.scenario.outlines import corners
from optimizer.site import SiteShapes
from optimizer.units import micrometres

APART_M = 1.0
"""between the ends of a header it is fed only at places this far from others at which it is [m]"""

OUT_M = 0.004
"""a way into a bed is at least so long [m]"""

_NEAR_M = 1e-6


@dataclass(frozen=True)
class Inlet:
    """A way into a bed to a header.

    Args:
        vertex: the header vertex it leads to.
        points: from the edge of the bed to the vertex [m].
        length_um: tube needed, with the rise into a raised bed [um].
        rise_um: that rise [um].
    """

    vertex: int
    points: tuple[Point, ...]
    length_um: int
    rise_um: int

    @property
    def portal(self) -> Point:
        """The place on the edge of the bed."""
        return self.points[0]


def inlets(case: Case, header: int) -> tuple[Inlet, ...]:
    """Return the ways to a header: past its ends, and where it stands at the row ends also from beside it.

    From beside it is reached at its first and last take-off and, where these are not near, at the middle one and the
    one nearest the supply.

    Args:
        case: the layout of its block.
        header: which of its headers.
    """
    layout, line = case.layout, case.layout.headers[header]
    rise = micrometres(layout.raised)
    found: dict[tuple[int, int], Inlet] = {}
    for vertex, toward in _directions(layout, line, case.shapes.source_at):
        way = _to_the_edge(layout, case.shapes, line, vertex, toward)
        if way is not None:
            inlet = Inlet(vertex, way, running_um(way)[-1] + rise, rise)
            found.setdefault((round(1000 * way[0][0]), round(1000 * way[0][1])), inlet)
    return tuple(found.values())


def _directions(layout: BlockLayout, line: HeaderLine, source: Point) -> Iterator[tuple[int, Point]]:
    """Yield header vertices with a direction in which tube may leave the bed from there."""
    last = len(line.points) - 1
    across = _unit(layout, (0.0, 1.0))
    yield 0, _away(line.points, 1, 0) if last else (-across[0], -across[1])
    yield last, _away(line.points, last - 1, last) if last else across
    side = _side(layout, line)
    if side:
        outward = _unit(layout, (float(side), 0.0))
        yield from ((vertex, outward) for vertex in _spread(line, source))


def _spread(line: HeaderLine, source: Point) -> list[int]:
    """Return the vertices at which a header is fed from beside it."""
    last = len(line.points) - 1
    nearest = min(range(last + 1), key=lambda index: (round(math.dist(line.points[index], source), 6), index))
    found = list(dict.fromkeys((0, last)))
    for vertex in ((last + 1) // 2, nearest):
        if all(math.dist(line.points[vertex], line.points[other]) >= APART_M for other in found):
            found.append(vertex)
    return found


def _side(layout: BlockLayout, line: HeaderLine) -> int:
    """Return on which side of a header there are no rows: -1 or 1 along them, 0 where rows lie on both sides."""
    sides = {-1, 1}
    for point, (row, number) in zip(line.points, line.keys, strict=True):
        u = layout.frame.to_frame(point)[0]
        stretches = layout.plan.rows[row].lines[number].stretches
        if u > stretches[0][0] + _NEAR_M:
            sides.discard(-1)
        if u < stretches[-1][1] - _NEAR_M:
            sides.discard(1)
    return min(sides, default=0)


def _unit(layout: BlockLayout, direction: tuple[float, float]) -> Point:
    """Return a direction of the row frame on the plan."""
    return layout.frame.to_plan(direction)


def _away(points: tuple[Point, ...], start: int, end: int) -> Point:
    (x0, y0), (x1, y1) = points[start], points[end]
    size = math.dist((x0, y0), (x1, y1))
    return ((x1 - x0) / size, (y1 - y0) / size)


def _to_the_edge(
    layout: BlockLayout, shapes: SiteShapes, line: HeaderLine, vertex: int, toward: Point
) -> tuple[Point, ...] | None:
    """Return the way from the bed's edge straight to a header vertex, None where something is in the way."""
    at = line.points[vertex]
    outline = Polygon(corners(layout.beds[layout.bed_of(line.rows[vertex])]))
    low_x, low_y, high_x, high_y = outline.bounds
    reach = math.dist((low_x, low_y), (high_x, high_y)) + 1.0
    ray = LineString([at, (at[0] + reach * toward[0], at[1] + reach * toward[1])])
    met = ray.intersection(outline.exterior)
    if met.is_empty or not outline.covers(Place(at)):
        return None
    away = min(Place(at).distance(Place(point)) for part in _parts(met) for point in part.coords)
    edge = (at[0] + away * toward[0], at[1] + away * toward[1])
    if away < OUT_M:
        # A header on the edge of its bed is reached from just outside: mainline that branches there needs a place.
        edge = (at[0] + OUT_M * toward[0], at[1] + OUT_M * toward[1])
    return (edge, at) if shapes.tube_allowed((edge, at)) else None


def _parts(shape: object) -> list[LineString]:
    return list(getattr(shape, "geoms", [shape]))
