"""Plane geometry in metres: outlines, the row frame of a bed, and the chords rows lie on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.validation import explain_validity

Point = tuple[float, float]

GRID_M = 1e-3
"""places on the plan are distinct from one millimetre on [m]"""


def outline_fault(points: Sequence[Point]) -> str | None:
    """Say what is wrong with the corners of an outline, or None if they make a simple polygon."""
    if len(set(points)) < 3:
        return "an outline needs at least three different corners"
    polygon = Polygon(points)
    if not polygon.is_valid:
        reason = explain_validity(polygon)
        place = reason[reason.find("[") + 1 : reason.find("]")] if "[" in reason else ""
        where = f" near x, y = {', '.join(f'{float(part):.2f} m' for part in place.split())}" if place else ""
        return f"the outline crosses or touches itself{where}; list the corners in order around the edge"
    if polygon.area < GRID_M:
        return "the outline encloses no area"
    return None


def rectangle(width_m: float, depth_m: float, at: Point, turned: float) -> tuple[Point, ...]:
    """Return the corners of a rectangle whose first corner lies at `at`.

    Args:
        width_m: size along x before turning [m].
        depth_m: size along y before turning [m].
        at: first corner [m].
        turned: anticlockwise turn about that corner [rad].
    """
    cos, sin = math.cos(turned), math.sin(turned)
    corners = ((0.0, 0.0), (width_m, 0.0), (width_m, depth_m), (0.0, depth_m))
    return tuple((at[0] + x * cos - y * sin, at[1] + x * sin + y * cos) for x, y in corners)


def circle(centre: Point, radius_m: float, corners: int = 48) -> tuple[Point, ...]:
    """Return a polygon that just encloses a circle, so that nothing kept clear of it touches the circle.

    Args:
        centre: centre of the circle [m].
        radius_m: radius [m].
        corners: number of corners [-].
    """
    reach = radius_m / math.cos(math.pi / corners)
    turns = [2.0 * math.pi * index / corners for index in range(corners)]
    return tuple((centre[0] + reach * math.cos(turn), centre[1] + reach * math.sin(turn)) for turn in turns)


def _third_corner(first: Point, second: Point, from_first: float, from_second: float) -> Point:
    """Return the corner left of first -> second at the given distances; the law of cosines."""
    base = math.dist(first, second)
    along = (base**2 + from_first**2 - from_second**2) / (2.0 * base)
    square = from_first**2 - along**2
    if square <= 0.0:
        raise ValueError(f"sides of {base:.2f} m, {from_first:.2f} m and {from_second:.2f} m make no triangle")
    off = math.sqrt(square)
    ux, uy = (second[0] - first[0]) / base, (second[1] - first[1]) / base
    return (first[0] + along * ux - off * uy, first[1] + along * uy + off * ux)


def from_sides(sides: Sequence[float], diagonals: Sequence[float], at: Point, turned: float) -> tuple[Point, ...]:
    """Return the corners of a polygon measured with a tape: its sides and the diagonals from the first corner.

    Args:
        sides: side lengths in order anticlockwise, n of them [m].
        diagonals: distances from the first corner to the third, fourth ... n-1 th corner, n-3 of them [m].
        at: first corner [m].
        turned: direction of the first side, anticlockwise from x [rad].

    Raises:
        ValueError: counts do not fit, or the lengths make no triangle.
    """
    if len(sides) < 3 or len(diagonals) != len(sides) - 3:
        raise ValueError(f"{len(sides)} sides need {max(len(sides) - 3, 0)} diagonals from the first corner")
    corners = [at, (at[0] + sides[0] * math.cos(turned), at[1] + sides[0] * math.sin(turned))]
    for side, reach in zip(sides[1:-1], [*diagonals, sides[-1]], strict=True):
        corners.append(_third_corner(at, corners[-1], reach, side))
    return tuple(corners)


def longest_side_angle(points: Sequence[Point]) -> float:
    """Return the direction of the longest side, the first of equals, within [0, pi) [rad]."""
    sides = [(math.dist(a, b), a, b) for a, b in zip(points, [*points[1:], points[0]], strict=True)]
    longest = max(round(length, 6) for length, _, _ in sides)
    _, start, end = next(side for side in sides if round(side[0], 6) == longest)
    return math.atan2(end[1] - start[1], end[0] - start[0]) % math.pi


def bends(points: Sequence[Point], sharper_than_deg: float) -> list[int]:
    """Return the numbers of the inner corners of a line at which it turns by more than an angle.

    Args:
        points: corners of the line [m].
        sharper_than_deg: turns up to this do not count [deg].
    """
    least = math.radians(sharper_than_deg) + 1e-9
    found, arrived = [], None
    for number, (a, b) in enumerate(pairwise(points)):
        if math.dist(a, b) < GRID_M:
            continue
        heading = math.atan2(b[1] - a[1], b[0] - a[0])
        if arrived is not None and abs(math.remainder(heading - arrived, 2.0 * math.pi)) > least:
            found.append(number)
        arrived = heading
    return found


@dataclass(frozen=True)
class Frame:
    """A turned coordinate frame: u along the rows, v across them."""

    angle: float
    """direction of u, anticlockwise from x [rad]"""

    def to_frame(self, point: Point) -> Point:
        """Return (u, v) of a plan point [m]."""
        cos, sin = math.cos(self.angle), math.sin(self.angle)
        return (point[0] * cos + point[1] * sin, -point[0] * sin + point[1] * cos)

    def to_plan(self, point: Point) -> Point:
        """Return (x, y) of a frame point [m]."""
        cos, sin = math.cos(self.angle), math.sin(self.angle)
        return (point[0] * cos - point[1] * sin, point[0] * sin + point[1] * cos)

    def shape_to_frame(self, shape: BaseGeometry) -> BaseGeometry:
        """Return a shape with its coordinates in the frame, on a grid far below a millimetre."""
        turned: BaseGeometry = shapely.transform(shape, self._turn)
        exact: BaseGeometry = shapely.set_precision(turned, 1e-6)
        return exact

    def _turn(self, coordinates: NDArray[np.float64]) -> NDArray[np.float64]:
        cos, sin = math.cos(self.angle), math.sin(self.angle)
        return np.asarray(coordinates @ np.array([[cos, -sin], [sin, cos]]), dtype=np.float64)


def _parts(shape: BaseGeometry) -> list[tuple[float, float]]:
    pieces = [piece for piece in shapely.get_parts(shape) if isinstance(piece, LineString) and piece.length > 0.0]
    return sorted((piece.bounds[0], piece.bounds[2]) for piece in pieces)


def chords(shape: BaseGeometry, v: float) -> list[tuple[float, float]]:
    """Return the stretches of the line at height v that lie in a shape given in frame coordinates.

    Args:
        shape: polygon or polygons in frame coordinates [m].
        v: height of the line [m].

    Returns:
        (from, to) of each stretch in increasing u [m]; a line along the edge counts as inside.
    """
    low, _, high, _ = shape.bounds
    return _parts(shape.intersection(LineString([(low - 1.0, v), (high + 1.0, v)])))


def shortened(stretches: Sequence[tuple[float, float]], margin_m: float) -> list[tuple[float, float]]:
    """Return stretches cut back at both ends, dropping those that vanish [m]."""
    cut = [(start + margin_m, end - margin_m) for start, end in stretches]
    return [(start, end) for start, end in cut if end > start]


def overlap(first: Sequence[tuple[float, float]], second: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the stretches common to two sorted lists of stretches [m]."""
    both = [(max(a, c), min(b, d)) for a, b in first for c, d in second]
    return sorted((start, end) for start, end in both if end > start)
