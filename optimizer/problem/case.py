"""One design of one block as exact lengths: what is laid if these choices are made, whatever the zones."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate, pairwise

import shapely

from optimizer.feeds import Feed, HeaderPlace, LateralShape
from optimizer.feeds.places import reach
from optimizer.geometry import Frame, Point
from optimizer.hydraulics import Fluid
from optimizer.hydraulics.assembly import HeadAssembly
from optimizer.routes.graph import RoutePrice
from optimizer.routes.ground import Ground as TubeGround
from optimizer.routes.shortest import shortest_route
from optimizer.routes.visibility import visibility_graph
from optimizer.rows import RowField, RowPlan, metres_wanted
from optimizer.scenario.schema import Bed, BlankTube, Crop, EmitterLine, Regulator, Scenario
from optimizer.site import SiteShapes
from optimizer.units import Display, System, micrometres

_TUBE_STEP_UM = {System.METRIC: 100_000, System.US: 152_400}  # blank tube is cut on whole 10 cm or 6 in


@dataclass(frozen=True)
class Approach:
    """How the mainline reaches a header."""

    vertex: int
    """index of the header vertex it arrives at"""
    points: tuple[Point, ...]
    length_um: int
    """with the rise"""
    rise_um: int = 0
    """how far it climbs at its end, from the ground to the soil of a raised bed"""


@dataclass(frozen=True)
class HeaderLine:
    """A header's way across all rows of its bed, from the end nearest the tap."""

    points: tuple[Point, ...]
    """plan coordinates of its vertices [m]"""
    rows: tuple[int, ...]
    """row of each vertex"""
    keys: tuple[tuple[int, int], ...]
    """(row, line of the row) of each vertex"""
    distance_um: tuple[int, ...]
    """running distance of each vertex"""
    approach: Approach

    def vertices(self, run: Run) -> tuple[int, int]:
        """Return the first and last vertex of a run."""
        return bisect_left(self.rows, run.first), bisect_right(self.rows, run.last) - 1

    def inlet(self, run: Run) -> int:
        """Return the vertex at which a run is fed: where the mainline arrives, or its end nearest to that."""
        first, last = self.vertices(run)
        return min(max(self.approach.vertex, first), last)

    def between(self, start: int, end: int) -> tuple[Point, ...]:
        """Return the vertices from one to another, either way [m]."""
        step = 1 if end >= start else -1
        return tuple(self.points[vertex] for vertex in range(start, end + step, step))

    def span_um(self, first: int, last: int) -> int:
        """Return the length of header between two vertices [um]."""
        return abs(self.distance_um[last] - self.distance_um[first])


@dataclass(frozen=True, order=True)
class Run:
    """Neighbouring rows on one header that make a zone."""

    header: int
    first: int
    last: int


@dataclass(frozen=True, eq=False)
class BlockLayout:
    """Rows and headers of a block, before products are chosen: one bed, or several in a line that share their headers.

    Rows name their crop by its number among the crops of all beds of the block.
    """

    beds: tuple[Bed, ...]
    fields: tuple[RowField, ...]
    """row places of each bed, in one common frame"""
    plan: RowPlan
    places: tuple[HeaderPlace, ...]
    headers: tuple[HeaderLine, ...]

    @property
    def frame(self) -> Frame:
        """The frame of the rows."""
        return self.fields[0].frame

    @cached_property
    def crops(self) -> tuple[Crop, ...]:
        """Crops of all beds, bed after bed."""
        return tuple(crop for bed in self.beds for crop in bed.crops)

    @cached_property
    def crop_beds(self) -> tuple[int, ...]:
        """Number of the bed of each crop."""
        return tuple(number for number, bed in enumerate(self.beds) for _ in bed.crops)

    def bed_of(self, row: int) -> int:
        """Return the number of the bed a row stands in."""
        return self.crop_beds[self.plan.rows[row].crop]

    @property
    def raised(self) -> float:
        """Height of the soil above the ground; beds that share headers have the same [m]."""
        return self.beds[0].raised


def place_names(layout: BlockLayout, display: Display) -> tuple[str, ...]:
    """Return what the header places of a block are called."""
    low, _ = reach(layout.plan)
    return tuple(place.name(low, display) for place in layout.places)


@dataclass(frozen=True, eq=False)
class Case:
    """A design: rows, header places, emitter line, blank tube and regulator."""

    scenario: Scenario
    shapes: SiteShapes
    layout: BlockLayout
    feed: Feed
    line: EmitterLine
    tube: BlankTube
    regulator: Regulator | None
    assembly: HeadAssembly
    fluid: Fluid

    @property
    def row_count(self) -> int:
        """Number of rows."""
        return len(self.layout.plan.rows)

    @property
    def missing_ppm(self) -> int:
        """Missing share of the requests, stretches of row no tube can be led to taken from what was asked in metres."""
        return self.layout.plan.missing_ppm + sum(self._dry_ppm(index) for index in self._crops_with_dry())

    def _crops_with_dry(self) -> tuple[int, ...]:
        rows = self.layout.plan.rows
        return tuple(sorted({rows[row].crop for row, _, _ in self.feed.dropped}))

    def _dry_ppm(self, index: int) -> int:
        """Return by how much stretches without water add to the missing share of a crop's request."""
        crop, rows = self.layout.crops[index], self.layout.plan.rows
        wanted = metres_wanted(crop)
        if not wanted:
            return 0
        planted = sum(row.planted_m for row in rows if row.crop == index)
        dry = sum(lost / len(rows[row].lines) for row, lost, _ in self.feed.dropped if rows[row].crop == index)
        before, after = (max(wanted - metres, 0.0) / wanted for metres in (planted, planted - dry))
        return round(1_000_000 * (after - before))

    @property
    def tube_step_um(self) -> int:
        """Blank tube is cut on whole multiples of this [um]."""
        step = self.scenario.limits.tube_step
        return micrometres(step) if step is not None else _TUBE_STEP_UM[self.scenario.units]

    def tube_units(self, length_um: int) -> int:
        """Return a length of blank tube in whole cutting units, rounded up, at least one."""
        return max(-(-length_um // self.tube_step_um), 1)

    def lateral_ways(self, lateral: LateralShape) -> tuple[tuple[Point, ...], ...]:
        """Return the lines a lateral lies on, on the plan: each stretch of emitter line and each bypass."""
        v = self.layout.plan.rows[lateral.row].lines[lateral.line].v
        ways: list[tuple[Point, ...]] = []
        for part in lateral.parts:
            ways += [part.bypass.points] if part.bypass is not None else []
            end = part.u + lateral.side * part.spacings * self.line.spacing
            ways.append((self.layout.frame.to_plan((part.u, v)), self.layout.frame.to_plan((end, v))))
        return tuple(ways)

    def run_laterals(self, run: Run) -> list[int]:
        """Return the indices of the laterals a run feeds."""
        return [
            index
            for index, lateral in enumerate(self.feed.laterals)
            if lateral.header == run.header and run.first <= lateral.row <= run.last
        ]


def with_tails(points: tuple[Point, ...], tail_m: float, way: tuple[Point, ...]) -> tuple[Point, ...]:
    """Return a header's line carried on by its tails; a header of one take-off runs like its bed's header."""
    if len(points) > 1:
        start, end = _beyond(points[1], points[0], tail_m), _beyond(points[-2], points[-1], tail_m)
        return (start, *points, end)
    at = points[0]
    index = way.index(at)
    if index + 1 < len(way):
        start = _beyond(way[index + 1], at, tail_m)
        return (start, at, _beyond(start, at, tail_m))
    before = way[index - 1] if index else (at[0], at[1] - 1.0)
    end = _beyond(before, at, tail_m)
    return (_beyond(end, at, tail_m), at, end)


def _beyond(start: Point, end: Point, length_m: float) -> Point:
    reach = math.dist(start, end)
    if reach == 0.0:
        return end
    share = length_m / reach
    return (end[0] + share * (end[0] - start[0]), end[1] + share * (end[1] - start[1]))


def running_um(points: Sequence[Point]) -> tuple[int, ...]:
    """Return the running distance of each point of a line [um]."""
    return tuple(accumulate((micrometres(math.dist(a, b)) for a, b in pairwise(points)), initial=0))


def tube_ground(shapes: SiteShapes) -> TubeGround:
    """Return what a mainline must respect."""
    return TubeGround(
        keep_outs=tuple(shapely.get_parts(shapes.no_tube)),
        barriers=tuple(shapely.get_parts(shapes.barriers)),
        smallest_corner_rad=0.0,
    )


def approach(shapes: SiteShapes, points: Sequence[Point], raised_m: float) -> Approach:
    """Return the shortest way of tube from the supply to the nearest vertex of a header.

    Args:
        shapes: the site.
        points: vertices of the header [m].
        raised_m: height of the bed above the ground [m].

    Raises:
        NoRouteError: tube cannot reach the header.
    """
    source = shapes.source_at
    nearest = min(range(len(points)), key=lambda index: (round(math.dist(points[index], source), 6), index))
    rise_um = micrometres(raised_m)
    straight = (source, points[nearest])
    if not shapes.tube_allowed(straight):
        vertex, way = _routed(shapes, points)
        return Approach(vertex, way, running_um(way)[-1] + rise_um, rise_um)
    return Approach(nearest, straight, micrometres(math.dist(*straight)) + rise_um, rise_um)


def _routed(shapes: SiteShapes, points: Sequence[Point]) -> tuple[int, tuple[Point, ...]]:
    """Return the shortest of the ways to the vertices when something stands in the straight one."""
    graph = visibility_graph(tube_ground(shapes), shapes.source_at, list(points))
    routes = [shortest_route(graph, RoutePrice(), terminal) for terminal in range(len(points))]
    best = min(range(len(points)), key=lambda index: (routes[index].length_mm, index))
    return best, (shapes.source_at, *routes[best].points[1:-1], points[best])
