"""What a mainline may and may not do on the ground, and the integer-millimetre frame it is worked out in."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeVar

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from optimizer.errors import DripLayoutError

PointM = tuple[float, float]
PointMm = tuple[int, int]
Geometry = TypeVar("Geometry", bound=BaseGeometry)

SLIT_MM = 2  # two ends a grower draws as touching are closed when they miss each other by no more than this
REACH_MM = 5  # how far a barrier that runs up to a keep-out or the plot edge is carried past it


class GroundError(DripLayoutError):
    """The ground itself is described wrongly: an invalid outline, a terminal where no tube may lie."""

    exit_code = 2


class NoRouteError(DripLayoutError):
    """The ground is sound, but no tube can reach what it has to."""

    exit_code = 4


@dataclass(frozen=True)
class GardenPath:
    """A path that tube may cross, never run along.

    A crossing is one straight piece of tube with no bend or tee under the path.

    Args:
        name: How crossings of this path are reported.
        outline: The trodden area [m].
        longest_crossing_m: Longest piece of tube allowed under the path; None sets no limit [m].
    """

    name: str
    outline: Polygon
    longest_crossing_m: float | None = None


@dataclass(frozen=True)
class Ground:
    """Everything a tube must respect; closed sets, so running on an edge is always allowed.

    Args:
        keep_outs: Areas whose inside no tube enters [m].
        barriers: Lines no tube crosses; an opening is a gap between two lines. Tube may run along them [m].
        paths: Areas that may be crossed at a price.
        guides: Outlines (beds, terraces) tube likes to follow; they add lines and forbid nothing [m].
        region: Area no tube leaves; None for no limit [m].
        smallest_corner_rad: Outlines turning by less than this at a vertex count as curved there: only the outermost
            points of the curve get a line of their own. 0 gives every vertex its lines [rad].
    """

    keep_outs: tuple[Polygon, ...] = ()
    barriers: tuple[LineString, ...] = ()
    paths: tuple[GardenPath, ...] = ()
    guides: tuple[Polygon | LineString, ...] = ()
    region: Polygon | MultiPolygon | None = None
    smallest_corner_rad: float = math.radians(20.0)


@dataclass(frozen=True)
class Frame:
    """A turned coordinate frame on a 1 mm grid, in which all geometry is exact.

    Args:
        axis_rad: Direction of the frame's first axis, counter-clockwise from the plot's x axis [rad].
    """

    axis_rad: float = 0.0

    def to_mm(self, points: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """Coordinates in the frame, rounded to whole millimetres.

        Args:
            points: Plot coordinates, shape (n, 2) [m].

        Returns:
            Frame coordinates, shape (n, 2), every value a whole number [mm].
        """
        xy = np.asarray(points, dtype=float).reshape(-1, 2) * 1000.0
        cos, sin = math.cos(self.axis_rad), math.sin(self.axis_rad)
        turned = np.column_stack((xy[:, 0] * cos + xy[:, 1] * sin, xy[:, 1] * cos - xy[:, 0] * sin))
        return np.rint(turned) + 0.0

    def to_m(self, point: PointMm) -> PointM:
        """Plot coordinates of a frame point.

        Args:
            point: Frame coordinates [mm].

        Returns:
            Plot coordinates [m].
        """
        cos, sin = math.cos(self.axis_rad), math.sin(self.axis_rad)
        x, y = point
        return ((x * cos - y * sin) / 1000.0, (x * sin + y * cos) / 1000.0)

    def points(self, points: Iterable[PointM]) -> tuple[PointMm, ...]:
        """The given points as whole-millimetre pairs [mm]."""
        rows = list(points)
        if not all(len(p) == 2 and all(math.isfinite(c) for c in p) for p in rows):
            raise GroundError("every source and terminal needs two finite coordinates")
        return tuple((int(x), int(y)) for x, y in self.to_mm(rows)) if rows else ()

    def shape(self, geometry: Geometry, name: str) -> Geometry:
        """The geometry in this frame, refused when it is empty or not valid (it is never repaired)."""
        if geometry.is_empty or not geometry.is_valid:
            raise GroundError(f"{name}: {shapely.is_valid_reason(geometry)}")
        turned: Geometry = shapely.transform(geometry, self.to_mm)
        if not turned.is_valid:
            raise GroundError(f"{name} is not valid on a 1 mm grid: {shapely.is_valid_reason(turned)}")
        return turned


@dataclass(frozen=True)
class FramedGround:
    """A ground in the millimetre frame: keep-outs and all beyond the region united, barriers cut to single segments."""

    frame: Frame
    closed: BaseGeometry
    barriers: tuple[tuple[PointMm, PointMm], ...]
    rims: tuple[tuple[PointMm, PointMm], ...]  # edges of the closed area, tube to the right of each
    paths: tuple[tuple[str, Polygon, float], ...]  # name, outline, longest crossing [mm]
    path_area: BaseGeometry
    region: BaseGeometry | None
    corners: tuple[PointMm, ...]


def framed(ground: Ground, frame: Frame) -> FramedGround:
    """The ground on the frame's 1 mm grid.

    Args:
        ground: What tube must respect.
        frame: Direction of the axes.

    Returns:
        The same ground in whole millimetres, with the corners that deserve grid lines, sorted.

    Raises:
        GroundError: An outline is not valid, or two paths share a name.
    """
    names = [path.name for path in ground.paths]
    if len(set(names)) != len(names):
        raise GroundError(f"two paths share a name: {sorted(n for n in set(names) if names.count(n) > 1)}")
    keep_outs = [frame.shape(shape, f"keep-out {i + 1}") for i, shape in enumerate(ground.keep_outs)]
    paths = sorted(
        (path.name, frame.shape(path.outline, f"path {path.name}"), _crossing_limit_mm(path)) for path in ground.paths
    )
    guides = [frame.shape(shape, f"guide {i + 1}") for i, shape in enumerate(ground.guides)]
    region = None if ground.region is None else frame.shape(ground.region, "allowed region")
    closed = shapely.unary_union(keep_outs if region is None else [*keep_outs, _outside(region, keep_outs)])
    barriers = _barrier_lines(ground, frame, closed)
    outlines: list[BaseGeometry] = [*keep_outs, *(p[1] for p in paths), *guides, *([] if region is None else [region])]
    corners = {corner for shape in outlines for corner in _corners(shape, ground.smallest_corner_rad)}
    corners.update(point for line in barriers for point in line)
    segments = {(min(a, b), max(a, b)) for line in barriers for a, b in pairwise(line) if a != b}
    return FramedGround(
        frame,
        closed,
        tuple(sorted(segments)),
        _rims(closed),
        tuple(paths),
        shapely.unary_union([p[1] for p in paths]),
        region,
        tuple(sorted(corners)),
    )


def check_place(ground: FramedGround, point: PointMm, name: str) -> None:
    """Refuse a source or terminal where no tube may lie.

    Args:
        ground: The framed ground.
        point: Where it stands [mm].
        name: What to call it in the message.

    Raises:
        GroundError: It is inside a keep-out or outside the allowed region.
    """
    where = Point(point)
    x_m, y_m = ground.frame.to_m(point)
    if ground.region is not None and not ground.region.covers(where):
        raise GroundError(f"{name} at ({x_m:.3f} m, {y_m:.3f} m) is outside the area tube may use")
    if ground.closed.contains(where):
        on_edge = ground.region is not None and ground.region.boundary.intersects(where)
        why = "shut in between the plot's edge and" if on_edge else "inside"
        raise GroundError(f"{name} at ({x_m:.3f} m, {y_m:.3f} m) is {why} an area that tube must keep out of")


def _crossing_limit_mm(path: GardenPath) -> float:
    if path.longest_crossing_m is None:
        return math.inf
    if not path.longest_crossing_m > 0:
        raise GroundError(f"path {path.name}: the longest crossing must be more than 0 m")
    return path.longest_crossing_m * 1000.0


def _outside(region: BaseGeometry, others: Sequence[BaseGeometry]) -> BaseGeometry:
    """All that lies beyond the allowed region, as far as anything here reaches."""
    x0, y0, x1, y1 = shapely.total_bounds(np.array([region, *others], dtype=object))
    beyond: BaseGeometry = box(x0 - 1000, y0 - 1000, x1 + 1000, y1 + 1000).difference(region)
    return beyond


def _barrier_lines(ground: Ground, frame: Frame, closed: BaseGeometry) -> list[list[PointMm]]:
    """Barriers in millimetres without the slits that rounding, or drawing by hand, leaves where they meet things."""
    lines = []
    for i, barrier in enumerate(ground.barriers):
        line = frame.shape(barrier, f"barrier {i + 1}")
        lines.append([(int(x), int(y)) for x, y in line.coords])
    for i in range(len(lines)):
        for end in (lines[i][0], lines[i][-1]):
            for j in range(len(lines)):
                if i != j:
                    lines[j] = _passing_through(lines[j], end)
    return [_carried_past(line, closed) for line in lines]


def _passing_through(line: list[PointMm], point: PointMm) -> list[PointMm]:
    """The line, bent by at most `SLIT_MM` so that it passes exactly through a point it all but touches."""
    where = Point(point)
    if point in line or LineString(line).distance(where) > SLIT_MM:
        return line
    gaps = [LineString(pair).distance(where) for pair in pairwise(line)]
    k = gaps.index(min(gaps))
    if LineString(line).project(where) <= 0.0:
        return [point, *line]
    if LineString(line).project(where) >= LineString(line).length:
        return [*line, point]
    return [*line[: k + 1], point, *line[k + 1 :]]


def _carried_past(line: list[PointMm], closed: BaseGeometry) -> list[PointMm]:
    """The line with each end that runs up to a closed area carried into it, so that no tube slips round the end."""
    for _ in range(2):
        line = line[::-1]
        (x0, y0), (x1, y1) = line[-2], line[-1]
        scale = REACH_MM / math.hypot(x1 - x0, y1 - y0)
        beyond = (x1 + round((x1 - x0) * scale), y1 + round((y1 - y0) * scale))
        if closed.contains(Point(beyond)):
            line = [*line, beyond]
    return line


def _rims(closed: BaseGeometry) -> tuple[tuple[PointMm, PointMm], ...]:
    """Edges of the closed area, each running so that tube may lie on its right."""
    rims: set[tuple[PointMm, PointMm]] = set()
    for part in shapely.get_parts(closed):
        turned = orient(part)
        for ring in (turned.exterior, *turned.interiors):
            points = [(round(x), round(y)) for x, y in ring.coords]
            rims.update((a, b) for a, b in pairwise(points) if a != b)
    return tuple(sorted(rims))


def _corners(shape: BaseGeometry, smallest_rad: float) -> list[PointMm]:
    """Vertices of an outline that deserve grid lines: true corners, and the outermost points of curves."""
    found: list[PointMm] = []
    for part in shapely.get_parts(shape):
        rings = [part.exterior, *part.interiors] if isinstance(part, Polygon) else [part]
        for ring in rings:
            xy = shapely.get_coordinates(ring)
            keep = _ring_corners(xy[:-1], smallest_rad) if isinstance(part, Polygon) else np.ones(len(xy), dtype=bool)
            found.extend((int(x), int(y)) for x, y in (xy[:-1] if isinstance(part, Polygon) else xy)[keep])
    return found


def _ring_corners(xy: npt.NDArray[np.float64], smallest_rad: float) -> npt.NDArray[np.bool_]:
    before, after = xy - np.roll(xy, 1, axis=0), np.roll(xy, -1, axis=0) - xy
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.abs(np.arctan2(cross, (before * after).sum(axis=1)))
    # at a local extreme the outline stops going one way along an axis; flat stretches count at both their ends
    extreme = ((before * after <= 0) & ((before != 0) | (after != 0))).any(axis=1)
    keep: npt.NDArray[np.bool_] = (turn > 0) & ((turn >= smallest_rad) | extreme)
    return keep
